"""What is kept up to date: the program may change it, another hand is seen."""

from contextlib import contextmanager

import pytest
from django.db import connection, transaction
from django.db.models import F

from program.models import NoticeBatch, RowDigests, RowDigestsTaken, WrittenRow
from program.operations.row_digests import row_digests_take
from program.queries.row_digests import (
    rows_are_as_written,
    sum_of_digests,
    unwatched,
    watched,
)
from program.queries.seals import left_out, streams
from replacements.models import Crew, WorkOrder
from services_inventory import bulk
from services_inventory.models import Premise, ServiceLine
from tests.kept import kept
from tests.replacements.factories import LATER, order

pytestmark = pytest.mark.django_db
ORDER = "replacements.WorkOrder"


@contextmanager
def another_hand():
    """Write as somebody does who opened the database without the program."""
    noted, connection.execute_wrappers[:] = [*connection.execute_wrappers], []
    try:
        yield
    finally:
        connection.execute_wrappers[:] = noted


@pytest.fixture
@kept
def work(db):
    """Two orders, of which digests were taken."""
    made = order(), order()
    row_digests_take(at=LATER)
    return made[0]


def told() -> list[str]:
    return list(rows_are_as_written())


def test_every_column_is_sealed_or_watched_or_said_not_to_be():
    named = {stream.table._meta.label for stream in streams().values()}
    assert set(watched()) >= set(left_out()) - set(unwatched())
    assert set(unwatched()) <= named | set(left_out())
    assert {"addressed_to", "given_by", "holder"} <= {
        name for stream in watched().values() for name in stream.columns
    }, "names of residents are under salt"


def test_a_row_changed_by_another_hand_is_named_and_the_programs_own_change_is_not(work):
    assert told() == []
    WorkOrder.objects.filter(pk=work.pk).update(note="Gate code at the office")
    assert told() == []
    other = WorkOrder.objects.exclude(pk=work.pk).get()
    with another_hand():
        WorkOrder.objects.filter(pk=other.pk).update(note="Paid twice")
    assert told() == [f"Work order {other.pk}: changed in the database, and not by the program."]


def test_what_another_hand_changed_stays_seen_when_digests_are_taken_again(work):
    with another_hand():
        WorkOrder.objects.filter(pk=work.pk).update(note="Paid twice")
    other = WorkOrder.objects.exclude(pk=work.pk).get()
    other.note = "The dog is friendly"
    other.save()
    row_digests_take(at=LATER)
    assert not WrittenRow.objects.exists()
    (sentence,) = told()
    assert str(work.pk) in sentence
    with another_hand():
        WorkOrder.objects.filter(pk=other.pk).update(note="It is not")
    assert len(told()) == 2


def test_a_row_taken_out_by_another_hand_is_seen_and_by_the_program_not(work):
    crew = Crew.objects.create(contractor=work.contractor, name="Night crew")
    row_digests_take(at=LATER)
    with transaction.atomic():
        with another_hand():
            Crew.objects.filter(pk=crew.pk).delete()
        assert told() == [f"Crew {crew.pk}: removed in the database, and not by the program."]
        transaction.set_rollback(True)
    crew.delete()
    assert told() == []
    row_digests_take(at=LATER)
    assert told() == []
    assert RowDigests.objects.filter(stream="replacements.Crew", content=b"").count() == 0


def test_new_rows_are_taken_in_the_next_time(work):
    new = order()
    with another_hand():
        WorkOrder.objects.filter(pk=new.pk).update(note="Before the night")
    row_digests_take(at=LATER)
    assert told() == [], "as with what is sealed: from the night on"
    with another_hand():
        WorkOrder.objects.filter(pk=new.pk).update(note="After it")
    assert len(told()) == 1


def test_digests_altered_with_the_row_are_seen_by_their_sum(work):
    with another_hand():
        WorkOrder.objects.filter(pk=work.pk).update(note="Paid twice")
        RowDigests.objects.filter(stream=ORDER).delete()
    assert told() == [f"The digests of {ORDER} are not those that were taken: they were altered."]
    assert RowDigestsTaken.objects.get(stream=ORDER).sha256 != sum_of_digests(ORDER)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE services_inventory_serviceline AS l SET use = 'FIRE', installed_year = CASE WHEN "
        "l.installed_year IS DISTINCT FROM 1 THEN 1 END FROM services_inventory_premise p "
        "WHERE p.id = l.premise_id AND p.id = %s AND l.use IS DISTINCT FROM 'FIRE'",
        "UPDATE services_inventory_serviceline SET use = 'FIRE' WHERE premise_id IN "
        "(SELECT id FROM services_inventory_premise WHERE id = %s)",
    ],
)
def test_a_statement_over_several_tables_is_noted_row_by_row(work, statement):
    line = work.line
    bulk.execute(statement, [line.premise_id])
    notes = WrittenRow.objects.filter(table=ServiceLine._meta.db_table)
    assert list(notes.values_list("row_id", flat=True)) == [line.pk]
    assert told() == []


def test_columns_that_are_derived_again_leave_no_note(work):
    ServiceLine.objects.filter(pk=work.line_id).update(validation="", in_conflict=F("in_conflict"))
    assert not WrittenRow.objects.exists()


def test_a_statement_on_very_many_rows_is_noted_for_the_table(work, monkeypatch):
    monkeypatch.setattr("program.own_writes.MOST", 1)
    Premise.objects.filter(pk__gt=0).update(unit="2")
    assert WrittenRow.objects.get().row_id is None
    assert told() == []
    row_digests_take(at=LATER)
    with another_hand():
        Premise.objects.filter(pk=work.line.premise_id).update(unit="3")
    assert len(told()) == 1


def test_two_rows_of_one_content_have_two_digests():
    for _ in range(2):
        NoticeBatch.objects.create(kind="LEAD", year=2031, made_by="clerk", made_at=LATER)
    row_digests_take(at=LATER)
    content = bytes(RowDigests.objects.get(stream="program.NoticeBatch").content)
    assert content[8:28] != content[36:56], "one cannot be told from the other's digest"
