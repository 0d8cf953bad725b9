"""The recipes of DEVELOPERS.md, each followed in a copy of the program: one place is enough."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.source_files import APPS, ROOT

LEFT_OUT = shutil.ignore_patterns("static", "locale", "__pycache__", "node_modules")
# The copy's tables are made from its models, as regenerated migrations would make them; so is the
# one of second steps, as a model of ours stands on it.
TABLES_MADE = f"""
import django
from django.conf import settings
settings.MIGRATION_MODULES = dict.fromkeys({(*APPS, "otp_totp")!r})
django.setup()
from django.core.management import call_command
call_command("migrate", run_syncdb=True, verbosity=0)
"""


def followed(folder: Path, recipe: dict, script: str, prepare: str = "") -> str:
    """Put each text into its file of a copy of the program, and run a script in the copy.

    A text goes to the end of the file, or (after what, text) behind what stands there.
    """
    for app in APPS:
        shutil.copytree(ROOT / app, folder / app, ignore=LEFT_OUT)
    for path, told in recipe.items():
        file = folder / path
        written = file.read_text(encoding="utf-8")
        after, text = told if isinstance(told, tuple) else (written, told)
        assert written.count(after) == 1, f"{path} has changed: mend the recipe."
        file.write_text(written.replace(after, after + text), encoding="utf-8")
    own = {"DATA_DIR": str(folder / "data"), "DATABASE_URL": "", "SECRET_KEY": "recipe"}
    own |= {"DJANGO_SETTINGS_MODULE": "program.settings", "PYTHONPATH": str(folder)}
    (folder / "data").mkdir()
    ran = subprocess.run(
        [sys.executable, "-c", prepare + script],
        cwd=folder, env=os.environ | own, capture_output=True, text=True,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


PARCEL = """
[[field]]
key = "parcel"
label = "parcel"
kind = "TEXT"
longest = 30
premise = "parcel"
headings = ["parcel", "parcel number"]
"""
OF_THE_SUBMISSION = "parcel,Parcel,text,12,,premise__parcel,,The assessor's number.\n"
TAKEN_IN = """
from datetime import UTC, date, datetime
from django.db.models import Q
from program.queries.submission_lines import known_on, line_rows
from services_inventory.models import HeldRow, PremiseChange, ServiceLine
from services_inventory.operations.batches import batch_open, batch_run
from services_inventory.policy import rules_in_force
from services_inventory.queries.downloads import csv_rows, lines_to_download

def take_in(name, day, *rows):
    with open(name, "w") as file:
        file.write("\\n".join(["location id,address,parcel number,system side material", *rows]))
    at = datetime(2028, 3, day, 15, tzinfo=UTC)
    given = {"step": "APPLY", "recorded_at": at.isoformat()}
    batch = batch_open(kind="INTAKE", by="crew", at=at, file=name, parameters=given)
    batch_run(batch=batch)
    print(batch.counts or batch.message)

take_in("first.csv", 1, "L1,1 Ropewalk St,P-7,lead", f"L2,2 Ropewalk St,{'9' * 31},lead")
print("held:", HeldRow.objects.get().reason)
take_in("same.csv", 2, "L1,1 Ropewalk St,P-7,lead")
take_in("other.csv", 3, "L1,1 Ropewalk St,P-8,lead")
change = PremiseChange.objects.get()
print("corrected:", change.before, change.after, ServiceLine.objects.get().premise.parcel)
print("downloaded:", *csv_rows(lines_to_download(Q())))
now = datetime(2029, 1, 1, tzinfo=UTC)
known = known_on(date(2028, 12, 31), now, rules_in_force(), False, None)
print("submitted:", *(row.parcel for row in line_rows(known)))
"""


def test_an_intake_column_and_one_of_the_submission_are_a_row_each(tmp_path):
    recipe = {
        "services_inventory/domain/columns.toml": PARCEL,
        "program/submissions/line_columns.csv": OF_THE_SUBMISSION,
    }
    said = followed(tmp_path, recipe, TAKEN_IN, TABLES_MADE)
    assert "{'new': 1, 'changed': 0, 'unchanged': 0, 'held': 1, 'total': 2}" in said
    assert "held: parcel number: '9999" in said and "at most 30 are taken" in said
    assert "{'new': 0, 'changed': 0, 'unchanged': 1, 'held': 0, 'total': 1}" in said
    assert "corrected: {'parcel': 'P-7'} {'parcel': 'P-8'} P-8" in said
    assert (
        "parcel,latitude" in said and "P-8" in said.split("downloaded:")[1].split("submitted:")[0]
    )
    assert "submitted: P-8" in said


A_BASIS = {
    "services_inventory/domain/evidence/bases.py": (
        '    NOT_STATED = "NOT_STATED"\n',
        '    ELECTROMAGNETIC_PROBE = "ELECTROMAGNETIC_PROBE"\n',
    ),
    "services_inventory/reference/bases.toml": """
[ELECTROMAGNETIC_PROBE]
label = "electromagnetic probe"
strength = 2
inspection = true
exterior = false
record = false
supports_non_lead = "IF_APPROVED"
note = "A probe passed through the pipe."
""",
    "services_inventory/reference/basis_words.csv": (
        'electromagnetic probe,ELECTROMAGNETIC_PROBE,,,"common practice, no source"\n'
    ),
}
BASIS_READ = """
from services_inventory.domain.evidence import Basis, read_basis
found = read_basis("Electromagnetic probe")
assert found.code, found.reason
print(Basis(found.code).label, Basis(found.code).traits.strength)
"""


def test_a_basis_of_evidence_is_a_code_what_it_shows_and_its_words(tmp_path):
    assert followed(tmp_path, A_BASIS, BASIS_READ) == "electromagnetic probe 2\n"


@pytest.mark.parametrize("left_out", A_BASIS)
def test_a_basis_with_a_place_left_out_is_told(tmp_path, left_out):
    recipe = {path: told for path, told in A_BASIS.items() if path != left_out}
    with pytest.raises(AssertionError, match="ELECTROMAGNETIC_PROBE|known words"):
        followed(tmp_path, recipe, BASIS_READ)


def test_a_unit_of_pull_logs_is_a_row(tmp_path):
    row = """
    Unit("TORR", "torr", "pressure", Fraction(101_325, 760), ("torr",)),"""
    script = """
from replacements.domain.units import convert, unit_named
print(unit_named("Torr"), f"{convert(760, 'torr', 'psi'):.3f}")
"""
    recipe = {"replacements/domain/units.py": ("\nUNITS = (", row)}
    assert followed(tmp_path, recipe, script) == "torr 14.696\n"
