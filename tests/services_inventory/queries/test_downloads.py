"""Downloads hold what the filter keeps, and nothing that a spreadsheet runs."""

import csv
import io

import pyogrio
import pytest
from django.db.models import Q

from services_inventory.intake.columns import guess
from services_inventory.models import Premise, ServiceLine
from services_inventory.queries import downloads
from tests.services_inventory.factories import bare_line, line_of
from tests.services_inventory.queries.town import small_town

pytestmark = pytest.mark.django_db
EVERY_LINE = Q()


def read_back(condition=EVERY_LINE) -> list[dict]:
    """Return the rows of the CSV as the csv module reads them."""
    text = "".join(downloads.csv_rows(downloads.lines_to_download(condition)))
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


def test_the_csv_holds_what_the_filter_keeps():
    small_town()
    kept = Q(category="LEAD", use="DOMESTIC")
    expected = dict(ServiceLine.objects.filter(kept).values_list("location_id", "category"))
    rows = read_back(kept)
    assert {row["location id"] for row in rows} == set(expected)
    assert len(rows) == len(expected)
    assert {row["category"] for row in rows} == {"lead"}
    assert all(row["reason"] and row["citation"].startswith("40 CFR") for row in rows)


def test_pieces_join_without_loss(monkeypatch):
    lines = small_town()
    monkeypatch.setattr(downloads, "CHUNK", 5)
    assert [row["location id"] for row in read_back()] == [line.location_id for line in lines]


def test_a_formula_is_sent_as_text():
    line_of("LEAD", "LEAD", address='=HYPERLINK("http://x")', location_id="@SUM(A1)")
    (row,) = read_back()
    assert row["address"] == '\'=HYPERLINK("http://x")'
    assert row["location id"] == "'@SUM(A1)"


def test_a_geopackage_keeps_the_text_as_it_is(tmp_path):
    line_of("LEAD", "LEAD", address="-12 Mill St")
    with downloads.geopackage(downloads.lines_to_download(Q())) as opened:
        (tmp_path / "back.gpkg").write_bytes(opened.read())
    assert list(pyogrio.read_dataframe(tmp_path / "back.gpkg")["address"]) == ["-12 Mill St"]


def test_a_line_that_does_not_count_is_not_sent():
    bare_line()
    assert read_back() == []


def test_a_file_that_breaks_off_says_so(monkeypatch):
    small_town()

    def broken(rows, disarmed):
        yield [["X"] * len(downloads.HEADINGS)]
        raise OSError("the disk went away")

    monkeypatch.setattr(downloads, "worded", broken)
    pieces, sent = downloads.csv_rows(downloads.lines_to_download(Q())), []
    with pytest.raises(OSError, match="disk"):
        for piece in pieces:
            sent.append(piece)
    assert downloads.INCOMPLETE in sent[-1]


def test_the_intake_knows_the_headings_again():
    small_town()
    rows = read_back()
    header = list(rows[0])
    found = {c.heading: c.field for c in guess(header, [list(r.values()) for r in rows]).columns}
    for heading in ("location id", "address", "latitude", "longitude", "system side material",
                    "customer side material", "year installed"):  # fmt: skip
        assert heading in found


@pytest.mark.parametrize("piece", [7, 50_000])
def test_the_geopackage_holds_every_line_in_pieces(piece, monkeypatch, tmp_path):
    monkeypatch.setattr(downloads, "CHUNK", piece)
    lines = small_town()
    Premise.objects.filter(pk=lines[0].premise_id).update(latitude=None)
    with downloads.geopackage(downloads.lines_to_download(Q())) as opened:
        (tmp_path / "back.gpkg").write_bytes(opened.read())
    frame = pyogrio.read_dataframe(tmp_path / "back.gpkg")
    assert sorted(frame["location id"]) == sorted(line.location_id for line in lines)
    assert frame.crs.to_epsg() == 4326
    without = frame[frame.geometry.isna()]
    assert list(without["location id"]) == [lines[0].location_id]
    point = frame[frame["location id"] == lines[1].location_id].geometry.iloc[0]
    assert (point.x, point.y) == (-100.3, 41.5)


def test_an_empty_geopackage_opens(tmp_path):
    with downloads.geopackage(downloads.lines_to_download(Q(pk__in=[]))) as opened:
        (tmp_path / "back.gpkg").write_bytes(opened.read())
    assert len(pyogrio.read_dataframe(tmp_path / "back.gpkg")) == 0
