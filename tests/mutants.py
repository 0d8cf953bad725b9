"""How many small faults, put into a module one by one, its tests find: a run of mutmut.

    pip install mutmut
    python -m tests.mutants replacements/domain/pull_force/verdict.py --tests \
        tests/replacements/domain/test_pull_*.py

It works in a copy, and shows each fault that no test found. What is read once and kept (`@cache`
over a file) is read before the faults are put in: those of its reader are never found.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.pure import ALONE

HOUSE = ["replacements", "services_inventory", "program"]


def main() -> int:
    """Run; the exit code is 1 where fewer are found than asked."""
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("modules", nargs="+")
    options.add_argument("--tests", nargs="+", required=True)
    options.add_argument("--least", type=float, default=0, help="share to be found, percent")
    given = options.parse_args()
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        copy = Path(folder)
        _copy(copy, given.modules, given.tests)
        _mutmut(copy, "run", "--max-children", "1", out=sys.stderr)
        exits: dict[str, int | None] = {}
        for meta in copy.glob("mutants/**/*.meta"):
            exits |= json.loads(meta.read_text())["exit_code_by_key"]
        left = sorted(name for name, code in exits.items() if code in (0, 33))  # 33: no test
        for name in left:
            print(_mutmut(copy, "show", name).stdout.strip(), "\n")
    share = 100 * (1 - len(left) / len(exits)) if exits else 0.0
    print(f"{len(exits)} faults, {len(exits) - len(left)} found: {share:.1f}%")
    return int(share < given.least)


def _copy(copy: Path, modules: list[str], tests: list[str]) -> None:
    for name in subprocess.check_output(["git", "ls-files"], text=True).splitlines():
        if Path(name).exists() and name != "pyproject.toml":
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(name, copy / name)
    examples = copy / "tests/examples.py"  # a test runs in several processes there
    text = examples.read_text().replace("[HealthCheck.too_slow]", "list(HealthCheck)")
    examples.write_text(text)
    wanted = {
        "source_paths": HOUSE,
        "only_mutate": modules,
        "also_copy": ["docs", "fixtures"],
        "pytest_add_cli_args": [*ALONE, "-p", "tests.examples", "--noconftest"],
        "pytest_add_cli_args_test_selection": tests,
        "use_git_change_detection": False,
    }
    lines = [f"{key} = {json.dumps(value)}" for key, value in wanted.items()]
    (copy / "pyproject.toml").write_text("\n".join(["[tool.mutmut]", *lines, ""]))


def _mutmut(copy: Path, *words: str, out=subprocess.PIPE) -> subprocess.CompletedProcess:
    plain = {key: value for key, value in os.environ.items() if key != "DJANGO_SETTINGS_MODULE"}
    path = [part for part in plain.get("PYTHONPATH", "").split(":") if part != os.getcwd()]
    return subprocess.run(
        [sys.executable, "-m", "mutmut", *words], cwd=copy, stdout=out, text=True,
        env=plain | {"PYTHONPATH": ":".join(path)},
    )  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
