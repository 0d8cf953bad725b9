"""Back-ups and archives: what is written can be put back, by the scripts as they stand."""

import csv
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import boto3
import pytest
from django.apps import apps
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, transaction
from django.urls import reverse
from moto.server import ThreadedMotoServer

from program.models import Proof
from program.operations.archiving import archive_restore, archive_write, archived
from program.operations.row_digests import row_digests_take
from program.queries.personal import personal_columns, secret_columns
from program.queries.row_digests import rows_are_as_written
from program.queries.seals import fields_of, last_proofs, seals_hold
from program.roles import ADMINISTRATOR, PROGRAM_MANAGER
from program.second_step import recovery_codes_write
from services_inventory import bulk
from services_inventory.domain.reference import toml_of
from services_inventory.models import Document
from services_inventory.refused import Refused
from tests.program.operations.test_row_digests import another_hand
from tests.replacements.factories import LATER, handed_in, order, pull, started
from tests.replacements.views.test_pages import signed_in
from tests.source_files import ROOT

DEPLOY = ROOT / "docs" / "deploy"


@pytest.mark.one_engine
class TestScripts:
    """The scripts of a machine, on SQLite, in a folder of the test."""

    @pytest.fixture(scope="class")
    def machine(self, tmp_path_factory, migrated):
        """Return the settings of an installation with keys and a place elsewhere."""
        if not shutil.which("age") or not shutil.which("rsync"):
            pytest.skip("age and rsync are not on this machine")
        base = tmp_path_factory.mktemp("machine")
        for name in ("data", "keys", "away"):
            (base / name).mkdir()
        keys = base / "keys"
        for command in (
            "age-keygen -o identity && age-keygen -y identity >recipients",
            "openssl genpkey -algorithm ed25519 -out signing.pem",
            "openssl pkey -in signing.pem -pubout -out signing.pub",
        ):
            subprocess.run(command, shell=True, cwd=keys, check=True, capture_output=True)
        (base / "settings").write_text(
            f'DATA_DIR="{base}/data"\nDATABASE_URL="sqlite:///{base}/data/program.sqlite3"\n'
            f'SECRET_KEY="only for tests"\nBACKUP_DIR="{base}/back-ups"\nBACKUP_KEYS="{keys}"\n'
            f'BACKUP_AWAY="rsync --archive {base}/back-ups/ {base}/away/"\n'
        )
        venv = base / "venv" / "bin"
        venv.mkdir(parents=True)
        (venv / "python").write_text(f'#!/bin/sh\nexec "{sys.executable}" "$@"\n')
        (venv / "python").chmod(0o755)
        shutil.copy(migrated, base / "data")
        run = subprocess.run(
            ["bash", "-c", f". {base}/settings; set -a; . {base}/settings; "
             f"{sys.executable} manage.py invite j.osei"],
            cwd=ROOT, capture_output=True, text=True, env=self.bare(),
        )  # fmt: skip
        assert run.returncode == 0, run.stderr
        return base

    @staticmethod
    def bare() -> dict[str, str]:
        """Return this environment without the settings of the tests."""
        ours = ("DATA_DIR", "DATABASE_URL", "SECRET_KEY")
        return {name: value for name, value in os.environ.items() if name not in ours}

    def ran(self, script: str, base: Path, *more: str) -> subprocess.CompletedProcess:
        """Run a script with the settings of the machine."""
        words = [DEPLOY / script, *more, base / "settings", base / "venv"]
        return subprocess.run(words, capture_output=True, text=True, env=self.bare())

    def newest(self, base: Path) -> Path:
        """Back up, and return the folder."""
        done = self.ran("back_up.sh", base)
        assert done.returncode == 0, done.stderr
        return Path(done.stdout.split("Back-up: ")[1].strip())

    @staticmethod
    def proofs(base: Path) -> list:
        """Return what the boards know of proofs."""
        database = sqlite3.connect(base / "data" / "program.sqlite3")
        return database.execute("SELECT held, about FROM program_proof ORDER BY id").fetchall()

    def test_a_back_up_is_encrypted_signed_sent_away_and_proved(self, machine):
        made = self.newest(machine)
        assert b"SQLite format" not in (made / "program.sqlite3.age").read_bytes()
        assert (made / "program.sqlite3.age").read_bytes().startswith(b"age-encryption.org/v1")
        sent = machine / "away" / made.name
        assert {p.name for p in sent.iterdir()} == {p.name for p in made.iterdir()}
        proved = self.ran("prove_back_up.sh", machine)
        assert proved.returncode == 0, proved.stdout + proved.stderr
        assert self.proofs(machine)[-1] == (1, made.name)
        assert not list((machine / "back-ups").glob(".unfinished-*"))

    @pytest.mark.parametrize(
        ("name", "said"),
        [
            ("SHA256SUMS", "was not signed with"),
            ("SHA256SUMS.signature", "was not signed with"),
            ("program.sqlite3.age", "is damaged"),
            ("record_head", "is damaged"),
        ],
    )
    def test_an_altered_back_up_is_refused_and_the_boards_say_so(self, machine, name, said):
        made = self.newest(machine)
        content = (made / name).read_bytes()
        (made / name).write_bytes(content[:-2] + bytes([content[-2] ^ 1]) + content[-1:])
        opened = self.ran("restore.sh", machine, made)
        assert opened.returncode == 1
        assert said in opened.stderr
        assert "nothing was changed" in opened.stderr
        proved = self.ran("prove_back_up.sh", machine)
        assert proved.returncode == 1
        assert self.proofs(machine)[-1] == (0, made.name)
        shutil.rmtree(made)

    def test_back_ups_of_the_same_second_lie_beside_each_other(self, machine):
        """Several, as one takes about half a second here."""
        made = [self.newest(machine) for _ in range(3)]
        assert len({*made}) == 3
        assert not any(list(one.glob(".unfinished*")) for one in made)

    def test_a_record_altered_by_another_hand_is_not_proved(self, machine):
        self.newest(machine)
        database = sqlite3.connect(machine / "data" / "program.sqlite3")
        with database:
            database.execute("UPDATE program_seal SET rows = rows + 1 WHERE id = 1")
        try:
            self.newest(machine)
            proved = self.ran("prove_back_up.sh", machine)
            assert proved.returncode == 1
            assert "chain of seals is broken" in proved.stdout
        finally:
            with database:
                database.execute("UPDATE program_seal SET rows = rows - 1 WHERE id = 1")

    def test_what_was_there_comes_back(self, machine):
        made = self.newest(machine)
        database = sqlite3.connect(machine / "data" / "program.sqlite3")
        with database:
            database.execute("UPDATE auth_user SET last_name = 'Altered'")
        database.close()
        gone = machine / "gone"
        gone.mkdir()
        words = [DEPLOY / "restore.sh", made, machine / "settings", machine / "venv"]
        back = subprocess.run(  # in a folder that cannot be gone back to, as another's home is
            ["bash", "-c", 'rmdir "$PWD"; exec "$@"', "bash", *words],
            cwd=gone, capture_output=True, text=True, env=self.bare(),
        )  # fmt: skip
        assert back.returncode == 0, back.stderr
        database = sqlite3.connect(machine / "data" / "program.sqlite3")
        # Who is invited without a full name goes by the name to sign in with.
        assert database.execute("SELECT last_name FROM auth_user").fetchall() == [("j.osei",)]

    def test_what_lies_in_a_store_is_in_the_back_up_and_comes_back(self, machine):
        running = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
        running.start()
        address = "{}:{}".format(*running.get_host_and_port())
        settings = machine / "settings"
        alone = settings.read_text()
        settings.write_text(f'{alone}FILES_URL="http://key:secret@{address}/a-utility"\n')
        bucket = boto3.resource(
            "s3", endpoint_url=f"http://{address}", region_name="us-east-1",
            aws_access_key_id="key", aws_secret_access_key="secret",
        ).create_bucket(Bucket="a-utility")  # fmt: skip
        try:
            bucket.put_object(Key="files/documents/a.jpg", Body=b"a photo")
            made = self.newest(machine)
            assert (made / "store.tar.gz.age").read_bytes().startswith(b"age-encryption.org/v1")
            proved = self.ran("prove_back_up.sh", machine)
            assert proved.returncode == 0, proved.stdout + proved.stderr
            bucket.put_object(Key="files/documents/a.jpg", Body=b"another")
            back = self.ran("restore.sh", machine, made)
            assert back.returncode == 0, back.stderr
            kept = bucket.Object("files/documents/a.jpg").get()["Body"].read()
            assert kept == b"a photo"
            assert not (machine / "data" / "files" / "documents" / "a.jpg").exists()
        finally:
            settings.write_text(alone)
            running.stop()

    def test_what_is_no_back_up_is_refused_before_anything_is_changed(self, machine):
        before = sorted((machine / "data").iterdir())
        for place in ("away/2028-03-01T083000Z", "data"):
            back = self.ran("restore.sh", machine, machine / place)
            assert back.returncode == 1 and "is no back-up" in back.stderr
        assert sorted((machine / "data").iterdir()) == before

    def test_back_ups_are_kept_by_days_months_and_years(self, machine):
        """The rule as it is set: 30 days, 12 months, 12 years that have one."""
        folder = machine / "back-ups"
        shutil.rmtree(folder, ignore_errors=True)
        old = [f"{year}-{month:02}-{day:02}T0830{n:02}Z"
               for year in range(2008, 2026) for month in range(1, 13) for day in (1, 15, 28)
               for n in (0, 1)]  # fmt: skip
        for name in old:
            (folder / name).mkdir(parents=True)
        made = self.newest(machine)
        kept = sorted(path.name for path in folder.iterdir())
        days = sorted({name[:10] for name in (*old, made.name)})[-30:]
        months = sorted({name[:7] for name in (*old, made.name)})[-12:]
        years = sorted({name[:4] for name in (*old, made.name)})[-12:]
        expected = {
            max(name for name in (*old, made.name) if name.startswith(of))
            for of in (*days, *months, *years)
        }
        assert kept == sorted(expected)
        shutil.rmtree(folder)


@pytest.fixture
def worked(db, settings, tmp_path):
    """An order with its string, pull and record, in a folder of data of its own."""
    settings.DATA_DIR = tmp_path / "data"
    settings.MEDIA_ROOT = settings.DATA_DIR / "files"
    settings.MEDIA_ROOT.mkdir(parents=True)
    work = order()
    started(work)
    handed_in(work, pull=pull(work))
    return work


class TestArchive:
    """The record as CSV and files, and back."""

    def test_an_archive_put_back_is_the_same_record(self, worked, settings, tmp_path):
        somebody = get_user_model().objects.create_user("codes")
        recovery_codes_write(somebody)  # a secret: digests are taken of it, and it stays behind
        row_digests_take(at=LATER)
        head = archive_write(tmp_path / "archive", day=LATER.date(), at=LATER)
        folder = tmp_path / "archive"
        before = {path.name: path.read_bytes() for path in (folder / "tables").iterdir()}
        checked = subprocess.run(
            [sys.executable, "-I", folder / "proof" / "check_seals.py", folder / "proof", head],
            capture_output=True, text=True,
        )  # fmt: skip
        assert checked.returncode == 0, checked.stdout
        with transaction.atomic():
            connection.check_constraints()  # nothing may wait where tables are emptied
            _sql_empty()
            shutil.rmtree(settings.DATA_DIR)
            assert archive_restore(folder) == _rows_of(folder)
            row_digests_take(at=LATER, restored=True)
            assert [*seals_hold(), *rows_are_as_written()] == []
            shutil.rmtree(folder)
            archive_write(folder, day=LATER.date(), at=LATER)
            again = {path.name: path.read_bytes() for path in (folder / "tables").iterdir()}
            late = {"program.RowDigestsTaken.csv", "program.Seal.csv"}
            assert {n for n in before if before[n] != again[n]} <= late
        document = Document.objects.order_by("id").first()
        assert (settings.MEDIA_ROOT / document.file.name).is_file()

    def test_a_damaged_archive_is_refused(self, worked, tmp_path):
        archive_write(tmp_path / "archive", day=LATER.date(), at=LATER)
        file = tmp_path / "archive" / "tables" / "replacements.PullRecord.csv"
        file.write_text(file.read_text() + "9\n")
        with pytest.raises(Refused, match="was altered. Nothing was restored"):
            archive_restore(tmp_path / "archive")

    def test_a_record_that_is_there_is_never_written_over(self, worked, tmp_path):
        archive_write(tmp_path / "archive", day=LATER.date(), at=LATER)
        with pytest.raises(Refused, match="There is a record already"):
            archive_restore(tmp_path / "archive")
        with pytest.raises(CommandError, match="not empty"):
            call_command("archive", out=str(tmp_path / "archive"))

    def test_no_secret_is_in_it(self, worked, tmp_path):
        archive_write(tmp_path / "archive", day=LATER.date(), at=LATER)
        names = {path.name for path in (tmp_path / "archive").rglob("*")}
        assert not names & {f"{label}.csv" for label in secret_columns()}
        assert "secret_key" not in names

    def test_an_archive_among_the_data_does_not_hold_itself(self, worked, settings):
        folder = settings.DATA_DIR / "archives" / "first"
        archive_write(folder, day=LATER.date(), at=LATER)
        copied = {path.name for path in (folder / "files").rglob("*")}
        assert "archives" in copied
        assert "first" not in copied

    def test_every_column_is_in_words_for_a_stranger(self, worked, tmp_path):
        archive_write(tmp_path / "archive", day=LATER.date(), at=LATER)
        said = (tmp_path / "archive" / "dictionary.csv").read_text().splitlines()
        assert len(said) - 1 == sum(len(stream.columns) for stream in archived().values())
        readme = (tmp_path / "archive" / "README.txt").read_text()
        assert not [word for word in ("{rows}", "{head}", "{day}") if word in readme]


def _rows_of(folder: Path) -> int:
    number = 0
    for path in (folder / "tables").glob("*.csv"):
        if path.name != "accounts.csv":
            with path.open(newline="") as file:
                number += sum(1 for _ in csv.reader(file)) - 1
    return number


def _sql_empty() -> None:
    tables = [one.table._meta.db_table for one in archived().values()]
    tables += ["program_rowdigests", "program_writtenrow", "program_recoverycode"]
    tables += ["auth_user_groups", "auth_user"]
    if bulk.on_postgresql():
        bulk.execute(f"TRUNCATE {', '.join(tables)} CASCADE")
        return
    with another_hand():
        for name in tables:
            bulk.execute(f"DELETE FROM {name}")


class TestBoards:
    """When the record last held, and a back-up was last restored."""

    @pytest.mark.django_db
    def test_the_last_proof_and_when_it_last_held(self):
        assert last_proofs() == []
        Proof.objects.create(what="CHECKED", held=True, at=LATER)
        good = Proof.objects.create(what="RESTORED", held=True, about="one", at=LATER)
        Proof.objects.create(what="RESTORED", held=False, about="two", at=LATER)
        checked, restored = last_proofs()
        assert checked.held
        assert (restored.about, restored.last_held) == ("two", good)

    @pytest.mark.parametrize(("role", "told"), [(ADMINISTRATOR, True), (PROGRAM_MANAGER, False)])
    def test_the_boards_of_those_who_answer_for_it_show_them(self, role, told, db, client):
        client = signed_in(client, "reader", role)
        Proof.objects.create(what="RESTORED", held=False, about="two", at=LATER)
        shown = client.get(reverse("next_things")).content.decode()
        assert ("could not be restored" in shown) is told


def test_every_column_of_text_says_whose_it_is():
    """Who adds one has to say it."""
    others = toml_of("program", "personal_columns.toml")["other"]
    lists = (personal_columns(), secret_columns(), others)
    kinds = {"CharField", "TextField", "JSONField", "EmailField", "BinaryField"}
    for app in ("services_inventory", "replacements", "program"):
        for table in apps.get_app_config(app).get_models(include_auto_created=True):
            label = table._meta.label
            said = [name for columns in lists for name in columns.get(label, ())]
            texts = {
                name
                for name, field in fields_of(table).items()
                if field.get_internal_type() in kinds
                and not field.choices
                and not name.endswith("_by")
            }
            assert len(said) == len(set(said)), f"{label} names a column twice"
            assert texts <= set(said), f"{label}: say whose {texts - set(said)} are"
            assert set(said) <= set(fields_of(table)), f"{label} has no {set(said)}"
