"""`manage.py annual_submission`: what it prints, what it copies, what it refuses."""

import json
from datetime import UTC, date, datetime
from io import StringIO
from pathlib import Path

import openpyxl
import pytest
from django.core.management import CommandError, call_command

from services_inventory.models import Batch
from services_inventory.queries.counts import category_counts_on
from tests.program.operations.factories import lines, standing_town, utility

pytestmark = pytest.mark.django_db


@pytest.fixture
def _town():
    standing_town()


def run(*arguments) -> str:
    out = StringIO()
    call_command("annual_submission", *map(str, arguments), stdout=out)
    return out.getvalue()


@pytest.mark.usefixtures("_town")
def test_json_is_all_it_prints_and_the_files_are_there(tmp_path):
    said = json.loads(run(2030, "--out", tmp_path / "out", "--json"))
    assert set(said) == {"counts", "files"}
    assert said["counts"] == category_counts_on(date(2030, 12, 31))
    assert {"xlsx", "csv", "json"} <= set(said["files"])
    for path in said["files"].values():
        assert Path(path).parent == tmp_path / "out"
        assert Path(path).stat().st_size
    book = openpyxl.load_workbook(said["files"]["xlsx"], read_only=True)
    listed = book["Service lines"].iter_rows(min_row=2, values_only=True)
    assert sum(1 for row in listed if row[0]) == said["counts"]["total"]


@pytest.mark.usefixtures("_town")
def test_a_second_run_takes_the_frozen_one_and_says_so(tmp_path):
    first = json.loads(run(2030, "--out", tmp_path / "a", "--json"))
    lines([("LEAD", "LEAD", "")])
    said = run(2030, "--out", tmp_path / "a")
    assert "revision 1, was frozen on Jan 15, 2031; its files are taken as they are" in said
    again = json.loads(run(2030, "--out", tmp_path / "b", "--json"))
    assert again["counts"] == first["counts"]
    for kind, path in first["files"].items():
        assert Path(path).read_bytes() == Path(again["files"][kind]).read_bytes()


@pytest.mark.usefixtures("_town")
def test_verify_compares_and_fails_on_a_changed_file(tmp_path, settings):
    run(2030, "--out", tmp_path / "a")
    assert "every file is the same to the byte" in run(2030, "--verify")
    path = next((settings.DATA_DIR / "submissions" / "2030-r1").glob("*-lines.csv"))
    path.chmod(0o644)
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    with pytest.raises(CommandError, match="is not the file that was frozen"):
        run(2030, "--verify")
    with pytest.raises(CommandError, match="is not the file that was frozen"):
        run("--verify")  # every revision of every year, as each night
    last = Batch.objects.order_by("-id").first()
    assert last.requested_by == "command line" and last.ended_at and last.result["altered"]


@pytest.mark.usefixtures("_town")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((2031, "--out", "OUT"), "Program year 4 runs to Dec 31, 2031"),
        ((2020, "--out", "OUT"), "holds no line as of Dec 31, 2020"),
        ((2030,), "--out"),
        ((2029, "--verify"), "none to verify"),
    ],
)
def test_what_cannot_be_done_is_said_in_words(tmp_path, arguments, words):
    given = [tmp_path / "x" if a == "OUT" else a for a in arguments]
    with pytest.raises(CommandError, match=words):
        run(*given)


@pytest.mark.usefixtures("_town")
def test_a_folder_that_is_a_file_is_refused_before_anything_is_frozen(tmp_path, settings):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file")
    with pytest.raises(CommandError, match="Nothing can be written to"):
        run(2030, "--out", blocked)
    assert not (settings.DATA_DIR / "submissions" / "2030-r1").exists()


def test_before_the_program_the_running_year_is_stated_as_of_today(tmp_path):
    """The rule's rhythm before its compliance date is the State's: an update is due any time."""
    utility(clock_stands_at=date(2026, 11, 24))
    lines(
        [("LEAD", "COPPER", ""), ("COPPER", "COPPER", "")], at=datetime(2026, 11, 2, 15, tzinfo=UTC)
    )
    said = json.loads(run(2026, "--out", tmp_path / "out", "--json"))
    assert (said["counts"]["LEAD"], said["counts"]["total"]) == (1, 2)
    assert "before-2026" in said["files"]["xlsx"]
    with pytest.raises(CommandError, match="2027 has not begun"):
        run(2027, "--out", tmp_path / "out")


@pytest.mark.usefixtures("_town")
def test_each_night_every_file_is_checked_and_two_submissions_are_built_again_in_turn(
    tmp_path, settings
):
    for year in (2028, 2029, 2030):
        run(year, "--out", tmp_path / "out")
    nights = [run("--verify", "--in-turn") for _ in range(3)]
    assert [said.count("every file is the same to the byte") for said in nights] == [2, 2, 2]
    rebuilt = [
        set(Batch.objects.filter(pk__in=ids, result__rebuilt=True).values_list(
            "parameters__year", flat=True))
        for ids in batches_by_night(3)
    ]  # fmt: skip
    assert rebuilt == [{2028, 2030}, {2029, 2030}, {2028, 2030}]
    first = Batch.objects.filter(parameters__year=2029, kind="SUBMISSION").order_by("id").first()
    assert "this one not yet." in first.result["sentences"][-1]
    last = Batch.objects.filter(parameters__year=2029, kind="SUBMISSION").order_by("id").last()
    assert "this one the last time on Jan 15, 2031." in last.result["sentences"][-1]
    path = next((settings.DATA_DIR / "submissions" / "2029-r1").glob("*-lines.csv"))
    path.chmod(0o644)
    path.write_bytes(b"")
    with pytest.raises(CommandError, match="is not the file that was frozen"):
        run("--verify", "--in-turn")


def batches_by_night(nights: int) -> list[list[int]]:
    ids = list(Batch.objects.filter(kind="SUBMISSION").order_by("id").values_list("id", flat=True))
    return [ids[at : at + len(ids) // nights] for at in range(0, len(ids), len(ids) // nights)]
