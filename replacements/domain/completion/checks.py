"""The checks of a finished job, each a list of faults put into findings."""

from collections.abc import Iterable
from datetime import date

from replacements.domain.findings import Finding, Level

from .facts import CompletionFacts, Flush, LeadRemoved
from .requirements import (
    CompletionRequirements,
    Requirement,
    disinfection_words,
    flushing_values,
    shipped_requirements,
)
from .service_return import AfterRules, return_to_service_findings, sample_findings
from .water import flush_rate_gpm, pressure_test_plan


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
    if not facts.old_pipe_is_lead:
        del faults["LEAD_REMOVED"]
    if not facts.pulled:
        del faults["DIMENSIONS"]
    for name in needs.checks:
        if name == "PHOTO_LEAD_REMOVED" and not facts.old_pipe_is_lead:
            continue
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
        yield "No disinfection by a known method is on record.", None
        return
    for key, name in (("dose_mg_l", "dose"), ("hours", "hold"), ("residual_mg_l", "residual")):
        wanted, value = known[done.method].get(key), getattr(done, key)
        if wanted is not None and (value is None or value < wanted):
            shown = "not recorded" if value is None else f"{value:g}"
            unit = "h" if key == "hours" else "mg/L"
            way = disinfection_words(done.method).partition(" (")[0]
            yield f"{way}: {name} {shown}, {wanted:g} {unit} asked for.", value


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
