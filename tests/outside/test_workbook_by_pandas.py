"""The finished workbook counted by a stranger: openpyxl opens it, pandas counts, nothing is ours.

The program's own recount reads with another reader, as a million rows take openpyxl minutes.
"""

import openpyxl
import pandas
import pytest

from tests.program.submissions.factories import facts, town
from tests.program.submissions.test_audit import filed


def sheets_of(path) -> dict[str, pandas.DataFrame]:
    return pandas.read_excel(path, sheet_name=None, engine="openpyxl", keep_default_na=False)


def stated(path) -> dict[str, float]:
    """Return the totals that the summary states, by their code."""
    rows = openpyxl.load_workbook(path, read_only=True)["Summary"].iter_rows(values_only=True)
    return {code: value for code, _, value, *_ in rows if code and isinstance(value, int | float)}


def counted(book: dict[str, pandas.DataFrame], year: int) -> dict[str, float]:
    """Count what the sheets hold, as the summary tells a reader to."""
    lines, work = book["Service lines"], book["Replacements"]
    partials, changes = book["Partial replacements"], book["Changes"]
    full = work[work["Counted"] == "YES"]
    by_category, connectors = lines["Category"].value_counts(), lines["Connector"].value_counts()
    found = {
        f"A{number}": by_category[name]
        for number, name in enumerate(("LEAD", "GRR", "UNKNOWN", "NON_LEAD"), start=1)
    }
    found |= {"A5": lines["Location id"].nunique(), "A6": connectors["LEAD"]}
    found |= {"A7": connectors["UNKNOWN"]}
    for code, table, category in (
        ("A8", full, "LEAD"), ("A9", full, "GRR"),
        ("A10", partials, "LEAD"), ("A11", partials, "GRR"),
    ):  # fmt: skip
        own = table[table["Category before"] == category]
        found[code] = (own["Program year"] == year).sum()
        found[f"{code}_TO_DATE"] = len(own)
    for code, table in (("A13", work), ("A15", partials)):
        done = table[table["Connector replaced"] == "YES"]
        found[code], found[f"{code}_TO_DATE"] = (done["Program year"] == year).sum(), len(done)
        if code == "A13":
            done = done[done["Connector before"] == "LEAD"]
            found["A14"] = (done["Program year"] == year).sum()
            found["A14_TO_DATE"] = len(done)
    of_year = changes[(changes["Program year"] == year) & (changes["Cause"] == "FOUND")]
    moves = of_year.groupby(["From", "To"]).size()
    found["B7"] = moves.get(("UNKNOWN", "NON_LEAD"), 0)
    found["B8"] = moves.get(("NON_LEAD", "LEAD"), 0) + moves.get(("NON_LEAD", "GRR"), 0)
    found["B13"] = len(book["No access or consent"])
    found["B14"] = found["A10"] + found["A11"]
    found["A12"] = (lines["Rests on connectors"] == "YES").sum()
    same = {"B4": "A8", "B5": "A9", "B6a": "A1", "B6b": "A2", "B6c": "A3"}
    return found | {code: found[other] for code, other in same.items()}


def test_every_total_of_the_summary_is_what_a_stranger_counts(tmp_path):
    rows = town()
    path = filed(tmp_path, rows)
    said, found = stated(path), counted(sheets_of(path), facts(*rows).program_year)
    assert {code: said[code] for code in found} == found
    # What no list of the workbook holds: facts of the system, the frozen pool, the rates.
    left = {code for code in said if str(code)[:1] in ("A", "B")} - set(found)
    assert left <= {"B1", "B2", "B3", "B9", "B10", "B11", "B12a", "B12b"}


@pytest.mark.parametrize(("sheet", "cell", "code"), [("Changes", "C2", "B7")])
def test_a_cell_altered_is_seen(tmp_path, sheet, cell, code):
    rows = town()
    path = filed(tmp_path, rows)
    book = openpyxl.load_workbook(path)
    book[sheet][cell].value = "LEAD"
    book.save(path)
    assert counted(sheets_of(path), facts(*rows).program_year)[code] != stated(path)[code]
