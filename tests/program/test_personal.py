"""What names residents: who opened it is noted, and it can be erased without a seal broken."""

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from program.models import Inquiry, PersonalOpened, Purge, Telephone
from program.operations.purging import residents_purge
from program.operations.row_digests import row_digests_take
from program.operations.sealing import record_seal
from program.queries.personal import (
    erased_columns,
    pages_of_residents,
    personal_columns,
)
from program.queries.row_digests import rows_are_as_written
from program.queries.seals import seals_hold, streams
from program.roles import COMPLIANCE, PROGRAM_MANAGER
from replacements.models import Consent, Person
from replacements.operations.visits import person_record
from services_inventory.refused import Refused
from tests.access_walk import addresses
from tests.kept import kept
from tests.program.operations.test_sealing import NIGHT
from tests.replacements.factories import AT, DAY, LATER, order
from tests.replacements.views.test_pages import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
@kept
def line(db):
    """A line with an owner, a consent and an answered inquiry, sealed and digested."""
    line = order().line
    person_record(
        line=line, capacity="OWNER", name="Wren Calloway", phone="000-000-0111", by="m", at=AT
    )
    Consent.objects.filter(line=line).update(given_by="Wren Calloway", note="Ring twice")
    Inquiry.objects.create(
        line=line, kind="WATER_TEST", address_given="1 Mill", name="Wren Calloway",
        contact="000-000-0111", message="Is it lead?", received_on=DAY, answered_on=DAY,
        answer="It is, Wren.", answered_by="m",
    )  # fmt: skip
    row_digests_take(at=NIGHT)
    record_seal(at=NIGHT)
    return line


def test_what_is_erased_is_personal_and_not_sealed():
    sealed = {(s.table._meta.label, name) for s in streams().values() for name in s.columns}
    for label, columns in erased_columns().items():
        assert set(columns) <= set(personal_columns()[label])
        assert not {(label, name) for name in columns} & sealed


def test_erased_names_are_gone_and_the_record_holds(line):
    done = residents_purge(line=line, reason="Asked by letter of Mar 1", by="c", at=NIGHT)
    assert done.erased["replacements.Person"] == 1
    assert done.erased["program.Inquiry"] == 1
    for table in (Person, Consent, Inquiry):
        for row in table.objects.filter(line=line).values():
            assert "Wren" not in str(row)
            assert "0111" not in str(row)
    assert [*seals_hold(), *rows_are_as_written()] == []
    row_digests_take(at=NIGHT)
    record_seal(at=NIGHT + (NIGHT - LATER))
    assert [*seals_hold(), *rows_are_as_written()] == []
    assert Inquiry.objects.get(line=line).answered_on == DAY, "that it was answered stays"


def test_nothing_is_erased_twice_or_without_a_reason_or_before_an_answer(line):
    with pytest.raises(Refused, match="300 letters"):
        residents_purge(line=line, reason="  ", by="c", at=NIGHT)
    Inquiry.objects.update(answered_on=None)
    with pytest.raises(Refused, match="Answer it first"):
        residents_purge(line=line, reason="Asked", by="c", at=NIGHT)
    Inquiry.objects.update(answered_on=DAY)
    residents_purge(line=line, reason="Asked", by="c", at=NIGHT)
    with pytest.raises(Refused, match="names anybody"):
        residents_purge(line=line, reason="Asked", by="c", at=NIGHT)
    assert Purge.objects.count() == 1


def test_the_neighbor_keeps_what_is_theirs(line):
    other = order().line
    person_record(line=other, capacity="OWNER", name="Ash Tolland", by="m", at=AT)
    residents_purge(line=line, reason="Asked", by="c", at=NIGHT)
    assert Person.objects.get(line=other).name == "Ash Tolland"


def test_the_command_says_how_much_and_refuses_in_a_sentence(line, capsys):
    call_command("purge_residents", line.location_id, reason="Asked by letter")
    assert "name nobody any more" in capsys.readouterr().out
    with pytest.raises(CommandError, match="names anybody"):
        call_command("purge_residents", line.location_id, reason="Asked again")


def test_the_page_shows_what_goes_before_it_goes_and_compliance_staff_alone_have_it(line, client):
    page = reverse("residents", args=[line.pk])
    assert signed_in(client, "planner3", PROGRAM_MANAGER).get(page).status_code == 403
    signed_in(client, "clerk3", COMPLIANCE)
    named = client.get(page).context["named"]
    assert [(kind, count) for kind, count, _ in named] == [("People", 1), ("Inquiries", 1)]
    assert Person.objects.get(line=line).name == "Wren Calloway"
    client.post(page, {"reason": " "})
    assert not Purge.objects.exists()
    client.post(page, {"reason": "Asked by letter of Mar 1"})
    assert (Purge.objects.get().purged_by, Person.objects.get(line=line).name) == ("clerk3", "")
    assert "Asked by letter" in client.get(page).text


def test_who_opens_what_names_residents_is_noted_and_compliance_staff_read_it(line, client):
    work = line.work_orders.get()
    signed_in(client, "planner2", PROGRAM_MANAGER).get(reverse("work_order", args=[work.pk]))
    (row,) = PersonalOpened.objects.all()
    assert (row.opened_by, row.page, row.of) == ("planner2", "work_order", str(work.pk))
    client.get(reverse("board"))
    assert PersonalOpened.objects.count() == 1, "a page that names nobody is not noted"
    shown = signed_in(client, "clerk2", COMPLIANCE).get(reverse("sign_in_list"))
    assert f"{pages_of_residents()['work_order']} {work.pk}" in shown.content.decode()


def test_every_page_of_the_list_is_one():
    assert set(pages_of_residents()) <= {name for name, _ in addresses()}


def test_a_refused_page_is_not_noted(line, client):
    client.get(reverse("work_order", args=[line.work_orders.get().pk]))
    assert not PersonalOpened.objects.exists()


def test_a_secret_read_in_the_database_makes_no_code(settings, line, django_user_model):
    """FIPS 198-1: without the key the digest cannot be made, nor the code from it (RFC 6238)."""
    person = django_user_model.objects.create_user("pat")
    device = Telephone.objects.create(user=person)
    secret = device.bin_key
    assert len(secret) == 20
    assert bytes.fromhex(device.key) != secret
    assert Telephone.objects.get().bin_key == secret
    settings.SECRET_KEY = "another installation's"
    assert Telephone.objects.get().bin_key != secret
