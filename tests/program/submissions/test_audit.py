"""The recount: it agrees with what was counted plainly, and it notices what was altered."""

from datetime import date
from fractions import Fraction
from tempfile import TemporaryDirectory

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from program.submissions import audit, flat_files, geopackage
from program.submissions.facts import ReplacementReport
from program.submissions.layouts import shipped_layouts
from program.submissions.sheet_stream import UnreadableSheet
from program.submissions.tables import CODES
from program.submissions.workbook import write_workbook

from .factories import YEAR, bases, change, facts, line, lists, partial, refusal, replacement, town


def filed(folder, rows, **given):
    given = {"layout": shipped_layouts()[0]} | given
    return write_workbook(folder / "out.xlsx", facts(*rows), lists(*rows), **given).path


class TestAgreement:
    def test_a_whole_submission_agrees_in_every_file(self, tmp_path):
        rows = town()
        said = facts(*rows)
        flat_files.write_csv(tmp_path / "a.csv", said, rows[0])
        flat_files.write_lines_json(tmp_path / "a.jsonl", said, rows[0])
        rest = bases(rows[0])
        flat_files.write_json(tmp_path / "a.json", said, lists(*rows, non_lead_bases=rest))
        geopackage.write_geopackage(tmp_path / "a.gpkg", said, rows[0])
        report = audit.audit_submission(
            filed(tmp_path, rows),
            csv_file=tmp_path / "a.csv",
            lines_json=tmp_path / "a.jsonl",
            json_file=tmp_path / "a.json",
            geopackage=tmp_path / "a.gpkg",
        )
        assert report.differences == ()
        names = " ".join(check.name for check in report.checks)
        for wanted in ("A1", "A11", "B7", "B8", "B10", "B11", "B13", "B14", "CSV", "GeoPackage"):
            assert wanted in names

    def test_the_exact_cumulative_rate_is_recounted_from_the_rows(self, tmp_path):
        # Annual rates as exact fractions of the pools 1000, 950, 900; constructed.
        rows = town()
        report = audit.audit_workbook(filed(tmp_path, rows))
        check = next(c for c in report.checks if c.name.startswith("B11"))
        done = [sum(r.program_year == y and r.counted == "YES" for r in rows[1]) for y in (1, 2, 3)]
        assert done == [6, 7, 6]
        assert check.recounted == (Fraction(6, 1000) + Fraction(7, 950) + Fraction(6, 900)) / 3

    @pytest.mark.parametrize("layout", shipped_layouts(), ids=lambda layout: layout.id)
    def test_agrees_under_every_shipped_layout(self, tmp_path, layout):
        rows = town()
        flat_files.write_csv(tmp_path / "a.csv", facts(*rows), rows[0], layout=layout)
        report = audit.audit_submission(
            filed(tmp_path, rows, layout=layout), csv_file=tmp_path / "a.csv", layout=layout
        )
        assert report.agrees

    def test_a_list_over_several_sheets_is_counted_whole(self, tmp_path):
        assert audit.audit_workbook(filed(tmp_path, town(), rows_per_sheet=7)).agrees

    def test_streaming_and_loading_a_sheet_give_the_same_report(self, tmp_path, monkeypatch):
        path = filed(tmp_path, town())
        loaded = audit.audit_workbook(path)
        monkeypatch.setattr(audit, "IN_MEMORY_MAX", 0)
        assert audit.audit_workbook(path) == loaded

    def test_the_report_names_the_file_its_hash_and_each_check(self, tmp_path):
        report = audit.audit_workbook(filed(tmp_path, town()))
        written = audit.write_audit(tmp_path / "audit.txt", report)
        text = written.path.read_text()
        assert report.sha256 in text
        assert "agrees   A1 LEAD lines: said 12, recounted 12\n" in text
        assert f"{len(report.checks)} checks: all agree." in text


class TestDifference:
    """One cell altered in the finished file, in the way a person would alter it."""

    @pytest.mark.parametrize(
        ("sheet", "cell", "value", "differs"),
        [
            ("Service lines", "F2", "NON_LEAD", {"A2", "A4", "B6b"}),
            ("Service lines", "F2", "Lead?", {"A2", "Lines", "B6b"}),
            ("Service lines", "A2", "L00002", {"Location"}),
            ("Service lines", "S2", "LEAD", {"A6"}),
            ("Replacements", "I2", "NO", {"A9", "B11", "Replaced"}),
            ("Partial replacements", "D2", "GRR", {"A10", "A11"}),
            ("Changes", "D2", "GRR", {"B7"}),
            ("Summary", "C17", 11, {"A4", "A1"}),  # A4 itself, and A1 + A2 + A3 + A4
        ],
    )
    def test_is_found_and_named(self, tmp_path, sheet, cell, value, differs):
        path = filed(tmp_path, town())
        book = openpyxl.load_workbook(path)
        book[sheet][cell].value = value
        book.save(path)
        report = audit.audit_workbook(path)
        assert not report.agrees
        assert {check.name.split()[0] for check in report.differences} <= differs
        assert "DIFFERS" in report.text()

    def test_a_line_missing_from_the_csv_is_found(self, tmp_path):
        rows = town()
        flat_files.write_csv(tmp_path / "a.csv", facts(*rows), rows[0][:-1])
        report = audit.audit_submission(filed(tmp_path, rows), csv_file=tmp_path / "a.csv")
        assert [check.name for check in report.differences] == ["CSV, LEAD lines"]

    def test_a_missing_sheet_is_a_sentence(self, tmp_path):
        path = filed(tmp_path, town())
        book = openpyxl.load_workbook(path)
        del book["Replacements"]
        book.save(path)
        with pytest.raises(UnreadableSheet, match="no sheet called 'Replacements'"):
            audit.audit_workbook(path)

    def test_a_file_that_is_no_workbook_is_a_sentence(self, tmp_path):
        (tmp_path / "out.xlsx").write_bytes(b"not a workbook")
        with pytest.raises(UnreadableSheet, match="out.xlsx cannot be opened"):
            audit.audit_workbook(tmp_path / "out.xlsx")

    def test_does_not_lean_on_the_definitions_that_the_summary_is_written_from(self):
        source = open(audit.__file__, encoding="utf-8").read()
        for name in ("TOTALS", "REPORT_COUNTS", "summary_lines", "submissions.facts"):
            assert name not in source


CATEGORY = st.sampled_from(CODES["category"])
FOUND = st.sampled_from(CODES["cause"])
INVENTORY = st.lists(st.tuples(CATEGORY, st.sampled_from(CODES["connector"])), max_size=30)
WORK = st.lists(
    st.tuples(st.sampled_from(("LEAD", "GRR")), st.integers(1, YEAR), st.sampled_from("YN")),
    max_size=15,
)
CHANGES = st.lists(st.tuples(CATEGORY, CATEGORY, FOUND, st.integers(1, YEAR)), max_size=15)
TEXT = st.text(max_size=40)


class TestAnyInventory:
    @settings(max_examples=25, deadline=None)
    @given(INVENTORY, WORK, WORK, CHANGES, st.integers(0, 4), TEXT)
    def test_what_was_counted_plainly_is_what_is_recounted(
        self, lines, work, part, changed, refused, text
    ):
        rows = (
            [
                line(n, category=category, connector=connector, address=text)
                for n, (category, connector) in enumerate(lines)
            ],
            [
                replacement(
                    n, category_before=c, program_year=y, counted="YES" if k == "Y" else "NO"
                )
                for n, (c, y, k) in enumerate(work)
            ],
            [refusal(n, reason=text) for n in range(refused)],
            [partial(n, category_before=c, program_year=y) for n, (c, y, _) in enumerate(part)],
            [
                change(n, from_category=a, to_category=b, cause=cause, program_year=y)
                for n, (a, b, cause, y) in enumerate(changed)
            ],
        )
        with TemporaryDirectory() as folder:
            path = write_workbook(
                f"{folder}/out.xlsx", facts(*rows), lists(*rows), rows_per_sheet=11
            ).path
            assert audit.audit_workbook(path).differences == ()

    def test_a_year_without_a_pool_has_no_rate_and_is_not_counted_as_zero(self, tmp_path):
        rows = town()
        said = facts(*rows)
        years = (said.report.years[0]._replace(pool=None, annual_rate=None, cumulative_rate=None),)
        report = ReplacementReport(
            **{
                **{name: getattr(said.report, name) for name in said.report.__dataclass_fields__},
                "years": years,
                "pool_at_start": None,
                "annual_rate": None,
                "cumulative_rate": None,
                "deadline": date(2037, 12, 31),
            }
        )
        path = write_workbook(tmp_path / "o.xlsx", facts(*rows, report=report), lists(*rows)).path
        checked = audit.audit_workbook(path)
        assert checked.agrees
        assert not [c for c in checked.checks if c.name.startswith(("B10", "B11"))]
