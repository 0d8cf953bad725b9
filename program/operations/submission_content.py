"""From the record to a submission's facts and lists, as of a day and as known at a moment.

What keeps no history in the record (the ticks, the plan's statement, the notices' delivery) is
taken once, at the freeze, and kept with the submission: `kept`. So are the utility's own facts
as of the submission's day, which are corrected later like anything else.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from django.utils.timezone import localdate

from program.domain.calendar import program_year
from program.domain.deferral import deadline_in_force
from program.domain.replacement_rate import assess
from program.models import PoolFreeze
from program.operations.line_reading import Asked, Tally, begin_lines
from program.queries.corrections import WORK_CODES, corrections, filed_as
from program.queries.plan_documents import statement_for
from program.queries.planning.adoptions import adoption_on
from program.queries.rates import deferral_facts, year_records
from program.queries.replacements import kinds_by_year
from program.queries.rule_values import values_used
from program.queries.submission_lines import AsKnown, known_on
from program.queries.submission_rows import (
    change_rows,
    notice_rows,
    partials_said,
    refusal_rows,
    replacement_rows,
    set_aside_rows,
)
from program.rules import rules_in_force, utility_facts_on
from program.submissions.facts import ReplacementReport, SubmissionFacts, totals_moved
from program.submissions.lists import Lists
from program.submissions.row_spool import RowSpool
from program.submissions.rows import (
    AccessRefusalRow,
    ChangeRow,
    CorrectionRow,
    KeyedFact,
    LineRow,
    NonLeadBasisRow,
    NoticeRow,
    PartialRow,
    RateYear,
    ReplacementRow,
    SetAsideRow,
    ValueUsed,
)
from services_inventory.domain.days import day_told
from services_inventory.domain.reporting import Report
from services_inventory.domain.validation import required_validations
from services_inventory.models import CategoryChange, ValidationDraw
from services_inventory.queries.counts import category_counts_on


def kept_now(as_of: date, known_at: datetime) -> dict:
    """Return what has no history of its own, to be kept with the submission (plain JSON)."""
    facts, rules = utility_facts_on(as_of, known_at), rules_in_force(known_at)
    return {
        "pwsid": facts["pwsid"] or "",
        "system_name": facts["name"] or "The water system",
        "population": facts["population"] or 0,
        "connections": facts["connections"] or 0,
        "never_had_lead": facts["never_had_lead"] is True,
        "plan_statement": statement_for(as_of.year, as_of) or _plan_statement(as_of),
        "values_used": [
            [*used[:-1], used[-1].isoformat() if used[-1] else None]
            for used in values_used(rules, as_of)
        ],
        "validation": _validation_kept(as_of),
        "partials": partials_said(as_of),
    }


def _plan_statement(as_of: date) -> str:
    """Name the plan that stood at the end of the year, whatever was adopted since."""
    adoption = adoption_on(as_of)
    if adoption is None:
        return f"No plan was adopted by {day_told(as_of)}."
    plan, day = adoption.plan, localdate(adoption.adopted_at)
    return (
        f"Plan '{plan.name}', drawn on {day_told(plan.drawn_on)}, adopted by "
        f"{adoption.adopted_by} on {day_told(day)}."
    )


def _validation_kept(as_of: date) -> list[list[str]]:
    draw = ValidationDraw.objects.filter(drawn_on__lte=as_of).order_by("-drawn_on", "-id").first()
    if draw is None:
        return [["Draw", "No lines have been drawn for validation."]]
    results = Counter(
        draw.picks.filter(result_on__lte=as_of).values_list("result", flat=True).iterator()
    )
    return [
        ["Draw", f"{draw.required} of {draw.pool_size} lines, drawn on {draw.drawn_on}"],
        ["Seed", draw.seed],
        ["SHA-256 of the pool", draw.pool_sha256],
        ["Confirmed non-lead", str(results["CONFIRMED"])],
        ["Found lead", str(results["FOUND_LEAD"])],
        ["Found galvanized requiring replacement", str(results["FOUND_GRR"])],
        ["No access, replaced from the reserve", str(results["NO_ACCESS"])],
        *_validation_findings(draw, as_of),
    ]


def _validation_findings(draw: ValidationDraw, as_of: date) -> Iterator[list[str]]:
    """Yield every line that the validation found to be lead or GRR, and when it was corrected."""
    found = draw.picks.filter(result__in=("FOUND_LEAD", "FOUND_GRR"), result_on__lte=as_of)
    for pick in found.select_related("line__premise").order_by("position"):
        place = f"{pick.line.location_id}, {pick.line.premise.address}"
        changes = CategoryChange.objects.filter(
            line=pick.line, to_category__in=("LEAD", "GRR"), effective_on__gte=pick.result_on
        )
        day = changes.order_by("effective_on").values_list("effective_on", flat=True).first()
        corrected = f"the inventory was corrected on {day}" if day else "not yet corrected"
        yield [f"Line {place}", f"{pick.get_result_display()} on {pick.result_on}; {corrected}"]


class Content:
    """A submission's facts and lists, read from the record into temporary files of `folder`."""

    def __init__(
        self, *, as_of: date, known_at: datetime, kept: dict, folder: Path,
        report: Report | None = None, pool: ProcessPoolExecutor | None = None,
    ):  # fmt: skip
        self.as_of, self.known_at, self.kept, self.report = as_of, known_at, kept, report
        self.pool = pool
        self.rules = rules_in_force(known_at)
        self.program_year = program_year(as_of, self.rules) or 0
        self.pools = {
            pool.program_year: pool
            for pool in PoolFreeze.objects.filter(program_year__lte=self.program_year)
        }
        folder.mkdir(parents=True, exist_ok=True)
        self.spools: dict[str, RowSpool] = {
            name: RowSpool(folder / f"{name}.rows", row_type)
            for name, row_type in (
                ("lines", LineRow),
                ("replacements", ReplacementRow),
                ("partials", PartialRow),
                ("refusals", AccessRefusalRow),
                ("changes", ChangeRow),
                ("notices", NoticeRow),
                ("set_aside", SetAsideRow),
                ("corrections", CorrectionRow),
                ("non_lead_bases", NonLeadBasisRow),
            )
        }
        self.tally = Tally()
        self.replaced_connectors: Counter = Counter()
        self.found: Counter = Counter()

    def read(self) -> tuple[SubmissionFacts, Lists]:
        """Go through the record once; return the facts and the lists to write files from."""
        counted = self._begin_lines()
        self._read_work()
        self.spools["refusals"].keep(refusal_rows(self.as_of, self.known_at, self.rules))
        since = self.kept.get("since")
        moment = datetime.fromisoformat(since) if since else None
        for row in self.spools["changes"].take(
            change_rows(self.as_of, self.known_at, self.rules, moment)
        ):
            if row.cause == "FOUND" and row.program_year == self.program_year:
                self.found[row.from_category, row.to_category] += 1
        notices = self.kept.get("notices")
        rows = notice_rows(self.as_of, self.rules) if notices is None else notices
        self.spools["notices"].keep(rows)
        self.spools["set_aside"].keep(set_aside_rows(self.as_of, self.known_at))
        self.tally = counted()
        most_first = sorted(self.tally.bases.items(), key=lambda found: (-found[1], found[0]))
        self.spools["non_lead_bases"].keep((*bases, lines) for bases, lines in most_first)
        facts = self._facts(self._totals())
        if amends := self.kept.get("amends"):
            filed = filed_as(self.as_of, amends)
            self.spools["corrections"].keep(corrections(filed, self._known()))
            facts = replace(facts, totals_moved=totals_moved(facts, amends["totals"]))
        lists: dict[str, Any] = {key: spool for key, spool in self.spools.items() if key != "lines"}
        lines = self.spools["lines"]
        return facts, Lists(lines=lambda: iter(lines), spooled=lines.path, pool=self.pool, **lists)

    def _known(self) -> AsKnown:
        pool = self.pools.get(self.program_year)
        return known_on(
            self.as_of,
            self.known_at,
            self.rules,
            self.kept["never_had_lead"],
            pool.pk if pool else None,
        )

    def _begin_lines(self) -> Callable[[], Tally]:
        pool = self.pools.get(self.program_year)
        never, freeze = self.kept["never_had_lead"], pool.pk if pool else None
        asked = Asked(self.as_of, self.known_at, never, freeze)
        return begin_lines(self.spools["lines"], asked, self.pool, self.report)

    def _read_work(self) -> None:
        partials: list[Any] = []
        work = replacement_rows(self.as_of, self.known_at, self.rules)
        for row in self.spools["replacements"].take(_aside(work, partials)):
            self._count_connector(row, "A13", *(("A14",) if row.connector_before == "LEAD" else ()))
        for row in self.spools["partials"].take(map(self._as_announced, partials)):
            self._count_connector(row, "A15")

    def _count_connector(self, row: Any, *codes: str) -> None:
        if row.connector_replaced == "YES":
            self.replaced_connectors.update(f"{code}_TO_DATE" for code in codes)
            if row.program_year == self.program_year:
                self.replaced_connectors.update(codes)

    def _as_announced(self, row: Any) -> Any:
        """Add what the household was told: the occasion, and the offer to replace the rest."""
        occasion, offered = self.kept.get("partials", {}).get(row.location_id, ("", None))
        offered_on = date.fromisoformat(offered) if offered else None
        return row._replace(occasion=occasion, offered_on=offered_on)

    def _totals(self) -> dict[str, int]:
        """Count from the database, apart from the rows; the audit then holds both together."""
        counts = category_counts_on(self.as_of, self.known_at)
        kinds = kinds_by_year(self.as_of, self.known_at, self.rules)
        ever = sum(kinds.values(), Counter())
        year = kinds.get(self.program_year, Counter())
        totals = {
            "A1": counts["LEAD"],
            "A2": counts["GRR"],
            "A3": counts["UNKNOWN"],
            "A4": counts["NON_LEAD"],
            "A5": counts["total"],
            "A6": self.tally.connectors["LEAD"],
            "A7": self.tally.connectors["UNKNOWN"],
            "A12": self.tally.resting,
        }
        for code, kind in WORK_CODES.items():
            totals[code], totals[f"{code}_TO_DATE"] = year[kind], ever[kind]
        for code in ("A13", "A14", "A15"):
            for key in (code, f"{code}_TO_DATE"):
                totals[key] = self.replaced_connectors[key]
        return totals

    def _facts(self, totals: dict[str, int]) -> SubmissionFacts:
        kept = self.kept
        return SubmissionFacts(
            pwsid=kept["pwsid"],
            system_name=kept["system_name"],
            population=kept["population"],
            connections=kept["connections"],
            as_of=self.as_of,
            reported_on=localdate(self.known_at),
            program_year=self.program_year,
            year_told=kept.get("year_told", ""),
            totals=totals,
            report=self._replacement_report(totals),
            values_used=tuple(_value_used(row) for row in kept["values_used"]),
            validation=self._validation(),
            deferral=self._deferral(totals),
            revision=kept["revision"],
            amended_because=kept["amended_because"],
            previous_digest=kept["previous_digest"],
            record_head=kept.get("record_head", ""),
            prepared_by=kept.get("prepared_by", ""),
            open_questions=tuple(kept["open_questions"]),
        )

    def _replacement_report(self, totals: dict[str, int]) -> ReplacementReport | None:
        if 1 not in self.pools:
            return None
        baseline, deadline = self.pools[1], deadline_in_force(self.rules, self.as_of)
        records = year_records(self.as_of, self.known_at, self.rules)
        assessed = assess(
            records,
            deadline.rate,
            first_assessed_year=self.rules.latest("FIRST_ASSESSED_YEAR").value,
        )
        years = tuple(
            RateYear(number, record.pool, record.replaced, found.annual, found.cumulative)
            for number, (record, found) in enumerate(zip(records, assessed, strict=True), 1)
        )
        return ReplacementReport(
            baseline_lead=baseline.lead,
            baseline_grr=baseline.grr,
            baseline_unknown=baseline.unknown,
            counts=self._report_counts(totals),
            pool_at_start=records[-1].pool,
            annual_rate=assessed[-1].annual,
            cumulative_rate=assessed[-1].cumulative,
            required_rate=deadline.rate,
            deadline=deadline.last_day,
            deadline_kind=deadline.kind.label,
            plan_statement=self.kept["plan_statement"],
            years=years,
        )

    def _report_counts(self, totals: dict[str, int]) -> dict[str, int]:
        return {
            "B4": totals["A8"],
            "B5": totals["A9"],
            "B6a": totals["A1"],
            "B6b": totals["A2"],
            "B6c": totals["A3"],
            "B7": self.found["UNKNOWN", "NON_LEAD"],
            "B8": self.found["NON_LEAD", "LEAD"] + self.found["NON_LEAD", "GRR"],
            "B13": len(self.spools["refusals"]),
            "B14": totals["A10"] + totals["A11"],
        }

    def _validation(self) -> tuple[KeyedFact, ...]:
        value = self.rules.get("VALIDATION_DEADLINE", self.as_of)
        table = self.rules.latest("VALIDATION_TABLE")
        needed = required_validations(self.tally.in_validation, self.rules)
        facts = [
            ("Non-lead lines in the validation pool", f"{self.tally.in_validation}", value),
            ("Required validations of a pool of that size", f"{needed}", table),
            ("To be complete by", f"{value.value}", value),
        ]
        drawn = [(heading, text, value) for heading, text in self.kept["validation"]]
        return tuple(
            KeyedFact(heading, text, rule.citation, rule.mark)
            for heading, text, rule in facts + drawn
        )

    def _deferral(self, totals: dict[str, int]) -> tuple[KeyedFact, ...]:
        return deferral_facts(
            totals["A1"] + totals["A2"], totals["A3"], self.kept["connections"], self.rules
        )


def _aside(work, partials: list):
    """Pass full rows on and put the partial ones, which are few, aside."""
    for row in work:
        if isinstance(row, PartialRow):
            partials.append(row)
        else:
            yield row


def _value_used(row: list) -> ValueUsed:
    *said, ticked_on = row
    return ValueUsed(*said, date.fromisoformat(ticked_on) if ticked_on else None)
