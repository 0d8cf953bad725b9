"""Which line a row means: identifier, address, position, a person's decision (constructed)."""

import pytest

from services_inventory.models import Conflict, HeldRow, MatchQuestion, ServiceLine
from services_inventory.operations.matches import match_decide
from services_inventory.operations.undo import intake_undo
from services_inventory.refused import Refused
from tests.services_inventory.operations.takes import (
    APRIL,
    HEADER,
    MILL,
    OAK,
    counted,
    open_file,
    run,
    take_in,
)

pytestmark = pytest.mark.django_db
POINTS = ("address", "latitude", "longitude", "customer side material", "source")


def reason() -> str:
    """Return why the last row was held."""
    return HeldRow.objects.order_by("id").last().reason


def test_rows_without_identifier_find_their_line_by_address_however_it_is_spelled(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    rows = [
        ("12 MILL STREET", "", "", "lead", "visual inspection"),
        ("40 Oak Avenue", "", "", "", ""),
    ]
    assert take_in(tmp_path, rows, header=POINTS) == counted(changed=1, unchanged=1)
    assert ServiceLine.objects.get(location_id="L1").customer_material == "LEAD"


def test_the_unit_tells_two_lines_of_one_building_apart(tmp_path):
    header = ("location id", "address", "unit", "customer side material", "source")
    rows = [
        ("U1", "5 Elm Rd", "1", "lead", "tap card"),
        ("U2", "5 Elm Rd", "2", "copper", "tap card"),
    ]
    assert take_in(tmp_path, rows, header=header) == counted(new=2)
    later = [("5 Elm Road Apt 2", "", "", "galvanized", "excavation")]
    assert take_in(tmp_path, later, header=POINTS) == counted(changed=1)
    assert ServiceLine.objects.get(location_id="U1").customer_material == "LEAD"
    assert ServiceLine.objects.get(location_id="U2").customer_material == "GALVANIZED"


def test_a_point_with_the_house_number_a_few_meters_off_is_the_line(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    rows = [("12 Miller Street Lot", "41.50002", "-100.30002", "lead", "excavation")]
    assert take_in(tmp_path, rows, header=POINTS) == counted(changed=1)
    assert ServiceLine.objects.get(location_id="L1").customer_material == "LEAD"


def test_a_point_without_address_next_to_a_line_asks_a_person_and_the_answer_is_kept(tmp_path):
    take_in(tmp_path, [MILL])
    rows = [("", "41.50001", "-100.30001", "lead", "excavation")]
    assert take_in(tmp_path, rows, header=POINTS) == counted(held=1)
    assert "within a few meters" in reason()
    question = MatchQuestion.objects.get()
    assert [c["location_id"] for c in question.candidates] == ["L1"]
    assert question.candidates[0]["meters"] < 2
    assert take_in(tmp_path, rows, header=POINTS) == counted(held=1)
    assert MatchQuestion.objects.count() == 1
    line = ServiceLine.objects.get()
    match_decide(question=question, lines=[line], by="clerk", at=APRIL)
    assert take_in(tmp_path, rows, header=POINTS) == counted(changed=1)
    assert take_in(tmp_path, rows, header=POINTS) == counted(unchanged=1)
    with pytest.raises(Refused, match="already"):
        match_decide(question=question, lines=[line], by="clerk", at=APRIL)
    with pytest.raises(Refused, match="Say why"):
        match_decide(question=question, lines=[], by="clerk", at=APRIL)


def test_a_line_that_a_person_named_takes_the_identifier_of_the_row(tmp_path):
    uses = ("address", "line use", "customer side material", "source")
    take_in(tmp_path, [("12 Mill St", "", "copper", "tap card")], header=uses)
    take_in(tmp_path, [("12 Mill St", "irrigation", "copper", "tap card")], header=uses)
    assert take_in(tmp_path, [MILL]) == counted(held=1)
    line = ServiceLine.objects.get(use="DOMESTIC")
    assert line.location_id == "AT 12 MILL ST"
    match_decide(question=MatchQuestion.objects.get(), lines=[line], by="clerk", at=APRIL)
    assert take_in(tmp_path, [MILL]) == counted(changed=1)
    line.refresh_from_db()
    assert line.location_id == "L1"


def test_a_slip_in_the_street_is_asked_and_may_be_another_street(tmp_path):
    take_in(tmp_path, [OAK, ("L7", "12 Quarry St", *MILL[2:])])
    rows = [
        ("12 Quarrey St", "", "", "lead", "tap card"),
        ("12 Birch St", "", "", "lead", "tap card"),
    ]
    assert take_in(tmp_path, rows, header=POINTS) == counted(new=1, held=1)
    question = MatchQuestion.objects.get()
    assert question.candidates[0]["location_id"] == "L7"
    assert question.candidates[0]["score"] > 85
    match_decide(question=question, lines=[], by="clerk", at=APRIL)
    assert take_in(tmp_path, rows, header=POINTS) == counted(new=1, unchanged=1)
    assert ServiceLine.objects.filter(location_id="AT 12 QUARREY ST").exists()


def test_an_identifier_that_turns_up_at_another_address_is_held(tmp_path):
    take_in(tmp_path, [MILL])
    moved = ("L1", "99 Pine St", *MILL[2:])
    assert take_in(tmp_path, [moved]) == counted(held=1)
    assert "L1 stands for 12 Mill St" in reason()
    with pytest.raises(Refused, match="belongs to another line"):
        match_decide(question=MatchQuestion.objects.get(), lines=[], by="clerk", at=APRIL)
    match_decide(
        question=MatchQuestion.objects.get(), lines=[ServiceLine.objects.get()], by="c", at=APRIL
    )
    assert take_in(tmp_path, [moved]) == counted(changed=1)
    assert ServiceLine.objects.get().premise.address_key == "99 PINE ST"


def test_another_identifier_at_a_known_address_is_asked_unless_it_is_another_use(tmp_path):
    take_in(tmp_path, [MILL])
    rows = [("T-12", *MILL[1:], ""), ("F-12", *MILL[1:], "fire")]
    assert take_in(tmp_path, rows, header=(*HEADER, "line use")) == counted(new=1, held=1)
    assert "under another identifier" in reason()
    fire = ServiceLine.objects.get(location_id="F-12")
    assert fire.premise == ServiceLine.objects.get(location_id="L1").premise


def test_a_file_that_was_withdrawn_asks_no_more_and_asks_again_when_it_comes_anew(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    other = [("ACC9", *MILL[1:])]
    batch = open_file(tmp_path, other, name="billing.csv")
    run(batch)
    assert MatchQuestion.objects.waiting().count() == 1
    intake_undo(batch=batch, by="clerk", at=APRIL)
    assert not MatchQuestion.objects.waiting().exists()
    take_in(tmp_path, other, name="billing again.csv")
    (question,) = MatchQuestion.objects.waiting()
    assert question.batch.file_name == "billing again.csv"


def test_ranges_fractions_routes_and_corners(tmp_path):
    take_in(tmp_path, [MILL, ("L8", "13 Mill St", *MILL[2:])])
    rows = [
        ("11-13 Mill St", "", "", "lead", "tap card"),
        ("12 1/2 Mill St", "", "", "lead", "tap card"),
        ("RR 2 Box 15", "", "", "lead", "tap card"),
        ("Mill St & Oak Ave", "", "", "lead", "tap card"),
        ("PO Box 12", "", "", "lead", "tap card"),
    ]
    assert take_in(tmp_path, rows, header=POINTS) == counted(new=2, held=3)
    ids = set(ServiceLine.objects.values_list("location_id", flat=True))
    assert {"AT 12 1/2 MILL ST", "AT RR 2 BOX 15"} <= ids
    reasons = " ".join(HeldRow.objects.values_list("reason", flat=True))
    for words in ("range of house numbers", "An intersection", "post office box"):
        assert words in reasons


def test_two_files_that_claim_opposite_materials_are_both_kept_and_open_a_conflict(tmp_path):
    take_in(tmp_path, [OAK])
    other = (*OAK[:4], "lead", "copper", "1995", "tap card")
    batch = open_file(tmp_path, [other])
    assert run(batch) == counted(changed=1)
    line = ServiceLine.objects.get()
    assert (line.category, line.in_conflict) == ("LEAD", True)
    assert line.evidence.filter(portion="SYSTEM").count() == 2
    assert Conflict.objects.get().line == line


def test_one_line_named_in_two_ways_in_one_file_is_held_twice(tmp_path):
    take_in(tmp_path, [MILL])
    rows = [("L1", *MILL[1:]), ("", "12 Mill Street", "", "", "copper", "", "", "excavation")]
    found = take_in(tmp_path, rows)
    assert found == counted(held=2)
    assert "same line is in row" in reason()


def test_identifiers_of_another_system_are_told_as_such(tmp_path):
    """Account numbers in place of the record's own hold every row; the column is what is wrong."""
    rows = [(f"L{n}", f"{n} Elm St", *MILL[2:]) for n in range(10, 16)]
    take_in(tmp_path, rows)
    accounts = open_file(tmp_path, [(f"90{row[0]}", *row[1:]) for row in rows], name="accounts.csv")
    assert run(accounts, "CHECK") == counted(held=6)
    told = " ".join(accounts.result["notes"])
    assert "location id: 6 rows give an identifier that the record doesn’t know" in told
    assert len(accounts.result["held_by"]) == 1, "one reason, whatever the address is"
    few = open_file(tmp_path, [("900", *rows[0][1:])], name="one.csv")
    run(few, "CHECK")
    assert "identifier that the record" not in " ".join(few.result["notes"])


def test_what_is_corrected_of_places_is_told_by_what_it_is(tmp_path):
    header = [*HEADER, "building type"]
    take_in(tmp_path, [(*MILL, "single family"), (*OAK, "school")], header=header)
    moved = (*MILL[:2], "41.52", *MILL[3:], "school")
    again = open_file(tmp_path, [moved, (*OAK, "business")], header=header)
    assert run(again, "CHECK") == counted(changed=2)
    told = "What is known of places is corrected: kind of premise in 2 rows, position in 1 row."
    assert told in again.result["notes"]
