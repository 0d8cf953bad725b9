"""The sheets as their reader sees them: one page, with the figures that the crew works by."""

from io import BytesIO

import pytest
from pypdf import PdfReader

from replacements.domain.ground import OtherLine, UtilityKind
from replacements.operations.ground import nearby_line_record
from replacements.operations.pulls import estimate_make
from replacements.operations.tools import assembly_answer_many, tool_string_record
from replacements.sheets.job_sheet import job_sheet
from replacements.sheets.start_rows import start_rows
from replacements.sheets.string_sheet import string_sheet
from replacements.sheets.svg_figure import figure_of
from tests.replacements.api.test_estimates import of_method
from tests.replacements.factories import AT, DAY, order, started, string, tools

pytestmark = pytest.mark.django_db


def _full_order():
    work = order(joints=[])
    string(work)
    estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
    return work


def test_both_sheets_are_one_page_with_what_the_crew_needs():
    work = _full_order()
    for sheet, wanted in (
        (job_sheet, (work.number, "12 Mill St", "3/4 in. lead, class AA", "STOP at", "3,840 lb",
                       "exclusion zone", "Local codes")),
        (string_sheet, (work.number, "cable", "flat to old pipe", "rated 8,000 lb",
                          "behind the jaw set", "Local codes")),
    ):  # fmt: skip
        read = PdfReader(BytesIO(sheet(work, DAY)))
        assert len(read.pages) == 1
        text = " ".join(read.pages[0].extract_text().split())
        for words in wanted:
            assert words in text, words


@pytest.mark.parametrize(
    ("method", "said", "unsaid"),
    [
        ("PULL_OUT", "the expander bears all round", "sharp flat end"),
        ("ROD_SPLIT", "every rod joined", "behind the jaw set"),
    ],
)
def test_the_string_sheet_asks_for_what_its_method_has(method, said, unsaid):
    """Rods have no row that is measured: the sheet once broke on the empty table."""
    work = order(method=method, length_ft=20.0)
    string(work, of_method(work.contractor, method))
    read = PdfReader(BytesIO(string_sheet(work, DAY)))
    text = " ".join(read.pages[0].extract_text().split())
    assert len(read.pages) == 1 and said in text and unsaid not in text


def test_the_sheets_of_an_open_cut_do_not_speak_of_loading_a_cable():
    work = order(method="OPEN_CUT")
    job, made = (
        " ".join(PdfReader(BytesIO(sheet(work, DAY))).pages[0].extract_text().split())
        for sheet in (job_sheet, string_sheet)
    )
    assert "Open cut" in job and "needs no tool string" in made
    for words in ("load the cable", "STOP at", "exclusion zone", "puller off", "UNRATED"):
        assert words not in job, words


def test_the_job_sheet_tells_the_lines_near_the_run_and_that_nobody_looked():
    work = _full_order()
    text = " ".join(PdfReader(BytesIO(job_sheet(work, DAY))).pages[0].extract_text().split())
    assert "NOT LOOKED FOR" in text
    line = OtherLine(UtilityKind.GAS, None, at_ft=9.0)
    nearby_line_record(work_order=work, line=line, by="crew", at=AT)
    text = " ".join(PdfReader(BytesIO(job_sheet(work, DAY))).pages[0].extract_text().split())
    assert "gas line crossing at 9 ft, distance NOT KNOWN, NOT exposed" in text
    assert "STOP: The distance to the gas line" in text


def test_a_row_that_failed_looks_failed_on_paper_and_the_cautions_stand_beside_it():
    work = _full_order()
    made = work.tool_strings.get()
    for key, answer in (
        ("BLADE_FACING", {"passed": False}),
        ("CABLE_TAIL", {"measured": 0.5}),
        ("TRACER_WIRE", {"passed": False}),
        ("CLEVIS", {"passed": True}),
    ):
        row = {"check_key": key, **answer}
        assembly_answer_many(tool_string=made, answers=[row], by="crew", at=AT)
    read = PdfReader(BytesIO(string_sheet(work, DAY)))
    text = " ".join(read.pages[0].extract_text().split())
    assert len(read.pages) == 1
    assert "DO NOT PULL: failed on the assembly checklist" in text
    assert text.count("On record: FAILED, Stop: ") == 2
    failed = text.split("DO NOT PULL")[1].split("Parts, from")[0]
    assert (failed.count("STOP: "), failed.count("CAUTION: ")) == (2, 1)
    assert "On record: yes" in text
    assert "controls locked" in text and "Slack the cable" in text


GATES = (
    "shored or sloped from 5 ft", "ladder from 4 ft, within 25 ft", "spoil 2 ft back",
    "by competent person", "One-call ticket", "marks visible", "nobody within 1.5 times",
    "barriers at both pits", "Lead: wet or shear cut", "Traffic plan", "Bore proved",
)  # fmt: skip


def test_every_gate_of_the_safe_start_stands_on_paper_and_what_is_on_record_is_filled_in():
    work = _full_order()
    text = " ".join(PdfReader(BytesIO(job_sheet(work, DAY))).pages[0].extract_text().split())
    assert [gate for gate in GATES if gate not in text] == []
    assert "One-call ticket ________" in text
    started(work)
    text = " ".join(PdfReader(BytesIO(job_sheet(work, DAY))).pages[0].extract_text().split())
    assert "One-call ticket T-1, runs out Apr 19, 2028" in text
    assert "Pit at the main 5 ft deep" in text and "competent person Rowan Fell" in text
    assert "Free cable 10 ft" in text and "15 ft; barriers" in text


def test_an_open_cut_asks_for_no_cable():
    text = " ".join(start_rows("OPEN_CUT", None))
    assert "One-call ticket" in text and "cable" not in text


def test_the_string_sheet_draws_the_string_with_its_numbers():
    work = _full_order()
    text = PdfReader(BytesIO(string_sheet(work, DAY))).pages[0].extract_text()
    assert "is 1 in.: lengths and widths to one scale" in text
    assert "new pipe follows" in text


def test_a_schematic_keeps_its_shapes_on_paper():
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100"><title>x</title>'
        '<rect x="10" y="20" width="30" height="40" fill="#fff" stroke="#000"/>'
        '<path d="M10 20h30m0 -6v12l-6 4" fill="none" stroke="#444" stroke-width="2"/>'
        '<polygon points="0,0 10,0 10,5" fill="#ddd" stroke="#000" stroke-dasharray="6 4"/></svg>'
    )
    drawn = figure_of(svg, 100)
    assert (drawn.width, drawn.height) == (100, 50)
    rect, path, polygon = drawn.contents[0].contents
    assert (rect.x, rect.y, rect.width, rect.height) == (10, 20, 30, 40)
    assert path.points == [10, 20, 40, 20, 40, 14, 40, 26, 34, 30]
    assert polygon.strokeDashArray == [6, 4]
    # What stands high on the screen stands high on the paper: y is turned over.
    assert drawn.contents[0].transform == (0.5, 0, 0, -0.5, 0, 50)


def test_sheets_of_an_order_about_which_little_is_known_say_so():
    work = order(old_nominal_in=None, old_grade=None, length_ft=None, soil=None)
    job = PdfReader(BytesIO(job_sheet(work, DAY)))
    text = " ".join(job.pages[0].extract_text().split())
    assert "MEASURE" in text and "DO NOT START" in text and "do not load the cable" in text
    read = PdfReader(BytesIO(string_sheet(work, DAY)))
    assert "No tool string is recorded" in " ".join(read.pages[0].extract_text().split())


def test_much_text_is_set_smaller_and_still_one_page():
    bends = [{"station_ft": n, "degrees": 10} for n in range(1, 30)]
    joints = [{"station_ft": n, "kind": "WIPED"} for n in range(1, 30)]
    work = order(bends=bends, joints=joints)
    reversed_blade = [(t, "TAPER_TO_OLD_PIPE" if t.kind == "BLADE" else "") for t in
                      tools(work.contractor)]  # fmt: skip
    tool_string_record(work_order=work, parts=reversed_blade, pulled_end="THIN", by="crew", at=AT)
    estimate_make(work_order=work, by="crew", at=AT)
    for sheet in (job_sheet, string_sheet):
        assert len(PdfReader(BytesIO(sheet(work, DAY))).pages) == 1
    text = PdfReader(BytesIO(string_sheet(work, DAY))).pages[0].extract_text()
    assert text.count("STOP") >= 2
