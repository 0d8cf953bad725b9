"""Seals over the record: what is added is sealed, what is altered by hand is seen."""

import subprocess
import sys
from datetime import timedelta

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import transaction

from program.models import Seal
from program.operations import sealing
from program.operations.sealing import SETTLED, proof_write, record_seal
from program.queries.seals import (
    files_are_as_stored,
    later_columns_are_whole,
    left_out,
    seals_hold,
    streams,
)
from replacements.models import AssemblyAnswer, CompletionRecord, PullRecord, Replacement
from replacements.operations.completions import review_begin
from services_inventory import bulk
from services_inventory.models import Document, Evidence
from services_inventory.operations.batches import batch_forget, batch_open
from tests.kept import kept
from tests.replacements.factories import LATER, handed_in, order, pull, started
from tests.source_files import APPS

pytestmark = pytest.mark.django_db
NIGHT = LATER + 24 * SETTLED


@pytest.fixture
@kept
def worked(db):
    """An order with its string, its pull and its record."""
    work = order()
    started(work)
    handed_in(work, pull=pull(work))
    return work


def altered(table, **values) -> list[str]:
    """Return what is seen of a row that was altered by hand; it is put back."""
    with transaction.atomic():
        pk = table.objects.order_by("pk").first().pk
        assert table.objects.filter(pk=pk).update(**values) == 1
        told = list(seals_hold())
        transaction.set_rollback(True)
    return told


def test_every_table_is_sealed_or_left_out_with_a_reason():
    named = {name.split(".", 2)[0] + "." + name.split(".", 2)[1] for name in streams()}
    tables = {
        table._meta.label
        for app in APPS
        for table in apps.get_app_config(app).get_models(include_auto_created=True)
    }
    assert named | set(left_out()) == tables
    assert not named & set(left_out())
    assert all(left_out().values())


def test_an_untouched_record_holds_sealed_once_or_night_after_night(worked):
    head = record_seal(at=NIGHT)
    assert list(seals_hold()) == []
    assert record_seal(at=NIGHT) == head, "nothing was added"
    again = order()
    started(again)
    assert record_seal(at=NIGHT + timedelta(days=1)) != head
    assert list(seals_hold()) == []
    call_command("check_record")


@pytest.mark.parametrize(
    ("table", "values"),
    [
        (Evidence, {"material": "PLASTIC"}),
        (Evidence, {"recorded_by": "somebody"}),
        (PullRecord, {"peak_lbf": 1.0}),
        (PullRecord, {"metrics": {"peak": 1}}),
        (AssemblyAnswer, {"note": "as it should be"}),
        (Document, {"sha256": "0" * 64}),
    ],
)
def test_a_value_altered_by_hand_is_seen_and_the_sentence_says_where(worked, table, values):
    record_seal(at=NIGHT)
    (told,) = altered(table, **values)
    assert told.lower().startswith(table._meta.verbose_name)
    assert "rows are not as they were sealed on Apr 1" in told
    assert f"up to id {table.objects.latest('pk').pk}" in told


def test_in_turn_what_was_altered_long_ago_is_seen_in_one_night_of_a_round(worked, monkeypatch):
    record_seal(at=NIGHT)
    monkeypatch.setattr("program.queries.seals.BLOCKS_A_NIGHT", 2)
    Evidence.objects.update(material="PLASTIC")
    assert list(seals_hold())
    round_of = -(-(Seal.objects.count() - 2) // 2)
    assert round_of > 2
    assert [bool(list(seals_hold(night))) for night in range(round_of)].count(True) == 1


def test_a_row_taken_out_is_seen(worked):
    record_seal(at=NIGHT)
    AssemblyAnswer.objects.order_by("pk").last().delete()
    (told,) = seals_hold()
    assert "rows, where" in told


def test_what_the_program_itself_changes_later_breaks_no_seal(worked):
    record_seal(at=NIGHT)
    record = PullRecord.objects.get()
    PullRecord.withdraw(record.pk, by="crew", at=NIGHT, reason="Another order's log")
    assert list(seals_hold()) == []
    record_seal(at=NIGHT + 2 * SETTLED)
    assert list(seals_hold()) == []
    assert altered(PullRecord, withdrawn_reason="For no reason")
    assert altered(PullRecord, withdrawn_at=None)


@pytest.mark.parametrize("values", [{"withdrawn_by": "x"}, {"withdrawn_at": NIGHT}])
def test_half_a_withdrawal_is_seen(worked, values):
    PullRecord.objects.update(**values)
    (told,) = later_columns_are_whole()
    assert told.startswith("Pull record")


def test_two_who_seal_at_once_make_one_chain(worked, monkeypatch):
    """The other seals after this one has read, and before it writes."""
    read, others = sealing._seals, []

    def read_while_another_seals(head, at):
        found = list(read(head, at))
        if not others:
            others.append(True)
            others.append(record_seal(at=at))
        return found

    monkeypatch.setattr(sealing, "_seals", read_while_another_seals)
    head = record_seal(at=NIGHT)
    assert list(seals_hold()) == []
    assert head == others[1] == Seal.objects.latest("id").head


def test_a_table_that_somebody_writes_to_is_sealed_the_next_time(worked, monkeypatch):
    with monkeypatch.context() as busy:
        busy.setattr(bulk, "settled_id", lambda table: None)
        record_seal(at=NIGHT)
    assert set(Seal.objects.values_list("last_moment", flat=True)).isdisjoint({None})
    record_seal(at=NIGHT)
    assert Seal.objects.filter(stream="services_inventory.Evidence").exists()
    assert list(seals_hold()) == []


def test_a_review_begun_and_a_file_forgotten_after_the_seal_break_none(worked):
    looked = batch_open(kind="INTAKE", by="clerk", at=LATER)
    record_seal(at=NIGHT)
    review_begin(completion=CompletionRecord.objects.get(), by="reviewer", at=NIGHT)
    batch_forget(batch=looked)
    assert list(seals_hold()) == []
    record_seal(at=NIGHT + 2 * SETTLED)
    assert altered(CompletionRecord, review_begun_by="somebody else")


def test_a_chain_with_a_seal_altered_or_made_anew_is_seen(worked):
    record_seal(at=NIGHT)
    assert "chain of seals is broken" in altered(Seal, digest="0" * 64)[0]
    with transaction.atomic():
        Seal.objects.order_by("id").first().delete()
        assert list(seals_hold())
        transaction.set_rollback(True)


def test_a_file_altered_or_gone_is_named(worked):
    assert list(files_are_as_stored()) == []
    document = Document.objects.order_by("id").first()
    with open(document.file.path, "ab") as file:
        file.write(b"x")
    (told,) = files_are_as_stored()
    assert document.name in told
    assert "was altered" in told


class TestProof:
    """What is handed out: rows, seals, and a script that needs nothing but Python."""

    @pytest.fixture
    def folder(self, worked, tmp_path):
        """Return the folder, and the head it was sealed to."""
        record_seal(at=NIGHT)
        folder = tmp_path / "proof"
        return folder, proof_write(folder)

    @staticmethod
    def said(folder, *more: str) -> tuple[int, str]:
        """Run the script as a stranger would."""
        done = subprocess.run(
            [sys.executable, "-I", folder / "check_seals.py", folder, *more],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        return done.returncode, done.stdout + done.stderr

    def test_it_holds_and_meets_its_head(self, folder):
        code, told = self.said(*folder)
        assert code == 0, told
        assert folder[1] in told

    def test_a_changed_cell_is_seen(self, folder):
        file = folder[0] / "services_inventory.Evidence.csv"
        file.write_text(file.read_text().replace("LEAD", "COPPER", 1))
        code, told = self.said(folder[0])
        assert code == 1
        assert "services_inventory.Evidence" in told

    def test_a_row_added_behind_is_seen(self, folder):
        with (folder[0] / "replacements.PullRecord.csv").open("a") as file:
            file.write("9,9\n")
        assert self.said(folder[0])[0] == 1

    def test_a_head_of_another_record_is_refused(self, folder):
        code, told = self.said(folder[0], "0" * 64)
        assert code == 1
        assert "never met" in told

    def test_no_name_of_a_resident_is_in_it(self, folder):
        text = "".join(path.read_text() for path in folder[0].glob("*.csv"))
        assert "The owner" not in text
        assert Replacement.objects.count() == 0


def test_the_command_seals_and_says_the_head(worked, tmp_path, capsys):
    call_command("seal_record", out=str(tmp_path / "proof"))
    assert len(capsys.readouterr().out.strip()) == 64
    assert (tmp_path / "proof" / "check_seals.py").is_file()
