"""Commands end in sentences and exit codes, and leave nothing open behind them."""

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction

from services_inventory import progress
from services_inventory.models import Batch, Evidence, ServiceLine
from services_inventory.operations.batches import HERE, batch_open, batches_recover
from services_inventory.queries.checks import lines_have_an_identifier
from services_inventory.today import now
from tests.services_inventory.factories import bare_line, line_of
from tests.services_inventory.intake import files

pytestmark = pytest.mark.django_db


def said(name: str, *arguments, **options) -> tuple[str, int]:
    """Return what a command prints, and its exit code."""
    out = StringIO()
    try:
        call_command(name, *arguments, stdout=out, stderr=StringIO(), **options)
    except SystemExit as ended:
        return out.getvalue(), ended.code
    return out.getvalue(), 0


def kept_files(settings) -> list[str]:
    """Return every file beside the data."""
    folders = (settings.MEDIA_ROOT, settings.DATA_DIR / "progress", settings.DATA_DIR / "held")
    return sorted(str(p) for f in folders if f.exists() for p in f.rglob("*") if p.is_file())


def test_restate_finds_nothing_in_an_untouched_record_afresh_too():
    line_of("LEAD", "COPPER")
    line_of("COPPER", "COPPER", basis="RECORD_TAP_CARD")
    for options in ({}, {"afresh": True}):
        text, code = said("restate", json=True, **options)
        found = json.loads(text)
        assert code == 0
        assert (found["differences"], found.get("codes", 0)) == (0, 0)


def test_restate_ends_with_1_on_a_difference_until_it_is_corrected():
    line = line_of("LEAD", "COPPER")
    ServiceLine.objects.filter(pk=line.pk).update(system_material="COPPER")
    assert said("restate")[1] == 1
    assert said("restate", write=True)[1] == 0
    assert said("restate")[1] == 0


def test_the_database_keeps_no_unknown_basis_and_no_line_without_identifier():
    line = line_of("LEAD", "COPPER")
    with pytest.raises(IntegrityError), transaction.atomic():
        Evidence.objects.filter(line=line).update(basis="HEARSAY")
    with pytest.raises(IntegrityError), transaction.atomic():
        ServiceLine.objects.filter(pk=line.pk).update(location_id="")
    assert not list(lines_have_an_identifier())
    ServiceLine.objects.filter(pk=bare_line().pk).update(location_id=" ")
    assert "no identifier" in next(lines_have_an_identifier())


def test_a_code_from_elsewhere_makes_restate_a_sentence():
    """As a bulk write on SQLite, which passes checks over, or a restored copy may leave it."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL keeps no such code")
    line = line_of("LEAD", "COPPER")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints=1")
        cursor.execute("UPDATE services_inventory_evidence SET basis='HEARSAY', fact_code=NULL")
        cursor.execute("PRAGMA ignore_check_constraints=0")
    with pytest.raises(CommandError, match=f"basis that is not known.*{line.location_id}"):
        call_command("restate", stdout=StringIO())


def test_a_dry_run_leaves_no_batch_and_no_file(tmp_path, settings):
    path = files.write_csv(tmp_path / "list.csv", [*files.ROWS, ["L-9", "9 Elm St", *["#N/A"] * 6]])
    text, code = said("take_in", path, dry_run=True)
    assert code == 0
    assert "#N/A is a spreadsheet error" in text
    assert not Batch.objects.exists()
    assert not kept_files(settings)


def test_a_refused_file_is_not_kept_by_a_command(tmp_path, settings):
    path = tmp_path / "list.csv"
    path.write_bytes(b"\x89PNG\r\n\x1a\n")
    for options in ({}, {"dry_run": True}):
        with pytest.raises(CommandError, match="a picture"):
            said("take_in", path, **options)
    assert not kept_files(settings)
    assert not Batch.objects.exclude(state=Batch.State.REFUSED).exists()


def test_what_a_killed_command_left_is_ended_at_the_next_start(tmp_path, settings):
    path = files.write_csv(tmp_path / "list.csv")
    killed = batch_open(kind="INTAKE", by="clerk", at=now(), file=path, parameters={HERE: True})
    Batch.objects.filter(pk=killed.pk).update(state=Batch.State.APPLYING)
    progress.write(killed.pk + 1, 3, 9)  # of a batch that ended long ago
    batches_recover()
    killed.refresh_from_db()
    assert killed.state == Batch.State.STOPPED
    assert "start it again" in killed.message
    assert not kept_files(settings)


def test_an_upload_that_nobody_goes_on_with_is_let_go_after_thirty_days(tmp_path, settings):
    path = files.write_csv(tmp_path / "list.csv")
    old = batch_open(kind="INTAKE", by="clerk", at=now() - timedelta(days=31), file=path)
    new = batch_open(kind="INTAKE", by="clerk", at=now() - timedelta(days=29), file=path)
    batches_recover()
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.state, new.state) == (Batch.State.STOPPED, Batch.State.RECEIVED)
    assert len(kept_files(settings)) == 1
