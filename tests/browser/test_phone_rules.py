"""The phone judges a start and a checklist as the program does: both over the same 500 cases."""

import base64
import random
import re
from datetime import date, timedelta
from pathlib import Path

import pytest

from replacements.domain.lengths import LengthError, length
from replacements.domain.safety import site_findings
from replacements.domain.tool_strings import Answer, assembly_checks, judge_rows
from replacements.forms.safety import CUTS, PITS, TRAFFIC, StartForm
from replacements.phone.card import rules_described
from replacements.phone.described import _check
from tests.browser.phone import MARKS

DAY = date(2028, 5, 15)
CASES = 500
TICKS = (
    "marks_visible line_isolated electrical_ground_checked barriers_at_both_pits hygiene_set_up "
    "spotter_with_radio emergency_stop_tried relief_set bore_proved scrap_contained"
).split()

pytestmark = [mark for mark in MARKS if mark.name != "django_db"]


@pytest.fixture(scope="module")
def on_the_phone(chromium):
    """Return what calls a function of the phone's rules in a real browser."""
    from django.contrib.staticfiles import finders

    address = _alone(finders.find("replacements/phone/rules.js"))
    page = chromium.new_page()
    sizes = _alone(finders.find("replacements/phone/sizes.js"))
    return lambda body, given: page.evaluate(
        f"async (given) => {{ const rules = await import('{address}');"
        f" const sizes = await import('{sizes}'); {body} }}",
        given,
    )


def _alone(path) -> str:
    """Return the address of a module that needs no other: what it imports is left empty."""
    text = Path(path).read_text("utf-8")
    text = re.sub(r'import {.*} from "./words.js";', "const chosen = {}, asRead = Number;", text)
    return f"data:text/javascript;base64,{base64.b64encode(text.encode()).decode()}"


GOOD = {
    **dict.fromkeys(TICKS, "on"), "on": DAY.isoformat(), "ticket_number": "T-1", "traffic": "yes",
    "ticket_from": "2028-05-01", "ticket_to": "2028-05-30", "free_cable_ft": "10",
    "exclusion_zone_ft": "15", "gauge_calibrated_on": "2028-01-01", "cutting_method": "wet shear",
    **{f"{key}_{name}": value for key, _ in PITS for name, value in (
        ("depth_ft", "5.5"), ("protection", "shored"), ("egress_ft", "25"), ("spoil_ft", "2"),
        ("inspected_on", DAY.isoformat()), ("inspected_by", "Rowan Fell"), ("cave_in", ""),
        ("rain", ""),
    )},
}  # fmt: skip


def fields_of(chance: random.Random) -> dict[str, str]:
    """Return answers of a start, most of them as they must be, some missing or wrong."""

    def day() -> str:
        near = DAY + timedelta(days=chance.choice((-400, -366, -365, -3, -1, 0, 0, 0, 1, 2, 3, 30)))
        return chance.choice((near.isoformat(), near.isoformat(), ""))

    def number(*values) -> str:
        return str(chance.choice((*values, "", 0.5, 1234.5678)))

    def tick() -> str:
        return chance.choice(("on", "on", "on", ""))

    fields = {"on": DAY.isoformat(), **{name: tick() for name in TICKS}}
    for key, _ in PITS:
        fields |= {
            f"{key}_depth_ft": number(3.9, 4, 5, 6, 20, 20.5, 120),
            f"{key}_protection": chance.choice(("trench box", "", "  ")),
            f"{key}_egress_ft": number(10, 25, 25.1),
            f"{key}_spoil_ft": number(2, 1.9, 3),
            f"{key}_inspected_on": day(),
            f"{key}_inspected_by": chance.choice(("Rowan Fell", "", " ")),
            f"{key}_cave_in": chance.choice(("", "", "on")),
            f"{key}_rain": chance.choice(("", "", "on")),
        }
    return fields | {
        "ticket_number": chance.choice(("T-1", "28-0415", "", " ")),
        "ticket_from": day(),
        "ticket_to": day(),
        "free_cable_ft": number(10, 20, 0),
        "exclusion_zone_ft": number(15, 14.9, 30),
        "gauge_calibrated_on": day(),
        "cutting_method": chance.choice([code for code, _ in CUTS]),
        "traffic": chance.choice([code for code, _ in TRAFFIC]),
    }


def test_page_and_phone_say_the_same_of_500_starts(on_the_phone):
    chance = random.Random(20)
    cases = [(fields_of(chance), chance.random() < 0.8) for _ in range(CASES)]
    for fields, _ in cases[::2]:  # every second as it must be, but for up to two answers
        kept = {name: fields[name] for name in chance.sample(sorted(fields), chance.randint(0, 2))}
        fields |= GOOD | kept
    found = on_the_phone(
        "return given.cases.map(([fields, pulled]) => rules.judgeStart(given.rules,"
        " rules.factsOf(fields, given.rules.pits, pulled), given.day));",
        {"rules": rules_described(), "cases": cases, "day": DAY.isoformat()},
    )
    wanted = []
    for fields, pulled in cases:
        form = StartForm(fields, pulls=pulled)
        assert form.is_valid(), form.errors
        wanted.append([(f.level.value, f.rule, f.message, f.do)
                       for f in site_findings(form.facts(), DAY)])  # fmt: skip
    told = [[(f["level"], f["rule"], f["message"], f["do"]) for f in case] for case in found]
    assert told == wanted
    assert {rule for case in wanted for _, rule, _, _ in case} >= {
        gate["rule"] for gate in rules_described()["gates"]
    } - {"EXCAVATION_DESIGN", "EXCAVATION_AIR"}
    assert any(not case for case in wanted) and any(len(case) == 1 for case in wanted)


def test_page_and_phone_say_the_same_of_500_answers_to_the_checklist(on_the_phone):
    chance = random.Random(21)
    cases = []
    for _ in range(CASES):
        check = chance.choice(assembly_checks())
        measured = chance.choice((None, 0, 0.0625, 0.125, 0.25, 0.26, 1, 2, 3, 70, -1))
        passed = chance.choice((None, True, True, False)) if check.answer == "YES" else (
            chance.choice((None, None, None, False))
        )  # fmt: skip
        cases.append((check, passed, measured, chance.choice((None, 3, 4))))
    found = on_the_phone(
        "return given.map(([check, answer, faces]) => rules.judgeRow(check, answer, faces));",
        [[_check(c), {"passed": p, "measured": m}, faces] for c, p, m, faces in cases],
    )
    for (check, passed, measured, faces), told in zip(cases, found, strict=True):
        answer = Answer(check.check, passed, measured, "crew")
        row = next(r for r in judge_rows([answer], jaw_faces=faces) if r.check is check or
                   r.check.check == check.check)  # fmt: skip
        if row.finding is None:
            assert told is None, (check.check, passed, measured, told)
            continue
        said = f"{check.shows}: {told['what']} ({check.label}). Why it matters: {check.why}."
        assert (told["level"], said) == (row.finding.level.value, row.finding.message)


def sizes_typed(chance: random.Random) -> str:
    """Return a length as somebody types it, right or wrong."""
    number = chance.choice((
        "3/8", "1 1/4", "1-1/4", "½", "1½", "0.375", ".5", "5.5", "12", "27 1/2", "0", "3/0", "5/4",
        "1 5/4", "1/2/3", "1,6", "-5", "", "1e3", "12.5.3", "1 / 4", "007", "7 7",
    ))  # fmt: skip
    unit = chance.choice((
        "", "", "", " in", " in.", '"', "″", " ft", "'", "ft", " mm", "mm", " cm", " m", " yd",
        " inches", " feet", "-in", " furlong", " lb", " m.",
    ))  # fmt: skip
    more = chance.choice(("", "", "", "", " 3 in", " 3", ' 1/2"', " 2 ft", " 2 ft 3 in"))
    return chance.choice(("", "", " ")) + number + unit + more


def read_here(text: str, want: str):
    try:
        return length(text, want)
    except LengthError:
        return None


def test_page_and_phone_read_500_sizes_alike(on_the_phone):
    chance = random.Random(22)
    cases = [(sizes_typed(chance), chance.choice((("in.", "IN"), ("ft", "FT"))))
             for _ in range(CASES)]  # fmt: skip
    told = on_the_phone(
        "return given.map(([text, [unit]]) => sizes.read(text, unit, false));",
        [[text, list(unit)] for text, unit in cases],
    )
    wanted = [read_here(text, unit) for text, (_, unit) in cases]
    for case, here, there in zip(cases, wanted, told, strict=True):
        assert there == (None if here is None else pytest.approx(here, abs=1e-9)), case
    assert 100 < sum(each is not None for each in wanted) < 400


def test_a_crew_that_measures_in_meters_types_them_without_a_unit(on_the_phone):
    cases = [("1.7", "ft"), ("25.4", "in."), ("4", "psi"), ("5 ft", "ft"), ("1 in", "in."),
             ("60 psi", "psi"), ("3/8", "in."), ("400 kPa", "psi"), ("5 m", "psi")]  # fmt: skip
    told = on_the_phone("return given.map(([text, unit]) => sizes.read(text, unit, true));", cases)
    assert told == [5.5774, 1.0, 58.0151, 5.0, 1.0, 60.0, 0.0148, 58.0151, None]
