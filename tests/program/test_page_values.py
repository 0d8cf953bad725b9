"""Pages that rest on values from memory say so to staff, and to nobody else."""

import pytest
from django.contrib.auth.models import Group, User
from django.urls import reverse

from program.domain.regulation import RULES
from program.operations.ticks import value_tick
from program.page_values import PAGE_VALUES
from program.roles import COMPLIANCE
from tests.program.operations.factories import NOW, line, utility

WORDS = "not yet checked against the rule"


def test_every_page_and_every_value_is_there():
    ids = {rule_id for some in PAGE_VALUES.values() for rule_id in some}
    assert ids <= set(RULES.ids())
    for name in PAGE_VALUES:
        needs = {"plan": [1], "submission": [2030, 1], "inquiry": [1], "sampling_period": [1],
                 "customer_work": [1], "validation_draw": [1], "line_access": [1],
                 "work_order": [1], "notice_certificate": [2030]}  # fmt: skip
        assert not reverse(name, args=needs.get(name, [])).startswith("/public")


@pytest.mark.django_db
def test_a_page_names_its_values_once_until_they_are_read(client):
    utility()
    line("LEAD", "COPPER")
    user = User.objects.create_user("compliance", password="a long pass phrase")
    user.groups.add(Group.objects.get(name=COMPLIANCE))
    client.force_login(user)
    page = client.get(reverse("outreach")).content.decode()
    assert page.count(WORDS) == 1 and "3 values" in page
    for rule_id in PAGE_VALUES["outreach"]:
        value_tick(value_id=rule_id, confirms=True, citation="40 CFR 141.85", text="Every year.",
                   read_where="edition of 2030", by="compliance", at=NOW)  # fmt: skip
    assert WORDS not in client.get(reverse("outreach")).content.decode()
    client.logout()
    assert WORDS not in client.get(reverse("public:start", args=["en"])).content.decode()
