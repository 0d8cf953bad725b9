"""The side bar: every place lies in one room, and nobody is shown a door that is locked."""

from types import SimpleNamespace

import pytest
from django.urls import reverse

from program.roles import ROLES
from program.rooms import ROOMS, SET_UP, rooms_for

EVERY = [place for places in (*ROOMS.values(), SET_UP) for place in places]


def somebody(role):
    return SimpleNamespace(has_perm=lambda permission: permission in ROLES[role])


def test_five_rooms_and_each_place_in_one():
    assert list(ROOMS) == ["Today", "Inventory", "Plan", "Work", "Proof"]
    assert len({place.url for place in EVERY}) == len({p.prefix for p in EVERY}) == len(EVERY)


@pytest.mark.parametrize("place", EVERY, ids=lambda place: place.url)
def test_a_place_owns_its_own_page_and_no_other_claims_it(place):
    assert place.address == reverse(place.url)
    owners = [other for other in EVERY if other.owns(place.address)]
    assert max(owners, key=lambda other: len(other.prefix)) is place


@pytest.mark.parametrize("role", ROLES)
def test_a_role_sees_its_own_rooms_only_and_knows_where_it_is(role):
    user = somebody(role)
    for place in EVERY:
        if not place.open_to(user):
            continue
        told = rooms_for(user, place.address)
        here = [tab["label"] for tab in told["tabs"] + told["set_up"] if tab["here"]]
        rooms = [room["label"] for room in told["rooms"] if room["here"]]
        assert here == [place.label] or (here == [] and rooms), place
        assert rooms == [name for name, places in ROOMS.items() if place in places]
        shown = {tab["label"] for tab in told["tabs"] + told["set_up"]}
        assert shown <= {other.label for other in EVERY if other.open_to(user)}


def test_a_page_inside_a_place_lights_its_tab():
    told = rooms_for(somebody("Program manager"), "/inventory/conflicts/set-aside/")
    assert [tab["label"] for tab in told["tabs"] if tab["here"]] == ["Set aside"]
    told = rooms_for(somebody("Program manager"), "/inventory/conflicts/1000001/")
    assert [tab["label"] for tab in told["tabs"] if tab["here"]] == ["Conflicts"]
    assert not any(room["here"] for room in rooms_for(somebody("Contractor"), "/help/")["rooms"])
