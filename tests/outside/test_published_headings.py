"""Forms that agencies publish: how many of their columns are understood without a hand.

Source: `published_headings.toml`, which names each form and what of it was read or is from memory.
"""

import tomllib
from pathlib import Path

import pytest

from services_inventory.intake.columns import FIELDS, guess
from tests.source_files import ROOT

FORMS = tomllib.loads((Path(__file__).parent / "published_headings.toml").read_text("utf-8"))[
    "form"
]
NAMES = [f"{form['agency']}: {form['name']}" for form in FORMS]


def _understood(form) -> dict[str, str]:
    header = [row["heading"] for row in form["headings"]]
    fields = {column.heading: column.field for column in guess(header).columns}
    return {heading: fields.get(heading, "") for heading in header}


@pytest.mark.parametrize("form", FORMS, ids=NAMES)
def test_every_column_that_the_record_has_a_place_for_is_understood(form):
    assert _understood(form) == {row["heading"]: row["field"] for row in form["headings"]}


def test_the_lists_say_where_they_come_from_and_why_a_column_has_no_place():
    assert len(FORMS) >= 6
    for form in FORMS:
        assert form["source"] and form["agency"]
        for row in form["headings"]:
            assert row["mark"] in ("seen", "memory"), row
            assert bool(row["field"]) != bool(row.get("why")), row
            assert row["field"] in ("", *FIELDS), row


def test_the_guide_tells_how_many_are_understood():
    guide = (ROOT / "docs" / "intake.md").read_text(encoding="utf-8")
    for form in FORMS:
        rows = form["headings"]
        placed = [row for row in rows if row["field"]]
        hit = sum(_understood(form)[row["heading"]] == row["field"] for row in placed)
        seen = sum(row["mark"] == "seen" for row in rows)
        told = (
            f"| {form['agency']}, {form['name']} ({form['year']}) | {len(rows)} | {len(placed)} "
            f"| {hit} | {seen} |"
        )
        assert told in guide, told
