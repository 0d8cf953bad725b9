"""Every dependency earns its place: declared, told of in DEVELOPERS.md, and used."""

import re
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from tests.source_files import ROOT

_PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
DECLARED = sorted(
    re.match(r"[\w.-]+", requirement)[0].lower() for requirement in _PROJECT["dependencies"]
)
SERVES_FROM_OUTSIDE = {
    "gunicorn": "docs/deploy/leadlines.service",  # the file that starts it
    "psycopg": "services_inventory/bulk.py",  # Django loads it by the database's name
}


def _told() -> dict[str, list[str]]:
    section = (ROOT / "DEVELOPERS.md").read_text("utf-8").split("## What it stands on")[1]
    rows = re.findall(r"^\| (.+) \|$", section.split("\n## ")[0], re.MULTILINE)[1:]
    cells = [row.split(" | ") for row in rows]
    return {name: rest for name, *rest in cells}


def _modules(distribution: str) -> set[str]:
    return {
        module
        for module, owners in packages_distributions().items()
        if distribution in {owner.lower().replace("_", "-") for owner in owners}
    }


def _production() -> list[Path]:
    folders = ("services_inventory", "replacements", "program", "fixtures")
    return [path for folder in folders for path in (ROOT / folder).rglob("*.py")]


TEXT = "\n".join(path.read_text("utf-8") for path in _production())


def test_the_table_names_what_is_declared():
    told = _told()
    assert sorted(told) == DECLARED
    assert all(len(rest) == 3 and all(rest) for rest in told.values())


@pytest.mark.parametrize("distribution", DECLARED)
def test_a_dependency_is_used(distribution):
    if (where := SERVES_FROM_OUTSIDE.get(distribution)) is not None:
        assert distribution in (ROOT / where).read_text("utf-8")
        return
    modules = _modules(distribution)
    assert modules, f"{distribution} is not installed"
    names = "|".join(map(re.escape, modules))
    used = rf"^\s*(?:from|import) (?:{names})\b|\"(?:{names})(?:\.\w+)*\""
    assert re.search(used, TEXT, re.MULTILINE), f"nothing imports {distribution}"


def _pinned(name: str) -> dict[str, str]:
    """Return what a file of pins holds: package -> version, markers and hashes."""
    text = (ROOT / ".ci" / name).read_text("utf-8").replace("\\\n", " ")
    return dict(line.split("==", 1) for line in text.splitlines() if line)


def test_what_is_installed_is_pinned_by_hashes_and_the_tests_run_with_the_same():
    program, tests = _pinned("pinned.txt"), _pinned("pinned-test.txt")
    assert {name.split("[")[0] for name in program} >= {*DECLARED, "setuptools"}
    declared = {re.match(r"[\w.-]+", one)[0] for one in _PROJECT["optional-dependencies"]["test"]}
    assert {name.split("[")[0] for name in tests} >= declared | {*DECLARED}
    assert all("--hash=sha256:" in said for said in (*program.values(), *tests.values()))
    assert not any("://" in said for said in (*program.values(), *tests.values()))
    for name, said in program.items():
        assert tests[name].split()[0] == said.split()[0], name
