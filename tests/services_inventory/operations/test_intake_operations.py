"""A file's rows become lines, evidence and categories; each row counts once (constructed cases)."""

import pytest

from services_inventory.models import Evidence, HeldRow, Premise, ServiceLine
from services_inventory.queries.counts import category_counts
from tests.services_inventory.operations.takes import (
    ELM,
    HEADER,
    MILL,
    OAK,
    counted,
    open_file,
    run,
    take_in,
)

pytestmark = pytest.mark.django_db


def test_a_first_file_makes_lines_with_evidence_category_and_provenance(tmp_path):
    batch = open_file(tmp_path, [MILL, OAK, ELM])
    assert run(batch) == counted(new=3)
    assert category_counts() == {"LEAD": 1, "GRR": 1, "NON_LEAD": 1, "UNKNOWN": 0, "total": 3}
    mill = ServiceLine.objects.get(location_id="L1")
    assert (mill.system_material, mill.customer_material) == ("LEAD", "COPPER")
    assert (mill.premise.address_key, mill.premise.house_number) == ("12 MILL ST", 12)
    assert mill.decision.citation
    said = mill.evidence.order_by("id").values_list("portion", "material", "basis", "row_number")
    assert list(said) == [
        ("SYSTEM", "LEAD", "RECORD_TAP_CARD", 2),
        ("CUSTOMER", "COPPER", "RECORD_TAP_CARD", 2),
    ]
    batch.refresh_from_db()
    ids = Evidence.objects.filter(batch=batch).order_by("id").values_list("id", flat=True)
    assert (batch.first_evidence_id, batch.last_evidence_id) == (ids[0], ids[len(ids) - 1])


def test_the_same_file_twice_changes_nothing(tmp_path):
    rows = [MILL, OAK, ELM]
    assert take_in(tmp_path, rows) == counted(new=3)
    before = Evidence.objects.count()
    assert take_in(tmp_path, rows) == counted(unchanged=3)
    assert Evidence.objects.count() == before


def test_a_row_repeated_word_for_word_counts_as_unchanged_and_another_opinion_is_held(tmp_path):
    other = (*OAK[:4], "lead", *OAK[5:])
    assert take_in(tmp_path, [MILL, MILL, OAK, other]) == counted(new=1, unchanged=1, held=2)
    held = HeldRow.objects.order_by("id").last()
    assert held.cells == list(other)
    assert "same location is in row 4" in held.reason


def test_a_row_that_cannot_be_right_is_held_with_the_row_as_it_came(tmp_path):
    bad = ("L9", "1 Pine St", "0", "0", "see card", "copper", "20255", "tap card")
    assert take_in(tmp_path, [MILL, bad]) == counted(new=1, held=1)
    held = HeldRow.objects.get(batch__state="APPLIED")
    assert held.row_number == 3 and held.cells == list(bad)
    for word in ("see card", "20255", "both 0"):
        assert word in held.reason
    assert ServiceLine.objects.count() == 1


def test_new_evidence_about_a_known_line_changes_it(tmp_path):
    take_in(tmp_path, [MILL, OAK, ELM])
    header = ("location id", "system side material", "source", "observed on", "points seen")
    rows = [("L3", "lead", "excavation", "2028-03-30", ""), ("L2", "", "", "", "")]
    assert take_in(tmp_path, rows, header=header[:4] + ("system points seen",)) == counted(
        changed=1, unchanged=1
    )
    line = ServiceLine.objects.get(location_id="L3")
    assert (line.category, line.system_material) == ("LEAD", "LEAD")


def test_a_corrected_position_is_kept_with_what_stood_there_before(tmp_path):
    take_in(tmp_path, [MILL])
    moved = (*MILL[:2], "41.6", "-100.4", *MILL[4:])
    assert take_in(tmp_path, [moved]) == counted(changed=1)
    premise = Premise.objects.get()
    assert (premise.latitude, premise.longitude) == (41.6, -100.4)
    change = premise.changes.get()
    assert change.before == {"latitude": 41.5, "longitude": -100.3}
    assert change.after == {"latitude": 41.6, "longitude": -100.4}
    assert take_in(tmp_path, [moved]) == counted(unchanged=1)


def test_lines_without_identifier_get_one_from_the_address_and_adopt_a_given_one_later(tmp_path):
    bare = [("", *MILL[1:]), ("", *OAK[1:])]
    assert take_in(tmp_path, bare) == counted(new=2)
    assert take_in(tmp_path, bare) == counted(unchanged=2)
    assert ServiceLine.objects.filter(location_id="AT 12 MILL ST").exists()
    assert take_in(tmp_path, [MILL]) == counted(changed=1)
    assert set(ServiceLine.objects.values_list("location_id", flat=True)) == {"L1", "AT 40 OAK AVE"}


def test_an_unknown_column_map_is_refused_with_a_sentence(tmp_path):
    batch = open_file(tmp_path, [MILL], columns={"columns": {"address": "street"}})
    from services_inventory.operations.batches import batch_run

    batch_run(batch=batch)
    assert batch.state == "REFUSED"
    assert "'street'" in batch.message
    assert HEADER[1] in batch.message
