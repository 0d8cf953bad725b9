"""Pages and sheets cite a standard or a document, never a web address."""

import csv
import re
import tomllib

import pytest

from tests.source_files import APPS, ROOT

ADDRESS = re.compile(r"https?:|www\.|\b[\w-]+\.(?:com|net|org|io|info|biz|us)\b")
TABLES = [path for app in APPS for path in sorted((ROOT / app / "reference").glob("*.csv"))]
RULES = [path for app in APPS for path in sorted((ROOT / app).rglob("*.toml"))]


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_no_table_shows_a_web_address(path):
    """Where a figure was read may be one, and stays in the table (`read_in`)."""
    with path.open(newline="", encoding="utf-8") as file:
        shown = [
            f"line {line}: {cell}"
            for line, row in enumerate(csv.DictReader(file), start=2)
            for name, cell in row.items()
            if name != "read_in" and ADDRESS.search(cell)
        ]
    assert not shown


@pytest.mark.parametrize("path", RULES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_no_rule_shows_a_web_address(path):
    told = str(tomllib.loads(path.read_text(encoding="utf-8")))
    assert not ADDRESS.search(told)


def test_the_tables_and_rules_were_found():
    assert len(TABLES) > 20 and len(RULES) > 3
