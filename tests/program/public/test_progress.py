"""The public map opens on what is left, done and planned of each neighborhood."""

import re
from datetime import date

import pytest
from django.core.cache import cache
from django.urls import reverse

from program.models import Plan, PlanArea, PlanDocument, Utility
from program.public.progress import in_all, progress, year_legend
from services_inventory.models import ServiceLine
from tests.program.operations.factories import moment, replaced
from tests.services_inventory.factories import line_of, neighborhood

pytestmark = pytest.mark.django_db


@pytest.fixture
def hoods():
    """Two neighborhoods and nowhere: 3 lead, 1 of them replaced; 1 unknown; 4 and 2 non-lead."""
    cache.clear()
    Utility.objects.create(name="Quillwater", state="ZZ", clock_stands_at=date(2031, 1, 15))
    mill, locks = neighborhood("Mill"), neighborhood("Locks")
    lead = [line_of("LEAD", "COPPER") for _ in range(3)]
    for line in (*lead, line_of("UNKNOWN", "UNKNOWN")):
        ServiceLine.objects.filter(pk=line.pk).update(neighborhood=mill)
    for at in range(6):
        line = line_of("COPPER", "COPPER")
        ServiceLine.objects.filter(pk=line.pk).update(neighborhood=locks if at < 4 else None)
    replaced(lead[0], date(2030, 5, 5), accepted=moment(date(2030, 5, 6)))
    return mill, locks


def test_each_neighborhood_says_what_is_left_and_what_is_done(hoods):
    rows = {row.name: row for row in progress()}
    assert [*rows] == ["Locks", "Mill", "In no neighborhood"]
    assert rows["Mill"].left == (3, 4) and rows["Mill"].left.percent == "75%"
    assert rows["Mill"].done == (1, 3) and rows["Mill"].done.percent == "33%"
    assert (rows["Mill"].left.shade, rows["Mill"].done.shade) == (4, 3)
    assert rows["Locks"].left == (0, 4) and rows["Locks"].left.shade == 1
    assert rows["Locks"].done.shade == 0 and rows["Locks"].done.percent == ""  # nothing to replace
    assert rows["In no neighborhood"].left == (0, 2)
    assert in_all([*rows.values()]).left == (3, 10) and in_all([*rows.values()]).replaced == 1


def test_years_are_told_once_the_plan_is_public(hoods, client):
    mill, _ = hoods
    plan = Plan.objects.create(
        name="P", state="ADOPTED", drawn_on=date(2030, 1, 1), drawn_by="m",
        drawn_at=moment(date(2030, 1, 1)), adopted_by="m", adopted_at=moment(date(2030, 2, 1)),
    )  # fmt: skip
    for number in (5, 7):
        PlanArea.objects.create(
            plan=plan, key=str(number), name="Mill St", neighborhood=mill, jobs=1,
            program_year=number,
        )  # fmt: skip
    page = client.get(reverse("public:map", args=["en"])).text
    assert "Planned years" not in page  # adopted, but no public document says so
    PlanDocument.objects.create(
        number=1, as_of=date(2030, 2, 2), facts={}, path="p.pdf", sha256="0" * 64, bytes=1,
        pages=1, frozen_by="m", frozen_at=moment(date(2030, 2, 2)), published_by="m",
        published_at=moment(date(2030, 2, 3)),
    )  # fmt: skip
    cache.clear()
    [mills] = [row for row in progress() if row.years]
    assert mills.name == "Mill" and mills.years == (2032, 2034)
    assert year_legend([mills]) == [(1, 2032, 2032)]
    page = client.get(reverse("public:map", args=["en"])).text
    assert re.search(r'data-says="year" data-short="2032">\s*2032–2034\s*<', page)
    assert "Nothing planned" in page  # of the other neighborhood


def test_the_page_says_the_totals_and_the_table_in_words(hoods, client):
    said = " ".join(client.get(reverse("public:map", args=["en"])).text.split())
    assert "3 of 10 pipes are lead, must be replaced, or are not known yet" in said
    assert "1 lead or galvanized lines were replaced so far" in said
    assert re.search(r'data-left="4" data-done="3" data-year="0"> <th scope="row">Mill', said)
    spanish = client.get(reverse("public:map", args=["es"])).text
    assert "3 de 10 tuberías son" in " ".join(spanish.split())


def test_an_empty_record_has_a_map_page_too(client):
    assert (
        "No lines are in the inventory yet." in client.get(reverse("public:map", args=["en"])).text
    )
