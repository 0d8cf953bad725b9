"""The record of a day as a frame: the lines of the download, with points (constructed)."""

import csv
import io
from datetime import date

import geopandas
import pytest
import time_machine
from django.core.management import CommandError, call_command

from services_inventory.frames import record_frame
from services_inventory.models import ServiceLine
from services_inventory.models.lines import CATEGORIES
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.downloads_of_day import csv_of_day
from tests.services_inventory.queries.town import small_town

pytestmark = pytest.mark.django_db
DAY = date(2028, 12, 31)


@pytest.fixture
def town():
    """Return a town in which one line has no position."""
    lines = small_town()
    lines[3].premise.latitude = lines[3].premise.longitude = None
    lines[3].premise.save()
    return lines


def test_the_frame_holds_the_lines_of_the_day_at_their_points(town):
    frame = record_frame(DAY)
    words, counted = dict(CATEGORIES), category_counts_on(DAY)
    assert frame["category"].value_counts().to_dict() == {
        words[code]: number for code, number in counted.items() if code in words and number
    }
    told = csv.DictReader(io.StringIO("".join(csv_of_day(DAY)).removeprefix("\ufeff")))
    assert list(frame["location id"]) == [row["location id"] for row in told]
    assert frame.crs.to_epsg() == 4326
    assert list(frame.index[frame.geometry.isna()]) == [town[3].pk]
    premise = ServiceLine.objects.get(pk=town[0].pk).premise
    point = frame.geometry[town[0].pk]
    assert (point.y, point.x) == (premise.latitude, premise.longitude)


def test_a_day_before_the_first_line_has_an_empty_frame(town):
    frame = record_frame(date(1999, 1, 1))
    assert len(frame) == 0
    assert "category since" in frame.columns


@time_machine.travel("2029-01-05 12:00Z", tick=False)
def test_the_command_writes_what_geopandas_reads(town, tmp_path, capsys):
    out = tmp_path / "lines.parquet"
    call_command("export_frame", "2028-06-30", out=str(out))
    read = geopandas.read_parquet(out)
    assert len(read) == len(town)
    assert read.crs.to_epsg() == 4326
    assert read["category since"].dtype.kind == "M"
    assert f"{len(town)} lines of Jun 30, 2028" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("day", "out", "says"),
    [
        ("2028-13-01", "x.parquet", "is no day"),
        ("2020-06-30", "none/x.parquet", "can't be written"),
    ],
)
def test_the_command_says_what_is_wrong(day, out, says, tmp_path):
    with pytest.raises(CommandError, match=says):
        call_command("export_frame", day, out=str(tmp_path / out))
