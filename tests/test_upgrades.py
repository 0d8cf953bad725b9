"""A new version comes while the old one still answers: its migrations add first and drop later.

What a migration does to PostgreSQL is read from its statements (django-migration-linter): what the
old version stumbles over, and what would hold a lock on a large table.
"""

from datetime import UTC, datetime

import pytest
from django.apps import apps
from django.contrib.postgres.operations import AddIndexConcurrently
from django.core.management import call_command
from django.db import OperationalError, connection, migrations, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ProjectState
from django_migration_linter import MigrationLinter
from django_migration_linter.sql_analyser import PostgresqlAnalyser, analyse_sql_statements

from program.operations.submissions import submission_freeze
from services_inventory.bulk import on_postgresql
from services_inventory.command_faults import sentence_of
from services_inventory.models import Evidence, ServiceLine
from tests.kept import tables
from tests.replacements.factories import handed_in, order
from tests.services_inventory.factories import line_of
from tests.source_files import APPS

# In a migration named so nothing but dropping: the version before has stopped using what goes.
LATER, DROPPING = "contract", {"DROP_COLUMN", "DROP_TABLE"}
LINE = "serviceline"
AFTER = datetime(2029, 2, 1, 9, tzinfo=UTC)  # the program year


def faults_in(statements: list[str]) -> set[str]:
    """Return the codes of what would disturb a version that still answers."""
    errors, _, warnings = analyse_sql_statements(PostgresqlAnalyser, statements)
    return {one.code for one in (*errors, *warnings)}


def may_come(name: str, faults: set[str]) -> bool:
    """Tell whether a migration may come while the version before answers."""
    return not (faults - DROPPING if LATER in name else faults)


def _migrations_since_the_first() -> list[tuple[str, str]]:
    disk = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    ours = [key for key in disk if key[0] in APPS]
    assert {app for app, _ in ours} == {*APPS}
    return sorted(key for key in ours if key[1] != "0001_initial")


@pytest.mark.django_db
def test_every_migration_may_come_while_the_version_before_answers(settings):
    settings.MIGRATION_MODULES = {}  # the run itself makes its tables without them
    if not on_postgresql():
        pytest.skip("Statements are PostgreSQL's; the other half of the run reads them.")
    linter = MigrationLinter(no_cache=True)
    wrong = {
        f"{app}.{name}": faults
        for app, name in _migrations_since_the_first()
        if not may_come(name, faults := faults_in(linter.get_sql(app, name)))
    }
    assert not wrong, f"Divide these as DEVELOPERS.md says: {wrong}"


COUNT = models.IntegerField(null=True)
DISTURBING = {
    "NOT_NULL": migrations.AddField(LINE, "count", models.IntegerField(default=0)),
    "DROP_COLUMN": migrations.RemoveField(LINE, "use"),
    "RENAME_COLUMN": migrations.RenameField(LINE, "use", "used_for"),
    "ALTER_COLUMN": migrations.AlterField(LINE, "use", models.TextField()),
    "CREATE_INDEX": migrations.AddIndex(LINE, models.Index(fields=["use"], name="by_use")),
    "ADD_UNIQUE": migrations.AlterUniqueTogether(LINE, {("premise", "use")}),
    "DROP_TABLE": migrations.DeleteModel("CategoryChange"),
}


def statements_of(operation) -> list[str]:
    """Return what an operation would have PostgreSQL do to the record as it is."""
    before = ProjectState.from_apps(apps)
    after = before.clone()
    app = "services_inventory"
    operation.state_forwards(app, after)
    at_once = getattr(operation, "atomic", True)
    with connection.schema_editor(collect_sql=True, atomic=False) as editor:
        operation.database_forwards(app, editor, before, after)
        return [*(["BEGIN;"] if at_once else []), *editor.collected_sql]


@pytest.mark.django_db
@pytest.mark.parametrize("code", DISTURBING)
def test_what_would_disturb_the_version_before_is_seen(code):
    if not on_postgresql():
        pytest.skip("Statements are PostgreSQL's.")
    found = faults_in(statements_of(DISTURBING[code]))
    assert code in found and not may_come("0002_more", found)
    assert may_come("0003_contract", found) is (found <= DROPPING)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "operation",
    [
        migrations.AddField(LINE, "count", COUNT),
        migrations.AddField(LINE, "count", models.IntegerField(db_default=0, default=0)),
        migrations.CreateModel("Count", [("id", models.BigAutoField(primary_key=True))]),
    ],
)
def test_what_only_adds_may_come(operation):
    if not on_postgresql():
        pytest.skip("Statements are PostgreSQL's.")
    assert may_come("0002_more", faults_in(statements_of(operation)))


@pytest.mark.django_db(transaction=True)
def test_an_index_made_beside_the_work_may_come():
    if not on_postgresql():
        pytest.skip("Statements are PostgreSQL's.")
    index = models.Index(fields=["use"], name="by_use")
    assert not faults_in(statements_of(AddIndexConcurrently(LINE, index)))


@pytest.mark.django_db(transaction=True)
def test_a_table_held_too_long_ends_a_command_in_a_sentence():
    if not on_postgresql():
        pytest.skip("SQLite has no lock of one table.")
    other = connection.copy()
    with other.cursor() as held, transaction.atomic(using="default"):
        held.execute("BEGIN; LOCK TABLE services_inventory_serviceline")
        with pytest.raises(OperationalError) as ended, connection.cursor() as cursor:
            cursor.execute("SET LOCAL lock_timeout = '50ms'")
            cursor.execute("ALTER TABLE services_inventory_serviceline ADD COLUMN more integer")
        held.execute("ROLLBACK")
        transaction.set_rollback(True)
    other.close()
    assert "lock_timeout" in sentence_of(ended.value) and "run it again" in sentence_of(ended.value)


@pytest.mark.django_db
def test_this_version_goes_on_over_the_columns_of_the_next(tmp_path, settings, capsys):
    """As the old web server and worker do between a migration and their own end."""
    settings.TODAY = "tests.services_inventory.people.today"
    settings.NOW = "tests.services_inventory.people.now"
    with connection.cursor() as cursor:
        for table in tables():
            cursor.execute(
                f'ALTER TABLE "{table}" ADD COLUMN of_the_next integer DEFAULT 7 NOT NULL'
            )
    source = tmp_path / "lines.csv"
    source.write_text(
        "location id,address,system side material,customer side material,source,observed on\n"
        "L1,12 Mill St,copper,lead,excavation,2027-05-01\n"
        "L2,14 Mill St,copper,copper,excavation,2027-05-01\n"
    )
    call_command("take_in", str(source))
    assert ServiceLine.objects.count() == 2 and Evidence.objects.count() == 4
    line_of("LEAD", "LEAD", address="20 Mill St")
    handed_in(order())
    made = submission_freeze(year=2028, by="compliance", at=AFTER, today=AFTER.date())
    assert made.pk
    call_command("restate")
    call_command("seal_record")
    call_command("check_record")
    with connection.cursor() as cursor:
        cursor.execute("SELECT DISTINCT of_the_next FROM services_inventory_serviceline")
        assert cursor.fetchall() == [(7,)]
