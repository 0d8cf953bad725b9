"""The administrator sets up a real utility: a company, a person with a role."""

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group

from program.roles import ADMINISTRATOR, CONTRACTOR
from replacements.models import Contractor, Membership

pytestmark = pytest.mark.django_db


@pytest.fixture
def administrator(client):
    user = get_user_model().objects.create_user("tamsin", password="x", is_staff=True)
    user.groups.add(Group.objects.get(name=ADMINISTRATOR))
    client.force_login(user)
    return client


def test_a_company_and_its_person_are_entered_and_see_their_own_board(administrator, client):
    company = {
        "name": "Otter Pipeworks", "active": "on",
        "crews-TOTAL_FORMS": 0, "crews-INITIAL_FORMS": 0,
    }  # fmt: skip
    administrator.post("/accounts/replacements/contractor/add/", company)
    contractor = Contractor.objects.get()
    person = get_user_model().objects.create_user("odd", password="x")
    person.groups.add(Group.objects.get(name=CONTRACTOR))
    administrator.post(
        "/accounts/replacements/membership/add/",
        {"user": person.pk, "contractor": contractor.pk},
    )
    assert Membership.objects.get().user == person
    client.force_login(person)
    assert b"Otter Pipeworks" in client.get("/").content
