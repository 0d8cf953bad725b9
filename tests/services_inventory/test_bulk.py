"""What a first large file takes off the tables stands again when it is in, or when it fails."""

import pytest
from django.db import connection, transaction

from services_inventory import bulk
from services_inventory.intake import matching
from services_inventory.intake.applying import CHANGE, EVIDENCE
from services_inventory.models import ServiceLine
from services_inventory.operations import intake
from services_inventory.operations.evidence import evidence_record
from services_inventory.queries.checks import OWN
from tests.services_inventory.factories import MORNING, line_of
from tests.services_inventory.operations.takes import ELM, MILL, OAK, counted, open_file, run

TABLES = (matching.PREMISE, matching.LINE, EVIDENCE, CHANGE)


def _constraints() -> dict:
    with connection.cursor() as cursor:
        return {table: connection.introspection.get_constraints(cursor, table) for table in TABLES}


@pytest.fixture
def large(monkeypatch):
    """Let three rows count as a large file."""
    monkeypatch.setattr(intake, "MANY", 1)


@pytest.mark.django_db(transaction=True)
def test_indexes_and_references_stand_as_before(tmp_path, large):
    before = _constraints()
    assert run(open_file(tmp_path, [MILL, OAK, ELM])) == counted(new=3)
    assert _constraints() == before
    assert [sentence for check in OWN for sentence in check()] == []


@pytest.mark.django_db(transaction=True)
def test_they_are_off_while_the_first_file_is_written_and_back_where_it_fails():
    before = _constraints()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        with bulk.built_after(*TABLES, first=True):
            assert len(_constraints()[EVIDENCE]) < len(before[EVIDENCE])
            raise ZeroDivisionError
    assert _constraints() == before


@pytest.mark.django_db(transaction=True)
def test_a_reference_that_leads_nowhere_is_refused(tmp_path):
    """Set-wise checking refuses what checking row by row refuses; SQLite checks at the end too."""
    from django.db.utils import IntegrityError

    run(open_file(tmp_path, [MILL]))
    lost = {**ServiceLine.objects.values().get(), "id": 99, "location_id": "L99", "premise_id": 98}
    with pytest.raises(IntegrityError), transaction.atomic():
        with bulk.built_after(*TABLES, first=True):
            ServiceLine.objects.bulk_create([ServiceLine(**lost)])
    assert ServiceLine.objects.count() == 1


STAGED = (
    (),
    ((1, "", None, 2.5),),
    ((1, "", None, None), (2, "", None, None)),
    ((1, "", None, 1.0), (2, "elm", None, 1.0), (3, "", None, 1.0)),
    ((1, "elm", None, None), (2, "", 4, None)),
    ((1, "", 0, 0.0), (2, "", 0, 0.0)),
)


@pytest.mark.django_db
@pytest.mark.parametrize("rows", STAGED)
def test_blank_columns_are_staged_as_they_were_given(rows):
    kinds = [("id", "KEY"), ("street", "TEXT"), ("number", "INTEGER"), ("meters", "REAL")]
    assert bulk.stage("blanks", kinds, rows) == len(rows)
    assert tuple(bulk.stream("SELECT * FROM blanks ORDER BY id")) == rows
    assert bulk.stage("blanks", kinds[1:2], ((row[1],) for row in rows)) == len(rows)
    found = sorted(street for (street,) in bulk.stream("SELECT street FROM blanks"))
    assert found == sorted(row[1] for row in rows)


@pytest.mark.django_db
def test_reading_alone_gives_every_row_and_may_be_broken_off():
    bulk.stage("many", [("id", "KEY"), ("half", "REAL")], ((n, n / 2) for n in range(2_500)))
    pieces = list(bulk.stream_alone("SELECT id, half FROM many ORDER BY id", (), 1_000))
    assert [len(piece) for piece in pieces] == [1_000, 1_000, 500]
    assert pieces[2][-1] == (2_499, 1249.5)
    broken_off = bulk.stream_alone("SELECT id FROM many WHERE id >= %s ORDER BY id", (7,), 10)
    assert next(broken_off)[0] == (7,)
    broken_off.close()
    assert bulk.number("SELECT count(*) FROM many") == 2_500


@pytest.mark.django_db
@pytest.mark.skipif(not bulk.on_postgresql(), reason="SQLite's driver keeps every statement")
def test_what_is_asked_often_is_planned_once(django_assert_num_queries):
    asked = "SELECT location_id FROM services_inventory_serviceline WHERE location_id = %s"
    places = [line_of("LEAD", "COPPER").location_id for _ in range(2)]
    with django_assert_num_queries(4):  # as every question, these are seen by who counts them
        found = [bulk.fetched_often(asked, [place]) for place in (*places, *places)]
    assert found == [[(place,)] for place in (*places, *places)]
    plans = (
        "SELECT count(*) FROM pg_prepared_statements WHERE statement LIKE 'SELECT location_id%%'"
    )
    assert bulk.number(plans) == 1
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        raise ZeroDivisionError  # the driver forgets its plans as something is rolled back
    assert bulk.fetched_often(asked, [places[0]]) == [(places[0],)]


@pytest.mark.django_db
@pytest.mark.skipif(bulk.on_postgresql(), reason="PostgreSQL knows that a table is empty")
def test_the_planner_is_told_of_each_empty_table_once():
    for _ in range(2):
        bulk.settle_statistics()
    told = "SELECT count(*) FROM sqlite_stat1 WHERE tbl = 'program_customerwork'"
    assert bulk.number(told) == 1
    assert bulk.number("SELECT count(*) FROM sqlite_stat1 WHERE tbl LIKE 'sqlite%%'") == 0


@pytest.mark.django_db
@pytest.mark.skipif(bulk.on_postgresql(), reason="PostgreSQL is told how large staged tables are")
def test_one_piece_of_evidence_walks_no_table_of_the_record():
    line, walked = line_of("UNKNOWN", "UNKNOWN"), []
    bulk.settle_statistics()
    bulk.execute("UPDATE sqlite_stat1 SET stat = '1000000 1 1 1 1' WHERE tbl LIKE '%%_serviceline'")
    bulk.execute("ANALYZE sqlite_schema")

    def explained(execute, sql, params, many, context):
        if sql[:6] in ("SELECT", "UPDATE", "INSERT") and not many:
            asked = "EXPLAIN QUERY PLAN " + sql.replace("%s", "?").replace("%%", "%")
            plan = connection.connection.cursor().execute(asked, tuple(params or ()))
            counted = f"SCAN {ServiceLine._meta.db_table}"
            told = [row[3] for row in plan]
            walked.extend((one, sql) for one in told if one in ("SCAN l", "SCAN e"))
            walked.extend((one, sql) for one in told if one.startswith(counted))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(explained):
        evidence_record(line=line, portion="SYSTEM", material="LEAD", basis="EXCAVATION", by="m",
                        points_seen=1, observed_on=MORNING.date(), recorded_at=MORNING)  # fmt: skip
    assert line.category == "LEAD" and walked == []
