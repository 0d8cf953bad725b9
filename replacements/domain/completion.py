"""Quality of a finished replacement: tests, disinfection, flushing, lead taken out, photos, papers.

Which checks are mandatory is a utility's own choice (`completion_requirements.csv` with its
overrides). A mandatory check that is missing or fails is a STOP, any other a CAUTION. What the
rule asks for before water returns to the house can't be waived; its values are passed in with
their citation.
"""

import csv
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from typing import Self

from replacements.domain.consent import months_after
from replacements.domain.findings import Finding, Level
from services_inventory.domain.regulation import Rules

FOLDER = Path(__file__).resolve().parent.parent / "reference"
IN3_PER_GALLON = 231
PLASTICS = ("PE", "PEX", "PVC", "CPVC", "PLASTIC")


class BadCompletion(ValueError):
    """A completion fact or a utility's requirement cannot be right; fit to show."""


@dataclass(frozen=True)
class PressureTest:
    """How the new line was tested."""

    pressure_psi: float
    minutes: float
    drop_psi: float
    visible_leak: bool
    medium: str = "WATER"
    settled_minutes: float = 0.0


@dataclass(frozen=True)
class TracerTest:
    """Whether the tracer wire still runs from end to end."""

    both_ends_free: bool
    signal_full_length: bool
    resistance_ohm: float | None = None
    wire_ohm: float = 0.0


@dataclass(frozen=True)
class Disinfection:
    """How the new line was disinfected; method as in `flushing.csv`."""

    method: str
    dose_mg_l: float | None = None
    hours: float | None = None
    residual_mg_l: float | None = None


@dataclass(frozen=True)
class Flush:
    """One flush, by the crew or through the taps of the house."""

    minutes: float
    velocity_ft_s: float | None = None
    aerators_off: bool = False
    bottom_floor_up: bool = False
    cold_only: bool = False


@dataclass(frozen=True)
class LeadRemoved:
    """Lead taken out of the ground, and lead split and left in it."""

    length_ft: float
    weight_lb: float | None = None
    left_in_ground_ft: float = 0.0


@dataclass(frozen=True)
class Household:
    """What the household was given, and when."""

    notice_on: date | None = None
    flushing_instructions_on: date | None = None
    filter_on: date | None = None
    cartridge_months: int = 0
    sample_offered_on: date | None = None
    sample_taken_on: date | None = None


@dataclass(frozen=True)
class CompletionFacts:
    """Everything a finished job is judged by; None where nothing is on record.

    line_length_ft : between main and house
    new_material : PE, PEX, COPPER, ...
    new_inside_in, new_outside_in : of the new pipe
    depths_ft : place to cover, ft
    photos : kinds handed in, such as OLD_PIPE, LEAD_REMOVED, NEW_AT_MAIN, NEW_AT_HOUSE, RESTORED
    """

    completed_on: date
    line_length_ft: float
    new_material: str
    new_inside_in: float
    new_outside_in: float
    static_psi: float | None = None
    pressure_test: PressureTest | None = None
    tracer: TracerTest | None = None
    depths_ft: Mapping[str, float] = field(default_factory=dict)
    leading_outside_in: float | None = None
    cut_off_ft: float | None = None
    disinfection: Disinfection | None = None
    crew_flush: Flush | None = None
    premise_flush: Flush | None = None
    lead: LeadRemoved | None = None
    photos: frozenset[str] = frozenset()
    bonding_checked: bool = False
    restored_on: date | None = None
    returned_to_service_on: date | None = None
    household: Household = Household()

    @property
    def plastic(self) -> bool:
        return self.new_material.upper() in PLASTICS


@dataclass(frozen=True)
class Requirement:
    """One check: whether it is mandatory, its figures, and where they come from."""

    check: str
    mandatory: bool
    values: Mapping[str, float]
    source: str


@dataclass(frozen=True)
class CompletionRequirements:
    """The checks of one utility by name."""

    checks: Mapping[str, Requirement]

    def __getitem__(self, check: str) -> Requirement:
        return self.checks[check]

    def with_overrides(self, overrides: Mapping[str, Mapping[str, object]], by: str) -> Self:
        """Return these with a utility's own: check to its keys, with `mandatory` a bool.

        Raises
        ------
        BadCompletion: a check or key is not known, or a value is of the wrong kind.
        """
        checks = dict(self.checks)
        for name, changes in overrides.items():
            if name not in checks:
                raise BadCompletion(f"There is no check {name!r}. There are {', '.join(checks)}.")
            checks[name] = _overridden(checks[name], changes, by)
        return type(self)(checks)


@dataclass(frozen=True)
class PressureTestPlan:
    """What the new line is to be tested at, for how long, and what it may lose."""

    pressure_psi: float
    minutes: float
    allowance_psi: float
    settle_minutes: float


@dataclass(frozen=True)
class AfterRules:
    """The values of the rule about returning to service and the sample afterwards, on one day."""

    needs: tuple[str, ...]
    cartridge_months: int
    sample_from_months: int
    sample_to_months: int
    citation: str
    filter_citation: str
    sample_citation: str

    @classmethod
    def on(cls, rules: Rules, as_of: date) -> Self:
        """Take the values in force on a day.

        Raises
        ------
        UnknownRule, NoPeriod: a value is missing on that day.
        """
        needs = rules.get("RETURN_TO_SERVICE_NEEDS", as_of)
        months = rules.get("FILTER_CARTRIDGE_MONTHS", as_of)
        sample = rules.get("FOLLOW_UP_SAMPLE_FROM_MONTHS", as_of)
        return cls(
            needs=needs.value,
            cartridge_months=months.value,
            sample_from_months=sample.value,
            sample_to_months=rules.value("FOLLOW_UP_SAMPLE_TO_MONTHS", as_of),
            citation=f"{needs.citation} [{needs.mark}]",
            filter_citation=f"{months.citation} [{months.mark}]",
            sample_citation=f"{sample.citation} [{sample.mark}]",
        )


@cache
def shipped_requirements() -> CompletionRequirements:
    """Return the checks as shipped."""
    checks: dict[str, Requirement] = {}
    for row in _rows("completion_requirements.csv"):
        old = checks.get(row["check"])
        values = {**(old.values if old else {})}
        if row["key"]:
            values[row["key"]] = float(row["value"])
        source = old.source if old else f"{row['source']} [{row['mark']}]"
        checks[row["check"]] = Requirement(row["check"], row["mandatory"] == "YES", values, source)
    return CompletionRequirements(checks)


@cache
def flushing_values() -> Mapping[tuple[str, str], Mapping[str, float]]:
    """Return (kind, method) to key and value of `flushing.csv`."""
    values: dict[tuple[str, str], dict[str, float]] = {}
    for row in _rows("flushing.csv"):
        values.setdefault((row["kind"], row["method"]), {})[row["key"]] = float(row["value"])
    return values


def flushing_source(kind: str, method: str = "", key: str = "") -> str:
    """Return the source and mark of one value of `flushing.csv`."""
    rows = [r for r in _rows("flushing.csv") if (r["kind"], r["method"]) == (kind, method)]
    row = next((r for r in rows if r["key"] == key), rows[0])
    return f"{row['source']} [{row['mark']}]"


def water_volume_gal(inside_in: float, length_ft: float) -> float:
    """Return the water a pipe holds, US gallons.

    Examples
    --------
    >>> round(water_volume_gal(0.875, 40), 2)
    1.25
    """
    if not inside_in > 0 or not length_ft >= 0:
        raise BadCompletion(f"A pipe of {inside_in} in. and {length_ft} ft cannot be.")
    return math.pi / 4 * inside_in**2 * length_ft * 12 / IN3_PER_GALLON


def flush_rate_gpm(inside_in: float, velocity_ft_s: float) -> float:
    """Return the flow that gives a velocity in a pipe, US gallons a minute."""
    return water_volume_gal(inside_in, 1.0) * velocity_ft_s * 60


def pressure_test_plan(
    static_psi: float, plastic: bool, requirements: CompletionRequirements | None = None
) -> PressureTestPlan:
    """Return how the new line is to be tested, from the static pressure of the main.

    Raises
    ------
    BadCompletion: the static pressure cannot be.
    """
    if not 0 < static_psi < 400:
        raise BadCompletion(f"A static pressure of {static_psi} psi cannot be; check its unit.")
    values = (requirements or shipped_requirements())["PRESSURE_TEST"].values
    return PressureTestPlan(
        max(values["min_psi"], values["static_factor"] * static_psi),
        values["minutes"],
        values["drop_psi"],
        values["settle_minutes"] if plastic else 0.0,
    )


def sample_window(completed_on: date, rules: AfterRules) -> tuple[date, date]:
    """Return the first and last day on which the sample after a replacement is taken."""
    return (
        months_after(completed_on, rules.sample_from_months),
        months_after(completed_on, rules.sample_to_months),
    )


def return_to_service_findings(
    household: Household, returns_on: date, rules: AfterRules
) -> list[Finding]:
    """Return what stands against giving the house water from the new line on a day."""
    given = {
        "NOTICE": (household.notice_on, "notice"),
        "FLUSHING_INSTRUCTIONS": (household.flushing_instructions_on, "flushing instructions"),
        "FILTER": (household.filter_on, "filter"),
    }
    found = []
    for need in rules.needs:
        day, name = given[need]
        if day is None or day > returns_on:
            when = "has no date" if day is None else f"is dated {day}, after the {returns_on}"
            found.append(
                Finding(
                    Level.STOP,
                    f"RETURN_NEEDS_{need}",
                    f"The household's {name} {when} of the return to service."
                    if day
                    else f"The household's {name} {when}.",
                    rules.citation,
                    "Hand it over before the water is turned on.",
                )
            )
    if "FILTER" in rules.needs and household.cartridge_months < rules.cartridge_months:
        found.append(
            Finding(
                Level.STOP,
                "RETURN_NEEDS_CARTRIDGES",
                f"Cartridges for {household.cartridge_months} months were handed over; "
                f"{rules.cartridge_months} are needed.",
                rules.filter_citation,
                "Hand over the rest before the water is turned on.",
                value=float(household.cartridge_months),
            )
        )
    return found


def sample_findings(facts: CompletionFacts, rules: AfterRules, as_of: date) -> list[Finding]:
    """Return what is to be said about the sample after the replacement."""
    first, last = sample_window(facts.completed_on, rules)
    taken, offered = facts.household.sample_taken_on, facts.household.sample_offered_on
    window = f"from {first} to {last}"
    if taken and not first <= taken <= last:
        message, level = f"The sample was taken on {taken}, not {window}.", Level.CAUTION
    elif taken or (offered and as_of < first):
        return []
    elif not offered:
        message = f"The sample {window} has not been offered."
        level = Level.CAUTION if as_of > last else Level.NOTE
    else:
        message = f"The sample offered on {offered} is due {window}."
        level = Level.CAUTION if as_of > last else Level.NOTE
    do = "Offer the sample, or record that the household declines."
    return [Finding(level, "FOLLOW_UP_SAMPLE", message, rules.sample_citation, do)]


def check(
    facts: CompletionFacts,
    rules: AfterRules,
    as_of: date,
    *,
    requirements: CompletionRequirements | None = None,
    lead_weight_lb_per_ft: float | None = None,
) -> list[Finding]:
    """Return what is missing or wrong in a finished job.

    Parameters
    ----------
    facts : what is on record
    rules : values of the rule, see `AfterRules.on`
    as_of : the day of the review
    requirements : the utility's checks, as shipped when left out
    lead_weight_lb_per_ft : from the tables, for the old pipe's bore and class

    Returns
    -------
    list of Finding; the job may be accepted when none is a STOP
    """
    needs = requirements or shipped_requirements()
    faults = {
        "PRESSURE_TEST": _pressure(facts, needs),
        "TRACER": _tracer(facts, needs),
        "DEPTH": _depth(facts, needs),
        "DIMENSIONS": _dimensions(facts, needs),
        "DISINFECTION": _disinfection(facts),
        "CREW_FLUSH": _crew_flush(facts),
        "PREMISE_FLUSH": _premise_flush(facts),
        "LEAD_REMOVED": _lead(facts, needs, lead_weight_lb_per_ft),
        "BONDING": _missing(not facts.bonding_checked, "No check of the electrical ground."),
        "RESTORATION": _missing(facts.restored_on is None, "The ground is not yet put back."),
    }
    for name in needs.checks:
        if name.startswith("PHOTO_"):
            kind = name.removeprefix("PHOTO_")
            what = kind.lower().replace("_", " ")
            faults[name] = _missing(kind not in facts.photos, f"No photo: {what}.")
    found = [
        _fault(needs[name], sentence, value)
        for name, sentences in faults.items()
        for sentence, value in sentences
    ]
    if facts.returned_to_service_on:
        found += return_to_service_findings(facts.household, facts.returned_to_service_on, rules)
    if facts.lead and facts.lead.left_in_ground_ft > 0:
        found.append(_left_in_ground(facts.lead))
    return found + sample_findings(facts, rules, as_of)


Faults = Iterable[tuple[str, float | None]]


def _fault(need: Requirement, sentence: str, value: float | None) -> Finding:
    level = Level.STOP if need.mandatory else Level.CAUTION
    do = "Do it, or correct the record, and hand the job in again."
    return Finding(level, need.check, sentence, need.source, do, value=value)


def _missing(absent: bool, sentence: str) -> Faults:
    return [(sentence, None)] if absent else []


def _pressure(facts: CompletionFacts, needs: CompletionRequirements) -> Faults:
    test = facts.pressure_test
    if test is None or facts.static_psi is None:
        what = "pressure test" if test is None else "static pressure"
        yield f"No {what} is on record.", None
        return
    plan = pressure_test_plan(facts.static_psi, facts.plastic, needs)
    if facts.plastic and test.medium.upper() == "AIR":
        yield "Plastic pipe was tested with air, which is dangerous; test with water.", None
    if test.pressure_psi < plan.pressure_psi:
        wanted = f"{plan.pressure_psi:g} psi asked for"
        yield f"Tested at {test.pressure_psi:g} psi, {wanted}.", test.pressure_psi
    if test.minutes < plan.minutes:
        yield f"Held for {test.minutes:g} min, {plan.minutes:g} min asked for.", test.minutes
    if test.drop_psi > plan.allowance_psi:
        allowed = f"{plan.allowance_psi:g} psi allowed"
        yield f"The pressure fell by {test.drop_psi:g} psi, {allowed}.", test.drop_psi
    if test.settled_minutes < plan.settle_minutes:
        yield f"Plastic pipe settles {plan.settle_minutes:g} min before the test.", None
    if test.visible_leak:
        yield "A leak was seen.", None


def _tracer(facts: CompletionFacts, needs: CompletionRequirements) -> Faults:
    if not facts.plastic:
        return
    test = facts.tracer
    if test is None:
        yield "No test of the tracer wire is on record.", None
        return
    if not (test.both_ends_free and test.signal_full_length):
        yield "The tracer wire does not carry a signal from end to end.", None
    limit = needs["TRACER"].values["resistance_ohm"] + test.wire_ohm
    if test.resistance_ohm is not None and test.resistance_ohm > limit:
        yield f"Tracer wire of {test.resistance_ohm:g} ohm, {limit:g} at most.", test.resistance_ohm


def _depth(facts: CompletionFacts, needs: CompletionRequirements) -> Faults:
    if not facts.depths_ft:
        yield "No depth is on record.", None
    limit = needs["DEPTH"].values["min_ft"]
    for place, depth in facts.depths_ft.items():
        if not depth > 0 or depth < limit:
            yield f"Cover of {depth:g} ft at {place}, {limit:g} ft asked for.", depth


def _dimensions(facts: CompletionFacts, needs: CompletionRequirements) -> Faults:
    values, measured = needs["DIMENSIONS"].values, facts.leading_outside_in
    least = facts.new_outside_in * (1 - values["od_under_share"])
    if measured is None:
        yield "The leading end's outside diameter was not measured.", None
    elif measured < least:
        yield f"The leading end is {measured:.3f} in., {least:.3f} in. at least.", measured
    if facts.cut_off_ft is None or facts.cut_off_ft < values["cut_off_ft"]:
        yield f"The gripped end and {values['cut_off_ft']:g} ft more are to be cut off.", None


def _disinfection(facts: CompletionFacts) -> Faults:
    done = facts.disinfection
    known = {method: v for (kind, method), v in flushing_values().items() if kind == "DISINFECTION"}
    if done is None or done.method not in known:
        yield f"No disinfection by a known method ({', '.join(known)}) is on record.", None
        return
    for key, name in (("dose_mg_l", "dose"), ("hours", "hold"), ("residual_mg_l", "residual")):
        wanted, value = known[done.method].get(key), getattr(done, key)
        if wanted is not None and (value is None or value < wanted):
            shown = "not recorded" if value is None else f"{value:g}"
            unit = "h" if key == "hours" else "mg/L"
            yield f"{done.method}: {name} {shown}, {wanted:g} {unit} asked for.", value


def _crew_flush(facts: CompletionFacts) -> Faults:
    wanted, done = flushing_values()[("CREW_FLUSH", "")], facts.crew_flush
    if done is None:
        yield "No flush of the new line by the crew is on record.", None
        return
    yield from _flush_minutes("The crew", done, wanted["minutes"])
    if done.velocity_ft_s is not None and done.velocity_ft_s < wanted["velocity_ft_s"]:
        rate = flush_rate_gpm(facts.new_inside_in, wanted["velocity_ft_s"])
        yield (
            f"Flushed at {done.velocity_ft_s:g} ft/s, {wanted['velocity_ft_s']:g} asked for "
            f"({rate:.1f} gpm in this pipe).",
            done.velocity_ft_s,
        )


def _premise_flush(facts: CompletionFacts) -> Faults:
    wanted, done = flushing_values()[("PREMISE_FLUSH", "")], facts.premise_flush
    if done is None:
        yield "No flush of the house is on record.", None
        return
    yield from _flush_minutes("The house", done, wanted["minutes"])
    yield from _missing(not done.aerators_off, "The aerators were not taken off.")
    yield from _missing(not done.bottom_floor_up, "Taps were not opened from the bottom floor up.")
    yield from _missing(not done.cold_only, "Hot water was used before the flush was done.")


def _flush_minutes(who: str, done: Flush, minutes: float) -> Faults:
    if done.minutes < minutes:
        yield f"{who}: flushed for {done.minutes:g} min, {minutes:g} min asked for.", done.minutes


def _lead(
    facts: CompletionFacts, needs: CompletionRequirements, weight_lb_per_ft: float | None
) -> Faults:
    lead, values = facts.lead, needs["LEAD_REMOVED"].values
    if lead is None:
        yield "No length of lead taken out is on record.", None
        return
    total = lead.length_ft + lead.left_in_ground_ft
    if abs(total - facts.line_length_ft) > values["length_tolerance_ft"]:
        yield (
            f"Lead out and left is {total:g} ft, the line {facts.line_length_ft:g} ft: say where "
            "the rest is.",
            total,
        )
    if weight_lb_per_ft and lead.weight_lb is not None:
        expected = weight_lb_per_ft * lead.length_ft
        if abs(lead.weight_lb - expected) > values["weight_tolerance_share"] * expected:
            yield (
                f"{lead.weight_lb:g} lb of lead for {lead.length_ft:g} ft; the tables give "
                f"{expected:.0f} lb. Measure bore and class again.",
                lead.weight_lb,
            )


def _left_in_ground(lead: LeadRemoved) -> Finding:
    return Finding(
        Level.NOTE,
        "LEAD_LEFT_IN_GROUND",
        f"{lead.left_in_ground_ft:g} ft of split lead pipe stay in the ground.",
        "State and local rules on abandoned lead pipe",
        "Record it on the drawing; check the State's rule.",
        value=lead.left_in_ground_ft,
    )


def _overridden(old: Requirement, changes: Mapping[str, object], by: str) -> Requirement:
    values, mandatory = dict(old.values), old.mandatory
    for key, value in changes.items():
        if key == "mandatory" and isinstance(value, bool):
            mandatory = value
        elif key in values and isinstance(value, (int, float)) and not isinstance(value, bool):
            values[key] = float(value)
        else:
            known = ", ".join(["mandatory", *values])
            raise BadCompletion(f"{old.check} has no {key!r} of {value!r}; it has {known}.")
    return Requirement(old.check, mandatory, values, f"set by {by}; {old.source}")


def _rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))
