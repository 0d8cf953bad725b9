"""Dated, cited values: reading, asking for a day, overriding, merging, and the shipped rows."""

import re
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from services_inventory.domain.regulation import (
    FOLDER,
    BadRule,
    NoPeriod,
    Rules,
    UnknownRule,
    Value,
    inventory_rules,
    load,
)

ROOT = Path(__file__).resolve().parents[3]


def value(**changes) -> Value:
    row = {
        "id": "LEVEL",
        "citation": "40 CFR 141.80(c)",
        "source": "constructed",
        "mark": "seen",
        "read_on": date(2026, 11, 24),
        "value": 15,
        "unit": "ug/L",
        "summary": "Constructed.",
    }
    return Value(**{**row, **changes})


CHANGE = date(2027, 11, 1)
OLD = value(effective_to=CHANGE)
NEW = value(effective_from=CHANGE, value=10)
STATE = value(
    jurisdiction="STATE",
    effective_from=date(2026, 1, 1),
    effective_to=date(2028, 1, 1),
    value=12,
    author="A. Clerk",
    reason="State code",
)


@pytest.mark.parametrize(("day", "level"), [(-1, 15), (0, 10), (1, 10)])
def test_seam_between_two_periods(day, level):
    assert Rules((NEW, OLD)).value("LEVEL", CHANGE + timedelta(days=day)) == level


@given(st.dates(date(2020, 1, 1), date(2040, 1, 1)))
def test_every_day_has_the_value_of_its_period(day):
    assert Rules((OLD, NEW)).value("LEVEL", day) == (15 if day < CHANGE else 10)


@pytest.mark.parametrize(
    ("day", "level"),
    [
        (date(2025, 12, 31), 15),
        (date(2026, 1, 1), 12),
        (date(2027, 12, 31), 12),
        (date(2028, 1, 1), 10),
    ],
)
def test_state_value_wins_in_its_period_only(day, level):
    rules = Rules((OLD, NEW)).with_overrides([STATE])
    assert rules.value("LEVEL", day) == level
    assert Rules((OLD, NEW)).value("LEVEL", date(2027, 1, 1)) == 15


def test_utility_wins_over_state():
    utility = replace(STATE, jurisdiction="UTILITY", value=5)
    rules = Rules((OLD, NEW)).with_overrides([STATE, utility])
    assert rules.get("LEVEL", date(2027, 1, 1)).jurisdiction == "UTILITY"


@pytest.mark.parametrize(
    ("override", "words"),
    [
        (replace(STATE, author=" "), "needs an author and a reason"),
        (replace(STATE, reason=""), "needs an author and a reason"),
        (replace(STATE, jurisdiction="FEDERAL"), "must belong to one of STATE, LOCAL, UTILITY"),
        (replace(STATE, value="twelve"), "not of the same kind"),
        (replace(STATE, value=True), "not of the same kind"),
        (replace(STATE, value=1.5), "not of the same kind"),
    ],
)
def test_bad_override_is_refused(override, words):
    with pytest.raises(BadRule, match=words):
        Rules((OLD, NEW)).with_overrides([override])


def test_two_overrides_of_one_state_may_not_overlap():
    later = replace(STATE, effective_from=date(2027, 12, 31), effective_to=None, value=11)
    with pytest.raises(BadRule, match="two values hold at once"):
        Rules((OLD, NEW)).with_overrides([STATE, later])
    following = replace(later, effective_from=date(2028, 1, 1))
    assert Rules((OLD, NEW)).with_overrides([STATE, following]).check() == []


def test_override_of_an_unknown_id_names_near_ones():
    with pytest.raises(UnknownRule, match="Did you mean LEVEL"):
        Rules((OLD, NEW)).with_overrides([replace(STATE, id="LEVELS")])


def test_no_period_names_the_day():
    with pytest.raises(NoPeriod, match="Jan 1, 2020"):
        Rules((NEW,)).get("LEVEL", date(2020, 1, 1))
    with pytest.raises(NoPeriod, match="has an end"):
        Rules((OLD,)).latest("LEVEL")


def test_check_finds_overlap_gap_and_bad_marks():
    overlap = Rules((replace(OLD, effective_to=CHANGE + timedelta(days=1)), NEW)).check()
    gap = Rules((replace(OLD, effective_to=CHANGE - timedelta(days=1)), NEW)).check()
    assert [("hold at once" in text) for text in overlap] == [True]
    assert gap == ["LEVEL: no value from Oct 31, 2027 until before Nov 1, 2027."]
    assert "mark 'heard'" in Rules((value(mark="heard"),)).check()[0]
    assert "how sure" in Rules((value(mark="memory"),)).check()[0]
    assert "citation is empty" in Rules((value(citation=" "),)).check()[0]
    assert "ends before it begins" in Rules((replace(NEW, effective_to=CHANGE),)).check()[0]


def test_merge_keeps_equal_rows_once_and_refuses_different_ones():
    same = Rules((OLD, NEW)) | Rules((replace(NEW, source="another reader"),))
    assert same.values == (OLD, NEW)
    with pytest.raises(BadRule, match="LEVEL: two values hold at once"):
        Rules((OLD, NEW)) | Rules((replace(NEW, value=9),))


ROW = """
[[value]]
id = "SHARE"
citation = "constructed"
source = "constructed"
mark = "seen"
read_on = 2026-11-24
value = "1/5"
unit = "fraction"
summary = "Constructed."
"""


def written(folder: Path, text: str) -> Path:
    (folder / "rules.toml").write_text(text)
    return folder


def test_fractions_lists_and_no_value_are_read_exactly(tmp_path):
    more = ROW.replace('"1/5"', '"NONE"').replace("SHARE", "NOTHING")
    more += ROW.replace('"1/5"', "[[1, 2], [3, 4]]").replace("SHARE", "TABLE")
    rules = load(written(tmp_path, ROW + more))
    assert rules.latest("SHARE").value == Fraction(1, 5)
    assert rules.latest("NOTHING").value is None
    assert rules.latest("TABLE").value == ((1, 2), (3, 4))
    assert hash(rules) and rules.ids() == ("NOTHING", "SHARE", "TABLE")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (ROW.replace('citation = "constructed"\n', ""), "rules.toml, SHARE: lacks citation"),
        (ROW + "color = 1\n", "rules.toml, SHARE: has unknown keys color"),
        (ROW.replace('"1/5"', "0.2"), "not exact"),
        (ROW.replace('"1/5"', '"a fifth"'), "not a fraction"),
        (ROW.replace('"1/5"', "{a = 1}"), "may not be a table"),
        ("a = 1", "something else than"),
        ("[[value", "not readable TOML"),
    ],
)
def test_unreadable_rows_name_file_and_id(tmp_path, text, words):
    with pytest.raises(BadRule, match=re.escape(words)):
        load(written(tmp_path, text))


def test_empty_folder_is_refused(tmp_path):
    with pytest.raises(BadRule, match="no rule file"):
        load(tmp_path)


# The shipped rows


def test_shipped_rows_have_no_fault():
    assert inventory_rules().check() == []
    assert load(FOLDER) is inventory_rules()


def headings() -> dict[str, str]:
    """Every heading of the rule pages that names an id, with the chapter it stands in."""
    chapter, found = "", {}
    for page in sorted((ROOT / "docs" / "rules").glob("*.md")):
        for line in page.read_text(encoding="utf-8").splitlines():
            if line.startswith("## "):
                chapter = line[3:]
            if line.startswith(("## ", "### ")):
                found[line.lstrip("# ").strip(" `")] = chapter
    return found


def test_every_id_has_a_heading():
    assert set(inventory_rules().ids()) - set(headings()) == set()


def test_every_heading_of_this_page_has_an_id():
    page = (ROOT / "docs" / "rules" / "inventory.md").read_text(encoding="utf-8")
    named = {line[4:] for line in page.splitlines() if line.startswith("### ")}
    assert named - set(inventory_rules().ids()) == set()


def python_sources() -> str:
    folders = ("services_inventory", "replacements", "program")
    files = [path for folder in folders for path in (ROOT / folder).rglob("*.py")]
    return "\n".join(path.read_text() for path in files)


def test_every_id_is_used_by_the_code_or_kept_for_reference():
    words, reference = set(re.findall(r"[A-Z][A-Z0-9_]+", python_sources())), "For reference"
    unused = set(inventory_rules().ids()) - words
    kept = {rule_id for rule_id, chapter in headings().items() if chapter == reference}
    assert unused <= kept


def test_no_date_or_legal_number_of_the_rows_stands_in_the_domain():
    domain = ROOT / "services_inventory" / "domain"
    names = ("evidence", "classification")
    files = [domain / "validation.py", *(f for n in names for f in (domain / n).glob("*.py"))]
    code = "\n".join(re.sub(r'""".*?"""', "", file.read_text(), flags=re.S) for file in files)
    dates = re.findall(r"date\(\s*\d{4}", code)
    numbers = set(re.findall(r"\b\d{3,}\b", code)) - {"141", "1800", "256", "1934"}
    assert (dates, numbers) == ([], set())
