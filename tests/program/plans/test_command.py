"""`manage.py draw_plan`: what it prints, and how it refuses."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from program.models import Plan, Utility

from .towns import BEFORE, two_hoods

pytestmark = pytest.mark.django_db


@pytest.fixture
def settings_file(tmp_path):
    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    path = tmp_path / "settings.toml"
    path.write_text("runs = 200\narea_least = 3\narea_target = 6\narea_most = 12\n")
    return str(path)


def test_json_alone_is_printed_and_adds_up(settings_file):
    out = StringIO()
    call_command(
        "draw_plan", "--json", "--crews", "1", "--budget-per-year", "100000", "--name", "Try",
        "--settings-file", settings_file, stdout=out,
    )  # fmt: skip
    found = json.loads(out.getvalue())
    assert found["status"] == "OPTIMAL" and found["gap"] <= 0.005 and found["name"] == "Try"
    for key in ("areas", "jobs", "cost"):
        assert found[key] == pytest.approx(sum(row[key] for row in found["years"]))
    assert {"year", "areas", "jobs", "cost", "annual_rate", "cumulative_rate"} <= set(
        found["years"][0]
    )
    assert found["areas"] == Plan.objects.get().areas.count()


def test_a_settings_file_may_give_years_seasons_and_dates_of_their_own(settings_file):
    with open(settings_file, "a") as more:
        more.write(
            'crews = 1\nwindows = [{ place = "ALDER ST", kind = "CLOSED", first = 2027-01-01, '
            "last = 2028-12-31 }]\n[crews_by_year]\n1 = 2\n[budget_by_year]\n1 = 150000\n"
        )
    out = StringIO()
    call_command("draw_plan", "--json", "--settings-file", settings_file, stdout=out)
    found = json.loads(out.getvalue())
    assert [row["crews"] for row in found["years"]][:2] == [2, 1]
    assert [row["budget"] for row in found["years"]][:2] == [150_000, None]
    assert found["forecast"]["due_year"] == 10 and "10" in found["forecast"]["finished_by"]
    assert Plan.objects.get().settings["windows"][0]["first"] == "2027-01-01"


def test_words_name_the_year_the_rate_and_the_gap(settings_file):
    out = StringIO()
    call_command("draw_plan", "--settings-file", settings_file, stdout=out)
    said = out.getvalue()
    assert "OPTIMAL, gap" in said and "Required average: 10%." in said
    assert "as few as every year's work needs" in said
    assert "No budget was entered" in said


def test_rules_that_clash_end_with_an_error_and_the_way_out(settings_file):
    out = StringIO()
    with pytest.raises(CommandError, match="No plan keeps all rules"):
        call_command(
            "draw_plan", "--json", "--budget-per-year", "9000", "--settings-file", settings_file,
            stdout=out,
        )  # fmt: skip
    found = json.loads(out.getvalue())
    assert found["status"] == "INFEASIBLE" and found["relaxations"] and not found["years"]


@pytest.mark.parametrize(
    ("text", "words"),
    [("crews = [", "neither TOML nor JSON"), ("speed = 3", "no plan setting 'speed'")],
)
def test_bad_settings_files_are_told(settings_file, tmp_path, text, words):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    with pytest.raises(CommandError, match=words):
        call_command("draw_plan", "--settings-file", str(path))


def test_no_crews_is_told(settings_file):
    with pytest.raises(CommandError, match="add at least one crew"):
        call_command("draw_plan", "--crews", "0", "--settings-file", settings_file)
