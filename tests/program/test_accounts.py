"""The administrator sets up a real utility: its particulars, a company, a person with a role."""

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group

from program.models import Utility
from program.roles import ADMINISTRATOR, CONTRACTOR
from replacements.models import Contractor, Membership

pytestmark = pytest.mark.django_db


@pytest.fixture
def administrator(client):
    user = get_user_model().objects.create_user("tamsin", password="x", is_staff=True)
    user.groups.add(Group.objects.get(name=ADMINISTRATOR))
    client.force_login(user)
    return client


def test_the_utilitys_particulars_are_entered_once_and_corrected(administrator):
    page = {
        "name": "Mill Basin Water",
        "pwsid": "ZZ1",
        "population": 900,
        "publish_addresses": "on",
    }
    administrator.post("/accounts/program/utility/add/", page)
    utility = Utility.objects.get()
    assert (utility.name, utility.clock_stands_at) == ("Mill Basin Water", None)
    assert administrator.get("/accounts/program/utility/add/").status_code == 403
    administrator.post(f"/accounts/program/utility/{utility.pk}/change/", {**page, "pwsid": "ZZ2"})
    utility.refresh_from_db()
    assert utility.pwsid == "ZZ2"


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
