"""What a line's page tells: withdrawn rows stay readable, a past day shows its own standing."""

from datetime import date, timedelta

import pytest

from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.queries.history import line_story, standing_on
from services_inventory.queries.locator import REACH_FT, locator
from tests.services_inventory.factories import MORNING, bare_line, line_of

pytestmark = pytest.mark.django_db


def story_of(line, day=date(2028, 12, 31)):
    """Return the story of a line as of a day."""
    return line_story(line, day)


def test_a_row_taken_back_is_shown_struck_with_its_reason():
    line = line_of("COPPER", "COPPER")
    row = evidence_record(
        line=line, portion="SYSTEM", material="LEAD", basis="RECORD_DRAWING", by="clerk",
        recorded_at=MORNING + timedelta(days=1),
    )  # fmt: skip
    evidence_withdraw(
        evidence=row, by="clerk", recorded_at=MORNING + timedelta(days=2), reason="Next door."
    )
    entries = {entry["row"].pk: entry for entry in story_of(line)["evidence"]}
    assert len(entries) == 3, "the withdrawal is shown with the row it takes back"
    assert not entries[row.pk]["stands"]
    assert [one.note for one in entries[row.pk]["withdrawals"]] == ["Next door."]


def test_a_past_day_shows_what_stood():
    line = line_of("UNKNOWN", "COPPER")
    evidence_record(
        line=line, portion="SYSTEM", material="COPPER", basis="RECORD_TAP_CARD", by="clerk",
        recorded_at=MORNING + timedelta(days=10),
    )  # fmt: skip
    changes = story_of(line)["changes"]
    assert standing_on(changes, date(2028, 2, 29)) is None
    assert standing_on(changes, date(2028, 3, 10)).to_category == "UNKNOWN"
    assert standing_on(changes, date(2028, 3, 11)).to_category == "NON_LEAD"


def test_the_story_agrees_with_the_stored_standing():
    for pair in (("LEAD", "COPPER"), ("COPPER", "GALVANIZED"), ("COPPER", "COPPER")):
        line = line_of(*pair)
        story = story_of(line)
        assert story["classification"].category == line.category
        assert not story["out_of_date"]
        assert [portion["material"] for portion in story["portions"]][:2] == [
            line.get_system_material_display(),
            line.get_customer_material_display(),
        ]


def test_neighbors_are_drawn_where_they_are():
    """Constructed: a thousandth of a degree of latitude is about 365 ft (WGS 84)."""
    line, north, far = bare_line(), line_of("LEAD", "LEAD"), line_of("LEAD", "LEAD")
    north.premise.latitude = line.premise.latitude + 0.0005
    north.premise.save()
    far.premise.latitude = line.premise.latitude + 0.002
    far.premise.save()
    (dot,) = locator(line)["dots"]
    assert (dot["pk"], dot["x"]) == (north.pk, 0)
    assert dot["y"] == pytest.approx(-182, abs=2)
    assert abs(dot["y"]) < REACH_FT


def test_a_line_without_a_position_has_no_drawing():
    line = bare_line()
    line.premise.longitude = None
    assert locator(line) is None
