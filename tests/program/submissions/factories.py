"""Invented rows, and facts counted from them in the plainest way there is."""

from datetime import date
from fractions import Fraction

from program.submissions.facts import ReplacementReport, SubmissionFacts
from program.submissions.lists import Lists
from program.submissions.rows import (
    AccessRefusalRow,
    ChangeRow,
    LineRow,
    NonLeadBasisRow,
    PartialRow,
    RateYear,
    ReplacementRow,
    ValueUsed,
)

AS_OF = date(2031, 1, 15)
YEAR = 3


def line(number=1, **given) -> LineRow:
    row = LineRow(
        location_id=f"L{number:05d}",
        address=f"{number} Example Street",
        neighborhood="Mill End",
        latitude=40.0 + number / 10_000,
        longitude=-80.0 - number / 10_000,
        category="NON_LEAD",
        reason="Both sides seen to be copper",
        citation="141.84(a)",
        since=date(2029, 5, 4),
        system_material="COPPER",
        system_basis="VISUAL",
        system_observed_on=date(2029, 5, 4),
        system_points_seen=2,
        customer_material="COPPER",
        customer_basis="VISUAL",
        customer_observed_on=None,
        customer_points_seen=None,
        system_was_lead="NO",
        connector="NONE",
        connector_basis="",
        connector_location="",
        rests_on_connectors="NO",
        line_use="DOMESTIC",
        installed_year=1954,
        size_in=0.75,
        under_control="YES",
        in_replacement_pool="NO",
        in_validation_pool="YES",
        document="D-1",
    )
    return row._replace(**given)


def replacement(number=1, **given) -> ReplacementRow:
    row = ReplacementRow(
        work_order=f"W{number}",
        location_id=f"L{number:05d}",
        address=f"{number} Example Street",
        neighborhood="Mill End",
        category_before="LEAD",
        category_after="NON_LEAD",
        completed_on=date(2030, 6, 7),
        program_year=YEAR,
        counted="YES",
        system_material_after="PLASTIC",
        customer_material_after="PLASTIC",
        method="Pulled through the old pipe",
        length_ft=41.5,
        contractor="Invented Crew A",
        accepted_on=date(2030, 6, 20),
        system_material_before="LEAD",
        customer_material_before="COPPER",
        connector_before="LEAD",
        connector_replaced="YES",
        pull="1001",
        pull_log="ab" * 32,
        notice_on=date(2030, 6, 7),
        flushing_on=date(2030, 6, 7),
        filter_on=date(2030, 6, 7),
        sample_offered_on=None,
        sample_taken_on=None,
        sample_result="2030-10-01: lead <0.001 mg/L",
        remarks="",
    )
    return row._replace(**given)


def partial(number=1, **given) -> PartialRow:
    row = PartialRow(
        f"W{number}", f"L{number:05d}", f"{number} Example Street", "LEAD", "LEAD",
        date(2030, 7, 8), YEAR, "Emergency repair", "Customer side", date(2030, 7, 8), "",
        "LEAD", "YES",
    )  # fmt: skip
    return row._replace(**given)


def refusal(number=1, **given) -> AccessRefusalRow:
    row = AccessRefusalRow(
        f"L{number:05d}", f"{number} Example Street", "LEAD", "Refused", 4, 2,
        date(2030, 1, 5), date(2030, 3, 5), "2030-01-05 letter: no answer", "YES", None,
    )  # fmt: skip
    return row._replace(**given)


def change(number=1, **given) -> ChangeRow:
    row = ChangeRow(
        f"L{number:05d}", f"{number} Example Street", "UNKNOWN", "NON_LEAD", "FOUND",
        date(2030, 4, 3), YEAR, date(2030, 4, 9), "Seen at two points", "D-2",
    )  # fmt: skip
    return row._replace(**given)


VALUES = (
    ValueUsed("REQUIRED_RATE", "10", "percent", "141.84(d)", "Fact sheet", "seen", None, None),
    ValueUsed("DEADLINE", "2037-12-31", "date", "141.84(d)(4)", "-", "memory", None, None),
    ValueUsed(
        "POOL_BASIS", "ALL", "", "141.84(d)", "-", "memory", "Compliance staff", date(2031, 1, 9)
    ),
)


def facts(lines=(), replacements=(), refusals=(), partials=(), changes=(), **given):
    """Count the rows by plain loops and return the facts that say so."""

    def replaced(category, years):
        return sum(
            r.category_before == category and r.counted == "YES" and r.program_year in years
            for r in replacements
        )

    def partly(category, years):
        return sum(p.category_before == category and p.program_year in years for p in partials)

    def found(before, afters):
        return sum(
            c.from_category == before
            and c.to_category in afters
            and c.cause == "FOUND"
            and c.program_year == YEAR
            for c in changes
        )

    ever = range(1, 40)
    totals = {"A5": len(lines)}
    for code, category in zip(
        ("A1", "A2", "A3", "A4"), ("LEAD", "GRR", "UNKNOWN", "NON_LEAD"), strict=True
    ):
        totals[code] = sum(row.category == category for row in lines)
    totals["A6"] = sum(row.connector == "LEAD" for row in lines)
    totals["A7"] = sum(row.connector == "UNKNOWN" for row in lines)
    totals["A12"] = sum(row.rests_on_connectors == "YES" for row in lines)
    for code, count, category in (
        ("A8", replaced, "LEAD"),
        ("A9", replaced, "GRR"),
        ("A10", partly, "LEAD"),
        ("A11", partly, "GRR"),
    ):
        totals[code], totals[f"{code}_TO_DATE"] = count(category, (YEAR,)), count(category, ever)
    for when, years in (("", (YEAR,)), ("_TO_DATE", ever)):
        done = [r for r in replacements if r.connector_replaced == "YES"]
        done = [r for r in done if r.program_year in years]
        totals[f"A13{when}"] = len(done)
        totals[f"A14{when}"] = sum(r.connector_before == "LEAD" for r in done)
        totals[f"A15{when}"] = sum(
            p.connector_replaced == "YES" and p.program_year in years for p in partials
        )
    counts = {
        "B4": totals["A8"],
        "B5": totals["A9"],
        "B6a": totals["A1"],
        "B6b": totals["A2"],
        "B6c": totals["A3"],
        "B7": found("UNKNOWN", ("NON_LEAD",)),
        "B8": found("NON_LEAD", ("LEAD", "GRR")),
        "B13": len(refusals),
        "B14": totals["A10"] + totals["A11"],
    }
    pools = (1000, 950, 900)
    done = [replaced("LEAD", (year,)) + replaced("GRR", (year,)) for year in (1, 2, 3)]
    annual = [Fraction(d, pool) for d, pool in zip(done, pools, strict=True)]
    average = [sum(annual[: n + 1], Fraction(0)) / (n + 1) for n in range(3)]
    years = zip((1, 2, 3), pools, done, annual, average, strict=True)
    report = ReplacementReport(
        baseline_lead=600,
        baseline_grr=150,
        baseline_unknown=250,
        counts=counts,
        pool_at_start=pools[-1],
        annual_rate=annual[-1],
        cumulative_rate=average[-1],
        required_rate=Fraction(1, 10),
        deadline=date(2037, 12, 31),
        deadline_kind="TEN_YEAR",
        plan_statement="Updated 2031-01-10.",
        years=tuple(RateYear(*year) for year in years),
    )
    about = {
        "pwsid": "ZZ0000001",
        "system_name": "Town of Example & Mill End",
        "population": 31_000,
        "connections": 12_000,
        "as_of": AS_OF,
        "reported_on": date(2031, 1, 20),
        "program_year": YEAR,
        "totals": totals,
        "report": report,
        "values_used": VALUES,
    }
    return SubmissionFacts(**(about | given))


def lists(lines=(), replacements=(), refusals=(), partials=(), changes=(), **given) -> Lists:
    """Return the lists that files are written from; rows as in `town`."""
    rows = {
        "replacements": replacements,
        "refusals": refusals,
        "partials": partials,
        "changes": changes,
    }
    return Lists(lines=lambda: iter(lines), **rows, **given)


def bases(lines) -> list[NonLeadBasisRow]:
    """Count what the non-lead lines rest on."""
    kinds = [(r.system_basis, r.customer_basis) for r in lines if r.category == "NON_LEAD"]
    return [NonLeadBasisRow(*kind, kinds.count(kind)) for kind in sorted(set(kinds))]


def town():
    """Return a small invented town: (lines, replacements, refusals, partials, changes)."""
    categories = ("LEAD", "GRR", "UNKNOWN", "NON_LEAD", "NON_LEAD")
    connectors = ("LEAD", "NON_LEAD", "UNKNOWN", "NONE")
    lines = [line(n, category=categories[n % 5], connector=connectors[n % 4]) for n in range(1, 61)]
    lines[7] = lines[7]._replace(latitude=None, longitude=None)
    replacements = [
        replacement(n, category_before=("LEAD", "GRR")[n % 2], program_year=1 + n % 3)
        for n in range(1, 20)
    ]
    replacements.append(replacement(30, counted="NO", remarks="Before the compliance date"))
    partials = [partial(40), partial(41, category_before="GRR"), partial(42, program_year=2)]
    refusals = [refusal(50), refusal(51, reason="No answer")]
    changes = [
        change(3),
        change(4),
        change(5, from_category="NON_LEAD", to_category="GRR"),
        change(6, from_category="LEAD", cause="REPLACED"),
        change(8, program_year=2),
    ]
    return lines, replacements, refusals, partials, changes
