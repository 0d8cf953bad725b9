"""Rows that say nothing new are told before staging: it must make no difference to anything."""

from itertools import count

import pytest

from services_inventory.intake.applying import PLACE
from services_inventory.intake.unchanged import Known, Mark
from services_inventory.models import Evidence, HeldRow, ServiceLine
from services_inventory.operations import intake
from services_inventory.operations.evidence import evidence_record
from services_inventory.operations.undo import intake_undo
from tests.services_inventory.operations.takes import APRIL, HEADER, counted, open_file, run

pytestmark = pytest.mark.django_db

MORE = (*HEADER, "city", "postcode", "premise type", "line use", "unit", "plumbing",
        "plumbing year", "treatment", "year built")  # fmt: skip
MAY = APRIL.replace(month=5)


def _row(number: int, **changed) -> tuple:
    """One row of the list; what is changed is named by its heading, blanks for underscores."""
    cells = dict(
        zip(
            MORE,
            (f"L{number}", f"{number} Mill St", f"{41.5 + number / 1000:.4f}", "-100.3", "copper",
             "galvanized", "1950", "tap card", "Quillwater", "69011", "school", "", "",
             "copper", "1980", "", ""),
            strict=True,
        )
    )  # fmt: skip
    return tuple({**cells, **{name.replace("_", " "): v for name, v in changed.items()}}.values())


FIRST = [_row(number) for number in range(1, 21)]
SECOND = [
    _row(1),
    _row(2, system_side_material="lead"),
    _row(3, latitude="41.6"),
    _row(4, city="Other"),
    _row(5, postcode="69012"),
    _row(6, premise_type="single family"),
    _row(7, line_use="fire"),
    _row(8, address="80 Mill St"),
    _row(9, location_id=""),
    _row(9),
    _row(10),
    _row(10, customer_side_material="lead"),
    _row(11),
    _row(11),
    _row(12, address="", city="", premise_type="", system_side_material="", source=""),
    _row(13, latitude="", longitude=""),
    _row(14, address="14 MILL STREET", system_side_material="Cu"),
    _row(15, unit="Apt 2"),
    _row(16, year_installed="1951"),
    _row(30),
    _row(17, latitude="0", longitude="0"),
]


def _check(folder, rows) -> tuple[dict, list]:
    batch = open_file(folder, rows, header=MORE, at=MAY)
    counts = run(batch, "CHECK")
    held = HeldRow.objects.filter(batch=batch).order_by("row_number")
    return counts, list(held.values_list("row_number", "reason"))


@pytest.fixture
def taken(tmp_path):
    assert run(open_file(tmp_path, FIRST, header=MORE)) == counted(new=20)
    return tmp_path


def test_looking_first_gives_what_staging_every_row_gives(taken, monkeypatch):
    found = _check(taken, SECOND)
    assert found[0] == counted(new=1, changed=9, unchanged=5, held=6)
    monkeypatch.setattr(Known, "fresh", lambda self, rows: rows)
    assert _check(taken, SECOND) == found


def test_only_what_says_something_new_is_staged(taken):
    seen = []
    known = Known.fresh

    def fresh(self, rows):
        left = known(self, rows)
        seen.extend(row[0] for row in left)
        return left

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Known, "fresh", fresh)
        _check(taken, [_row(1), _row(2), _row(3, city="Other"), _row(4)])
    assert seen == [4]


@pytest.mark.parametrize("name", [name for name in PLACE if name != "neighborhood_id"])
def test_every_part_of_a_place_that_a_row_may_correct_is_looked_at(taken, name):
    changed = {
        "address": {"address": "1 Oak Ave"}, "address_key": {"address": "1 Oak Ave"},
        "street_key": {"address": "1 Oak Ave"}, "house_number": {"address": "3 Mill St"},
        "unit": {"unit": "3"}, "city": {"city": "X"}, "postcode": {"postcode": "1"},
        "latitude": {"latitude": "41.6"}, "longitude": {"longitude": "-100.4"},
        "kind": {"premise_type": "business"}, "plumbing": {"plumbing": "galvanized"},
        "plumbing_year": {"plumbing_year": "1985"}, "treatment": {"treatment": "none"},
        "building_year": {"year_built": "1931"},
    }[name]  # fmt: skip
    counts, _ = _check(taken, [_row(1, **changed)])
    assert counts["unchanged"] == 0


def test_what_was_withdrawn_with_its_file_is_new_again(taken):
    lead = [_row(2, system_side_material="lead")]
    later = open_file(taken, lead, header=MORE, at=MAY)
    assert run(later) == counted(changed=1)
    assert _check(taken, lead)[0] == counted(unchanged=1)
    intake_undo(batch=later, by="clerk", at=MAY)
    assert _check(taken, lead)[0] == counted(changed=1)


def test_a_row_is_known_among_other_evidence_too(taken):
    line = ServiceLine.objects.get(location_id="L1")
    evidence_record(
        line=line, portion="SYSTEM", material="LEAD", basis="EXCAVATION", by="crew", recorded_at=MAY
    )
    assert _check(taken, [_row(1)])[0] == counted(unchanged=1)


def test_where_the_record_moved_meanwhile_every_row_is_staged(taken, monkeypatch):
    ticks = count()
    monkeypatch.setattr(intake, "record_mark", lambda: Mark(next(ticks), 0, 0, 0, 0))
    before = Evidence.objects.count()
    assert run(open_file(taken, FIRST, header=MORE, at=MAY)) == counted(unchanged=20)
    assert Evidence.objects.count() == before


def test_of_rows_that_contradict_each_other_about_a_known_line_none_is_recorded(taken):
    before = Evidence.objects.count()
    lead = _row(1, system_side_material="lead")
    rows = [lead, _row(1, system_side_material="pe"), _row(2)]
    assert run(open_file(taken, rows, header=MORE, at=MAY)) == counted(held=2, unchanged=1)
    assert Evidence.objects.count() == before
