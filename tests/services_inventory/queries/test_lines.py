"""The list: every line once in every order; each filter equals a plain loop over all lines."""

import pytest
from django.core.cache import cache
from django.db.models import Q
from django.http import QueryDict

from services_inventory.filters import FILTERS, choose
from services_inventory.models import ServiceLine
from services_inventory.operations.inspections import inspections_order
from services_inventory.queries import keyset, lines
from tests.services_inventory.factories import MORNING, line_of, neighborhood
from tests.services_inventory.queries.town import small_town

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def town():
    """Return the lines; what is remembered of another test is forgotten."""
    cache.clear()
    lines = small_town()
    nowhere = Q(neighborhood__isnull=True)
    inspections_order(chosen=nowhere, look_at="", by="clerk", at=MORNING)
    return lines


@pytest.fixture(params=["few", "many"])
def manner(request, monkeypatch):
    """Find lines by their own index and sort them, or walk along the order's."""
    monkeypatch.setattr(lines, "COUNTED", 2000 if request.param == "few" else 0)


def chosen(text: str = ""):
    """Return the filters of an address."""
    return choose(QueryDict(text))


def survey(text: str = ""):
    """Return a first look at what an address keeps."""
    return lines.Survey(chosen(text))


def walked(order: str, text: str = "", size: int = 7) -> list[list[int]]:
    """Return the ids of each page, going forward to the end."""
    pages, after = [], ""
    while True:
        page = lines.line_page(survey(text), order, after=after)
        pages.append([row.pk for row in page.rows])
        if not page.next:
            return pages
        after = page.next


@pytest.fixture
def short_pages(monkeypatch):
    """Cut pages after seven lines."""
    real = keyset.page
    monkeypatch.setattr(keyset, "page", lambda *a, **k: real(*a, **{**k, "size": 7}))


@pytest.mark.parametrize("order", list(lines.ORDERS))
@pytest.mark.parametrize("text", ["", "use=DOMESTIC", "category=LEAD&category=GRR"])
def test_pages_visit_every_line_once(order, text, manner, short_pages, town):
    pages = walked(order, text)
    ids = [pk for page in pages for pk in page]
    kept = set(ServiceLine.objects.filter(chosen(text).condition()).values_list("id", flat=True))
    assert len(ids) == len(set(ids))
    assert set(ids) == kept
    assert all(len(page) == 7 for page in pages[:-1])


@pytest.mark.parametrize("order", list(lines.ORDERS))
def test_the_way_back_is_the_way_there(order, manner, short_pages):
    page, there = lines.line_page(survey("use=DOMESTIC"), order), []
    while True:
        there.append([row.pk for row in page.rows])
        if not page.next:
            break
        page = lines.line_page(survey("use=DOMESTIC"), order, after=page.next)
    back = [there[-1]]
    while page.previous:
        page = lines.line_page(survey("use=DOMESTIC"), order, before=page.previous)
        back.append([row.pk for row in page.rows])
    assert back[::-1] == there


def test_an_order_is_kept_across_its_segments(manner):
    rows = lines.line_page(survey(), "neighborhood").rows
    keys = [
        (row.neighborhood_id is None, row.neighborhood_id or 0, row.category, row.pk)
        for row in rows
    ]
    assert keys == sorted(keys)
    assert keys[-1][0], "lines in no neighborhood come last"


def test_equal_addresses_are_ordered_by_line(manner):
    rows = lines.line_page(survey(), "address").rows
    keys = [(row.premise.address_key, row.premise_id, row.pk) for row in rows]
    assert keys == sorted(keys)


def test_a_place_made_by_hand_or_of_another_order_is_refused():
    with pytest.raises(keyset.BadPlace):
        lines.line_page(survey(), "id", after="1:2:3")
    place = lines.line_page(survey(), "id").rows[3]
    with pytest.raises(keyset.BadPlace):
        lines.line_page(survey(), "address", after=keyset.place_of(place, lines.ORDERS["id"]))


CASES = {
    "category=LEAD": lambda line: line.category == "LEAD",
    "category=LEAD&category=GRR": lambda line: line.category in ("LEAD", "GRR"),
    "neighborhood=none": lambda line: line.neighborhood_id is None,
    "system=COPPER": lambda line: line.system_material == "COPPER",
    "customer=PLASTIC": lambda line: line.customer_material == "PLASTIC",
    "connector=UNKNOWN": lambda line: line.connector == "UNKNOWN",
    "connector=LEAD": lambda line: line.connector == "LEAD",
    "customer=LEAD&category=LEAD": lambda line: line.customer_material == "LEAD",
    "use=FIRE": lambda line: line.use == "FIRE",
    "kind=SCHOOL": lambda line: line.premise.kind == "SCHOOL",
    "kind=NOT_STATED": lambda line: line.premise.kind == "",
    "pool=IN": lambda line: line.validation == "IN",
    "pool=OUT": lambda line: line.validation.startswith("OUT"),
    "laid_from=1948": lambda line: (line.installed_year or 0) >= 1948,
    "laid_from=1900&laid_to=1947": lambda line: 1900 <= (line.installed_year or 0) <= 1947,
    "address=mill": lambda line: line.premise.street_key in ("MILL ST", "MILL LN"),
    "address=Mill+Street": lambda line: line.premise.street_key == "MILL ST",
    "address=3+mill+st": lambda line: line.premise.address_key == "3 MILL ST",
    "address=nowhere": lambda line: False,
    "conflict=yes": lambda line: line.in_conflict,
    "inspection=waiting": lambda line: line.category == "UNKNOWN" and not line.neighborhood_id,
    "rests=connectors": lambda line: line.system_material == "GALVANIZED",
    "within=-1,-1;1,-1;0,1": lambda line: False,  # none has a position: see test_within.py
    "within=1,1;2,2": lambda line: False,
    "laid_from=soon": lambda line: False,
    "category=GOLD": lambda line: False,
    "neighborhood=999999999999999999999": lambda line: False,
}


@pytest.mark.parametrize("text", CASES)
def test_a_filter_keeps_what_a_plain_loop_keeps(text, manner, town):
    expected = {line.pk for line in town if CASES[text](line)}
    assert {pk for page in walked("id", text) for pk in page} == expected


def test_filters_of_neighborhoods_join(town):
    tannery = neighborhood("Tannery").pk
    found = {p for page in walked("id", f"neighborhood={tannery}&neighborhood=none") for p in page}
    assert found == {line.pk for line in town if line.neighborhood_id in (tannery, None)}


def test_lines_whose_category_rests_on_connectors_are_found(manner, town):
    rests = line_of("GALVANIZED", "COPPER")  # nothing is known of its connector
    line_of("COPPER", "COPPER")
    assert [p for page in walked("id", "rests=connectors") for p in page] == [rests.pk]


def test_every_filter_has_a_case():
    named = {pair.split("=")[0] for text in CASES for pair in text.split("&")}
    assert {row.key for row in FILTERS} - named == {"location"}


def test_a_location_is_found_exactly(town):
    assert walked("id", f"location={town[5].location_id}") == [[town[5].pk]]


@pytest.mark.parametrize("text", [text for text in CASES if "soon" not in text])
def test_a_tally_counts_what_the_list_holds_without_its_category(text, town):
    found = chosen(text)
    if found.problems:
        pytest.skip("nothing is counted for what can't be read")
    kept = ServiceLine.objects.filter(found.condition(without="category"))
    expected = [line.category for line in kept]
    counts = lines.line_tally(survey(text)).counts
    assert counts == {category: expected.count(category) for category in counts}


def test_counting_stops_and_says_so_until_it_is_asked_for_in_full(monkeypatch, town):
    monkeypatch.setattr(lines, "COUNTED", 10)
    assert lines.line_tally(survey("use=DOMESTIC")).cut
    assert not lines.line_tally(survey("category=LEAD")).cut, "category alone is always exact"
    in_full = lines.line_tally(survey("use=DOMESTIC"), in_full=True)
    assert (in_full.total, in_full.cut) == (sum(line.use == "DOMESTIC" for line in town), False)


def test_what_is_remembered_follows_the_next_change(town):
    from services_inventory.operations.evidence import evidence_record

    before = lines.line_tally(survey()).counts
    line = next(line for line in town if line.category == "UNKNOWN")
    evidence_record(
        line=line, portion="SYSTEM", material="LEAD", basis="RECORD_TAP_CARD", by="clerk",
        recorded_at=MORNING,
    )  # fmt: skip
    after = lines.line_tally(survey()).counts
    assert (after["LEAD"], after["UNKNOWN"]) == (before["LEAD"] + 1, before["UNKNOWN"] - 1)


def test_the_sentence_names_every_filter():
    found = chosen("category=LEAD&category=GRR&system=COPPER&laid_to=1950&address=mill")
    words = found.words()
    for part in ("lead or galvanized requiring", "copper on the system", "1950 or earlier", "mill"):
        assert part in words
