"""The inventory, the unknown lines, the sequence, the money, the deadline: the record's figures."""

from collections import Counter
from fractions import Fraction

from django.db.models import Count
from django.utils.timezone import localdate

from program.domain.deferral import DeadlineKind
from program.domain.shares import percent
from program.models import InspectionDraw
from program.plan_document.elements import Known
from program.planning.priority import default_factors
from program.queries.open_questions import many
from program.queries.plan_document.case import MANAGER, Case, dollars
from program.queries.rates import deferral_facts
from services_inventory.domain.days import day_told, kept_day_told
from services_inventory.models import CategoryChange
from services_inventory.queries.counts import connector_counts
from services_inventory.queries.counts_now import neighborhood_counts_now

AREAS_SHOWN = 400
_NO_PLAN = "An adopted plan of work areas by program year (page Plan: draw one and adopt it)"
_COUNTED = (("LEAD", "Lead"), ("GRR", "GRR"), ("UNKNOWN", "Unknown"), ("NON_LEAD", "Non-lead"))


def inventory(case: Case) -> Known:
    """The system, its lines by neighborhood, the pool and the rate so far."""
    known, connectors = Known(), connector_counts()
    known.say(
        f"{case.counts['total']:,} service lines as of {day_told(case.as_of)}: "
        f"{case.counts['LEAD']:,} lead, "
        f"{case.counts['GRR']:,} galvanized requiring replacement (GRR), "
        f"{case.counts['UNKNOWN']:,} of unknown status, {case.counts['NON_LEAD']:,} non-lead. "
        f"Connectors: {connectors['lead']:,} lead, {connectors['unknown']:,} of unknown material.",
        f"Replacement deadline: {day_told(case.deadline.last_day)} "
        f"({case.deadline.kind.label.lower()}). "
        f"{case.deadline.how_computed} Required cumulative average rate: "
        f"{percent(case.deadline.rate, 4)} of the replacement pool a program year.",
    )
    known.show(
        f"Lines by neighborhood and category on {day_told(case.as_of)}",
        ("Neighborhood", *(word for _, word in _COUNTED), "All"),
        [
            (row["name"], *(f"{row[key]:,}" for key, _ in _COUNTED), f"{row['total']:,}")
            for row in (*neighborhood_counts_now(), {"name": "Whole town", **case.counts})
        ],
    )
    known.show(
        "Program years so far",
        ("Program year", "Pool", "Replaced in full", "Annual rate", "Cumulative average"),
        [
            (
                f"{row.number} ({'to' if row.over else 'running to'} {day_told(row.last_day)})",
                "not frozen" if row.record.pool is None else f"{row.record.pool:,}",
                f"{row.record.replaced:,}",
                percent(row.assessment.annual) if row.over else "not over",
                percent(row.assessment.cumulative) if row.over else "not over",
            )
            for row in case.rate.years
        ],
    )
    _inventory_gaps(case, known)
    known.use("COMPLIANCE_DATE", "REPLACEMENT_DEADLINE", "REQUIRED_RATE", "PROGRAM_YEARS")
    return known


def _inventory_gaps(case: Case, known: Known) -> None:
    for row in case.rate.years:
        if row.record.pool is None:
            known.lack(
                f"The frozen replacement pool of program year {row.number} (page Rate and pool)",
                MANAGER,
            )
    for word, value in (
        ("public water system id", case.utility.pwsid),
        ("population served", case.utility.population),
        ("number of service connections", case.utility.connections),
    ):
        if not value:
            known.lack(f"The utility's {word} (page Users and utility)", "Administrator")


def unknown_lines(case: Case) -> Known:
    """How many are unknown, by when they must be known, what was looked at, what is planned."""
    known, number = Known(), case.counts["UNKNOWN"]
    known.say(
        f"{many(number, 'line is', 'lines are')} of unknown status on {day_told(case.as_of)}. "
        "Each must be "
        f"identified by {day_told(case.deadline.last_day)}, the system's own replacement deadline."
    )
    settled = CategoryChange.objects.filter(
        from_category="UNKNOWN", effective_on__lte=case.as_of, recorded_at__lte=case.known_at
    ).exclude(to_category=None)
    found = Counter(dict(settled.values_list("to_category").annotate(n=Count("id")).order_by()))
    known.say(
        f"Found among lines that were unknown: {found['LEAD']:,} lead, {found['GRR']:,} GRR, "
        f"{found['NON_LEAD']:,} non-lead; "
        f"{many(case.seen['ON_SITE'], 'statement', 'statements')} of pipe seen on site are on "
        "record."
    )
    _draws(case, known)
    if case.years:
        known.show(
            f"Inspections planned ('{case.plan.name}', adopted)",
            ("Program year", "Last day", "Unknown lines looked at"),
            [
                (r["year"], kept_day_told(r["last_day"]), f"{r['inspections']:,}")
                for r in case.years
            ],
        )
    elif number:
        known.lack(_NO_PLAN, MANAGER)
    known.use("UNKNOWNS_IDENTIFIED_BY", "UNKNOWN_NOT_SHOWN", "APPROVED_BASES")
    return known


def _draws(case: Case, known: Known) -> None:
    draws = InspectionDraw.objects.filter(drawn_on__lte=case.as_of).order_by("drawn_on", "id")
    known.show(
        "Lists of unknown lines to inspect",
        ("Drawn on", "Lines to look at", "Of unknown lines", "Share drawn at random", "Seed"),
        [
            (d.drawn_on, f"{d.budget:,}", f"{d.unknown:,}", f"{d.random_share:.0%}", d.seed)
            for d in draws
        ],
    )


def priority(case: Case) -> Known:
    """The factors, the ranking and the sequence of the adopted plan."""
    known = Known()
    known.use("PROGRAM_YEAR_1_END", "FIRST_ASSESSED_YEAR", "REQUIRED_RATE")
    if case.plan is None:
        known.lack(_NO_PLAN, MANAGER)
        return known
    plan, result = case.plan, case.plan.result
    known.say(
        f"Plan '{plan.name}', drawn on {day_told(plan.drawn_on)} by {plan.drawn_by}, adopted by "
        f"{plan.adopted_by} on {day_told(localdate(plan.adopted_at))}: street by street, in the "
        "order below. "
        "Federal law prescribes no weights; these are the utility's own."
    )
    _factors(case, known)
    known.show(
        "Neighborhoods in their order",
        ("Rank", "Neighborhood", "Points", "Lead", "GRR", "Unknown", "Schools", "Program years"),
        [
            (
                row["rank"], row["name"], f"{row['points']:.0f}", f"{row['lead']:,}",
                f"{row['grr']:,}", f"{row['unknown']:,}", row["sensitive"], _span(row),
            )
            for row in result.get("neighborhoods", ())
        ],
    )  # fmt: skip
    known.show(
        "Sequence by program year",
        ("Program year", "Last day", "Areas", "Jobs", "Inspections", "Rate", "Average"),
        [
            (
                row["year"], kept_day_told(row["last_day"]), row["areas"], f"{row['jobs']:,}",
                f"{row['inspections']:,}", _share(row["annual_rate"]),
                _share(row["cumulative_rate"]),
            )
            for row in case.years
        ],
    )  # fmt: skip
    _left_out(case, known)
    if plan.result.get("by_hand"):
        known.lack("The plan drawn again after it was changed by hand (page Plan)", MANAGER)
    return known


def _factors(case: Case, known: Known) -> None:
    """The factors with their points, and for how many neighborhoods each has a figure."""
    weights, scored = case.asked.weights, case.plan.result.get("priority", ())
    rows = []
    for factor in default_factors():
        points = weights.get(factor.key, factor.weight)
        have = sum(row.get(f"{factor.key}_raw") is not None for row in scored)
        whose = "the utility" if factor.key in weights else "starting value of the program"
        rows.append((factor.label, f"{points:g}", whose, f"{have} of {len(scored)}"))
        if points and not have:
            known.lack(
                f"Figures for the factor '{factor.label}', or a weight of 0 for it (page Plan)",
                MANAGER,
                blocks=False,
            )
    known.show("Factors", ("Factor", "Points", "Set by", "Neighborhoods with a figure"), rows)
    if not weights:
        own = "The utility's own weights of the factors (page Plan, Draw a plan)"
        known.lack(own, MANAGER, blocks=False)


def _left_out(case: Case, known: Known) -> None:
    """Say where the sequence ends and which lines stand in no work area."""
    last = max((row["year"] for row in case.years), default=None)
    if last:
        known.say(f"By this sequence the last work is done in program year {last}.")
    outside = sum(len(lines) for lines in case.plan.result.get("left_out", {}).values())
    if outside:
        known.lack(
            f"A position, or a neighborhood, for {many(outside, 'line', 'lines')} in no work area "
            "(page Lines without a place)",
            MANAGER,
            blocks=False,
        )


def _span(row: dict) -> str:
    first, last = row["first_year"], row["last_year"]
    if not first:
        return "none"
    return f"{first}" if first == last else f"{first} to {last}"


def _share(rate: float | None) -> str:
    return "none" if rate is None else percent(Fraction(rate).limit_denominator(10**6))


def work_areas(case: Case) -> Known:
    """The work areas of the adopted plan in their order: the appendix."""
    known = Known()
    if case.plan is None:
        return known
    areas = case.plan.areas.filter(program_year__isnull=False).order_by(
        "program_year", "starts_on", "crew", "order_in_year", "key"
    )
    shown = list(areas[:AREAS_SHOWN])
    number = areas.count() if len(shown) == AREAS_SHOWN else len(shown)
    known.show(
        "Work areas in their order",
        ("Year", "Area", "Where", "Lead", "GRR", "Unknown", "Planned from", "to"),
        [
            (
                a.program_year, a.key, a.name, a.lead, a.grr, a.unknown,
                a.starts_on or "", a.ends_on or "",
            )
            for a in shown
        ],
    )  # fmt: skip
    if number > AREAS_SHOWN:
        known.say(
            f"The first {AREAS_SHOWN} of {number:,} areas stand here; all are in the plan's CSV."
        )
    known.say("Days are for planning. Permits, locates and local codes decide when work starts.")
    return known


def funding(case: Case) -> Known:
    """What the adopted plan costs, and how firm that figure is."""
    known = Known()
    if case.plan is None:
        known.lack(_NO_PLAN, MANAGER)
        return known
    asked = case.asked
    if asked.cost_per_job == type(asked)().cost_per_job:
        known.say("No cost of the utility's own is entered, so no cost is printed.")
        own = "The utility's own cost of a replacement (page Plan, Draw a plan)"
        known.lack(own, MANAGER, blocks=False)
    else:
        _costs(case, known)
    return known


def _costs(case: Case, known: Known) -> None:
    total, years = sum(row["cost"] for row in case.years), many(len(case.years), "year", "years")
    known.say(
        f"The adopted plan comes to {dollars(total)} over {years}, at "
        f"{dollars(case.asked.cost_per_job)} a replacement and "
        f"{dollars(case.asked.cost_per_inspection)} an inspection."
    )
    known.show(
        "Cost by program year",
        ("Program year", "Last day", "Jobs", "Inspections", "Cost", "Budget"),
        [
            (
                row["year"], kept_day_told(row["last_day"]), f"{row['jobs']:,}",
                f"{row['inspections']:,}",
                dollars(row["cost"]),
                "not entered" if row["budget"] is None else dollars(row["budget"]),
            )
            for row in case.years
        ],
    )  # fmt: skip
    if any(row["budget"] is None for row in case.years):
        budget = "The budget of each program year (page Plan, Draw a plan)"
        known.lack(budget, MANAGER, blocks=False)


def lead_lined(case: Case) -> Known:
    """Whether lead-lined galvanized pipe is on record."""
    number = case.seen["LEAD_LINED"]
    known = Known(applies=number > 0)
    lines = many(number, "line has", "lines have") if number else "No line has"
    known.say(f"{lines} evidence of lead-lined galvanized pipe on record; it counts as lead.")
    known.use("LEAD_LINED_IS_LEAD")
    return known


def deferred(case: Case) -> Known:
    """The test for a deferred deadline and, where one is in force, what the plan must state."""
    is_deferred = case.deadline.kind is DeadlineKind.DEFERRED
    known = Known(applies=is_deferred)
    counts, connections = case.counts, case.utility.connections or 0
    facts = deferral_facts(
        counts["LEAD"] + counts["GRR"], counts["UNKNOWN"], connections, case.rules
    )
    if is_deferred:
        known.say(case.deadline.how_computed)
    else:
        known.say(
            f"The deadline is not deferred: it is {day_told(case.deadline.last_day)} "
            f"({case.deadline.kind.label.lower()})."
        )
    headings = ("Item", "Value", "Citation", "Mark")
    known.show(f"Deadline and test for a deferral, on {day_told(case.as_of)}", headings, facts)
    known.use("DEFERRAL_SHARE", "DEFERRAL_TEST_RATE", "DEFERRAL_NUMERATOR")
    known.use("DEFERRAL_ANNUAL_ROUNDING", "DEFERRAL_LENGTH_ROUNDING", "DEFERRAL_DOCUMENTS_DUE")
    return known
