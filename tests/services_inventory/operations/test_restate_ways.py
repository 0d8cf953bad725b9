"""Two ways to one standing: many lines inside the database, or each line weighed by itself."""

import csv

import pytest

from services_inventory.domain.materials import Material
from services_inventory.models import CategoryChange, Evidence, ServiceLine
from services_inventory.operations import standings
from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.operations.standings import standings_compare, standings_derive
from tests.bench.intake_file import write
from tests.kept import kept
from tests.services_inventory.operations.takes import APRIL, open_file, run

pytestmark = pytest.mark.django_db
MAY = APRIL.replace(month=5)


@pytest.fixture
@kept
def mixed_record(tmp_path, db):
    """600 lines of the bench's invented file, some with more evidence of each unusual kind."""
    path = write(tmp_path / "made.csv", 600, seed=5)
    with path.open(newline="", encoding="utf-8") as file:
        header, *rows = csv.reader(file)
    run(open_file(tmp_path, rows, header=header, at=APRIL))
    lines = list(ServiceLine.objects.order_by("id"))
    said = {"by": "crew", "recorded_at": APRIL.replace(day=20)}
    for at, line in enumerate(lines[:60]):
        more = {"place": "meter pit"} if at % 3 == 0 else {}
        basis = ("EXCAVATION", "REPLACEMENT", "CUSTOMER_REPORT", "VISUAL_INSPECTION")[at % 4]
        material = ("LEAD", "COPPER", "GALVANIZED")[at % 3]
        seen = evidence_record(
            line=line, portion="SYSTEM", material=material, basis=basis,
            observed_on=APRIL.date(), **more, **said,
        )  # fmt: skip
        if at % 5 == 0:
            evidence_withdraw(evidence=seen, by="crew", recorded_at=MAY, reason="other house")
    return lines


def _standings() -> list[dict]:
    return list(ServiceLine.objects.order_by("id").values())


@pytest.mark.parametrize("many", [1, 10**9], ids=["in the database", "line by line"])
def test_each_way_finds_nothing_to_correct(mixed_record, monkeypatch, many):
    monkeypatch.setattr(standings, "MANY", many)
    if many > 1:
        monkeypatch.setattr(standings, "_stage_sums", lambda *rest, **more: (None, _all_ids()))
    found = standings_compare(recorded_at=MAY.replace(day=2))
    assert (found["lines"], found["differences"]) == (600, 0), found["examples"]


def _all_ids() -> set[int]:
    return set(ServiceLine.objects.values_list("id", flat=True))


def test_what_was_spoilt_is_found_and_corrected_and_the_change_recorded(mixed_record):
    before = _standings()
    ServiceLine.objects.filter(id__in=[line.pk for line in mixed_record[100:110]]).update(
        customer_material=Material.BRASS
    )
    wrong = mixed_record[200]
    other = "LEAD" if wrong.category != "LEAD" else "UNKNOWN"
    ServiceLine.objects.filter(pk=wrong.pk).update(category=other)
    found = standings_compare(recorded_at=MAY.replace(day=2))
    assert 11 >= found["differences"] >= 10
    assert found["examples"][0]["stored"] == {"customer_material": "BRASS"}
    changes = CategoryChange.objects.count()
    assert standings_derive(line_ids=None, recorded_at=MAY.replace(day=2), by="restate") == 1
    assert CategoryChange.objects.count() == changes + 1
    for was, now in zip(before, _standings(), strict=True):
        assert {**was, "category_since": None} == {**now, "category_since": None}


def test_equal_statements_have_equal_keys_however_they_were_recorded(mixed_record):
    of_file = Evidence.objects.filter(content_key__isnull=False, batch__isnull=False)
    one = of_file.exclude(diameter_in=None).exclude(installed_year=None).first()
    names = ("portion", "material", "basis", "installed_year", "diameter_in", "points_seen",
             "observed_on", "source", "era")  # fmt: skip
    again = evidence_record(
        line=mixed_record[300],
        by="clerk",
        recorded_at=MAY,
        **{name: getattr(one, name) for name in names},
    )
    assert again.content_key == one.content_key
