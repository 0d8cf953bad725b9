"""A change of owner starts the asking anew; taken back, what was before counts again."""

from datetime import date, datetime

import pytest

from program.queries.access import access_standings
from replacements.domain.consent import ConsentState
from replacements.models import OwnerChange
from replacements.operations.access import consent_record, contact_attempt_record
from replacements.operations.owners import owner_change_record
from replacements.queries.access import consent_state
from replacements.queries.owners import owners_since
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db
AT = datetime(2028, 9, 10, 15, tzinfo=MORNING.tzinfo)
DAY = date(2028, 9, 10)


def tried(line, *days_and_methods):
    for day, method in days_and_methods:
        at = datetime(*day, 15, tzinfo=MORNING.tzinfo)
        contact_attempt_record(line=line, at=at, method=method, by="office", recorded_at=AT)


@pytest.fixture
def line():
    found = line_of("LEAD", "LEAD")
    tried(
        found, ((2028, 4, 1), "PHONE"), ((2028, 4, 8), "PHONE"), ((2028, 5, 1), "LETTER"),
        ((2028, 6, 1), "LETTER"),
    )  # fmt: skip
    return found


def sold(line, day=date(2028, 7, 1), **more):
    said = {"source": "deed 118-4", "by": "office", "recorded_at": AT, **more}
    return owner_change_record(premise=line.premise, changed_on=day, **said)


def test_attempts_before_the_change_no_longer_count(line):
    assert consent_state(line, DAY).state is ConsentState.EFFORT_MADE
    sold(line)
    standing = consent_state(line, DAY)
    assert standing.state is ConsentState.OPEN
    assert standing.effort.missing == "4 more attempts and 2 further methods"


def test_the_day_before_the_change_the_old_owner_was_asked_enough(line):
    sold(line)
    assert consent_state(line, date(2028, 6, 30)).state is ConsentState.EFFORT_MADE


def test_an_attempt_on_the_day_of_the_change_is_with_the_new_owner(line):
    sold(line)
    tried(line, ((2028, 7, 1), "IN_PERSON"))
    assert consent_state(line, DAY).effort.attempts == 1


def test_consent_of_the_owner_before_gives_no_leave_to_start(line):
    consent_record(
        line=line, answer="GIVEN", answered_on=date(2028, 6, 5), given_by="owner", by="office",
        recorded_at=AT,
    )  # fmt: skip
    assert consent_state(line, DAY).may_start
    sold(line)
    assert not consent_state(line, DAY).may_start
    with pytest.raises(Refused, match="No consent is on record"):
        consent_record(line=line, answer="REVOKED", answered_on=DAY, by="office", recorded_at=AT)


def test_taken_back_with_a_reason_the_effort_stands_again_and_the_row_stays(line):
    change = sold(line)
    with pytest.raises(Refused, match="Say why"):
        take_back(row=change, reason=" ", by="office", at=AT)
    take_back(row=change, reason="another house", by="office", at=AT)
    assert consent_state(line, DAY).state is ConsentState.EFFORT_MADE
    assert OwnerChange.objects.get().withdrawn_reason == "another house"
    with pytest.raises(Refused, match="before"):
        take_back(row=change, reason="again", by="office", at=AT)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"day": date(2028, 9, 11)}, "has not come yet"),
        ({"source": "  "}, "Say how the change is known"),
    ],
)
def test_a_change_that_cannot_be_is_refused(line, said, sentence):
    with pytest.raises(Refused, match=sentence):
        sold(line, **said)
    assert not OwnerChange.objects.exists()


def test_the_same_change_twice_is_refused(line):
    sold(line)
    with pytest.raises(Refused, match="on record already"):
        sold(line)


def test_the_statement_to_the_state_knows_owners_as_they_were_known(line):
    before = AT.replace(day=9)
    sold(line)
    assert owners_since(DAY, before) == {}
    assert owners_since(DAY, AT) == {line.pk: date(2028, 7, 1)}
    states = [row.standing.state for row in access_standings(DAY, AT)]
    assert states == [ConsentState.OPEN]
