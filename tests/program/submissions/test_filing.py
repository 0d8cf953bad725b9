"""A whole submission filed in one call."""

import csv
from dataclasses import replace

import pytest

from program.submissions import digest
from program.submissions import filing as filing_code
from program.submissions.filing import AuditDiffers, write_submission
from program.submissions.layouts import load_layout, shipped_layouts
from program.submissions.row_spool import RowSpool
from program.submissions.rows import LineRow

from .factories import bases, facts, lists, town


def whole(rows):
    return lists(*rows, non_lead_bases=bases(rows[0]))


def test_every_file_is_written_audited_and_sealed(tmp_path):
    rows, heard = town(), []
    filing = write_submission(
        tmp_path, facts(*rows), whole(rows), report=lambda *said: heard.append(said)
    )
    assert set(filing.files) == {
        "xlsx", "csv", "lines_json", "geopackage", "dictionary", "layout", "json", "audit",
        "manifest",
    }  # fmt: skip
    assert {path.name for path in tmp_path.iterdir()} == {
        file.path.name for file in filing.files.values()
    }
    assert filing.audit.agrees
    assert filing.files["manifest"].sha256 == filing.digest
    for entry in filing.manifest["files"]:
        assert digest.sha256_of(tmp_path / entry["name"]) == entry["sha256"]
    assert heard[-1] == (300, 300)
    assert heard == sorted(heard)


def test_filed_again_from_the_same_record_every_file_is_the_same(tmp_path):
    rows = town()
    one = write_submission(tmp_path / "a", facts(*rows), whole(rows))
    two = write_submission(tmp_path / "b", facts(*rows), whole(rows))
    assert one.digest == two.digest


def test_the_next_submission_is_chained_to_the_last(tmp_path):
    rows = town()
    one = write_submission(tmp_path / "a", facts(*rows), whole(rows))
    said = facts(*rows, revision=2, previous_digest=one.digest, amended_because="A line was missed")
    two = write_submission(tmp_path / "b", said, whole(rows))
    assert (one.manifest["previous"], two.manifest["previous"]) == (digest.FIRST, one.digest)


def test_a_wrong_total_is_named_and_gets_no_manifest(tmp_path):
    rows = town()
    said = facts(*rows)
    wrong = replace(said, totals=dict(said.totals) | {"A6": 1})
    with pytest.raises(AuditDiffers, match="A6 lead connectors: 1 against 15"):
        write_submission(tmp_path, wrong, whole(rows))
    assert not list(tmp_path.glob("*manifest*"))
    assert "DIFFERS  A6" in next(tmp_path.glob("*audit.txt")).read_text()


@pytest.mark.parametrize("layout", shipped_layouts(), ids=lambda layout: layout.id)
def test_the_layout_is_filed_with_what_it_shaped(tmp_path, layout):
    rows = town()
    filing = write_submission(tmp_path, facts(*rows), whole(rows), layout=layout)
    assert load_layout(filing.files["layout"].path) == layout
    with open(filing.files["csv"].path, encoding="utf-8", newline="") as file:
        head = next(csv.reader(file))
    with open(filing.files["dictionary"].path, encoding="utf-8", newline="") as file:
        *columns, note = csv.DictReader(file)
    assert [row["heading"] for row in columns] == head
    assert "apostrophe" in note["meaning"]


def test_a_long_list_written_by_several_processes_gives_the_same_bytes(tmp_path, monkeypatch):
    rows = town()
    alone = write_submission(tmp_path / "alone", facts(*rows), whole(rows))
    monkeypatch.setattr(filing_code, "FROM_LINES", 1)
    spool = RowSpool(tmp_path / "lines.rows", LineRow).keep(rows[0])
    spooled = replace(whole(rows), lines=lambda: iter(spool), spooled=spool.path)
    shared = write_submission(tmp_path / "shared", facts(*rows), spooled)
    assert shared.digest == alone.digest
