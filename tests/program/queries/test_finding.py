"""The search box finds what a person may open, however it is typed (constructed)."""

import pytest
from django.urls import reverse

from program.queries.finding import MOST, found
from replacements.models import Person
from services_inventory.domain.addresses import normalize
from tests.replacements.factories import contractor, order, user
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db


def line_at(address: str, unit: str = "", **values):
    """Return a lead line whose premise is entered as intake enters it."""
    line = line_of("LEAD", "LEAD", **values)
    read = normalize(f"{address} {unit}".strip())
    place = line.premise
    place.address, place.unit, place.address_key = address, unit, read.key
    place.street_key, place.house_number = read.street_key, int(read.number)
    place.save()
    return line


@pytest.fixture
def manager():
    return user("odile", "Program manager")


def of_kind(text, who, kind):
    return [one for one in found(text, who) if one.kind == kind]


@pytest.mark.parametrize(
    "typed", ["389 Tinker St", "389 tinker", "389 tinkr street", "  389  TINKER ST.", "391 tinker"]
)
def test_an_address_is_found_as_typed_misspelled_or_a_few_houses_off(manager, typed):
    line = line_at("389 Tinker St")
    line_at("12 Mill St")
    told = of_kind(typed, manager, "Lines")
    assert [one.address for one in told] == [reverse("line", args=[line.pk])]
    assert told[0].label == "389 Tinker St"


def test_a_location_id_is_found_by_its_beginning_in_either_case(manager):
    line = line_at("1 Mill St", location_id="QW-000203")
    for typed in ("QW-000203", "qw-0002", "QW-"):
        assert of_kind(typed, manager, "Lines")[0].address == reverse("line", args=[line.pk])


def test_an_order_is_found_by_its_number_by_those_who_may_see_it(manager):
    mine, other = contractor(), contractor()
    work = order(mine)
    digits = work.number.removeprefix("W-")
    crew, rival = user("ines", "Contractor", mine), user("lowell", "Contractor", other)
    for typed in (work.number, work.number.lower(), digits, f"order {int(digits)}", f"#{digits}"):
        for who in (manager, crew):
            told = of_kind(typed, who, "Work orders")
            assert [one.address for one in told] == [reverse("work_order", args=[work.pk])], typed
        assert of_kind(typed, rival, "Work orders") == []
    at = work.line.premise.address
    assert of_kind(at, crew, "Work orders")[0].address == reverse("work_order", args=[work.pk])
    assert found(at, rival) == []


def test_names_are_found_by_those_who_ask_for_access_and_by_nobody_else(manager):
    work = order(contractor())
    Person.objects.create(
        line=work.line, capacity="OWNER", name="Wilhelmina Askew", recorded_by="odile",
        recorded_at=MORNING,
    )  # fmt: skip
    assert [one.label for one in found("askew", manager)] == ["Wilhelmina Askew"]
    assert found("askew", user("tamsin", "Administrator")) == []
    assert found("askew", user("ines", "Contractor", work.contractor)) == []


def test_accounts_and_pages_are_found_by_those_who_may_open_them(manager):
    administrator = user("tamsin", "Administrator")
    assert [one.kind for one in found("odile", administrator)] == ["People let in"]
    assert found("odile", user("ines", "Contractor", contractor())) == []
    assert [one.label for one in found("rate and", manager)] == ["Rate and pool"]


@pytest.mark.parametrize(
    "typed", ["", "a", "\x00\x00", "%%", "zz" * 400, "'; --", "１２ mill", "²3"]
)
def test_what_means_nothing_finds_nothing_and_breaks_nothing(manager, typed):
    line_at("389 Tinker St")
    assert found(typed, manager) == []


def test_no_kind_gives_more_than_asked(manager):
    for number in range(MOST + 5):
        line_at("389 Tinker St", f"APT {number}")
    assert len(of_kind("389 tinker st", manager, "Lines")) == 6
    assert len(found("389 tinker st", manager, MOST)) == MOST


def test_the_box_answers_while_typing_and_on_a_page(client, manager):
    line = line_at("389 Tinker St")
    client.force_login(manager)
    typing = client.get(reverse("find"), {"q": "389 tink", "while": "typing"}).content.decode()
    assert 'role="option"' in typing and "<html" not in typing
    page = client.get(reverse("find"), {"q": "389 tink"}).content.decode()
    assert reverse("line", args=[line.pk]) in page
    assert "Nothing is called that" in client.get(reverse("find"), {"q": "qqqq"}).content.decode()
