"""What an amendment would change, before it is frozen; and why, where that is nothing."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from program.models import Submission
from program.queries.corrections import (
    WORK_CODES,
    amends_kept,
    corrections,
    counting_later,
    filed_as,
    touched,
)
from program.queries.replacements import kinds_by_year
from program.queries.submission_lines import known_on
from program.rules import rules_in_force, utility_facts_on
from program.submissions.facts import TOTALS
from program.submissions.rows import CorrectionRow
from services_inventory.domain.classification import Category
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.history import material_words

SHOWN = 50
MOST = 5_000  # lines with news that are compared for a page; the freeze compares all
_FROM_LINES = ("A6", "A7", "A12")  # totals that only a comparison of each line moves
_BY_CATEGORY = {"A1": "LEAD", "A2": "GRR", "A3": "UNKNOWN", "A4": "NON_LEAD", "A5": "total"}


@dataclass(frozen=True)
class Preview:
    """What would change: lines (the first of them), totals (code, heading, filed, now, by).

    Of the `touched` lines, which something was recorded about, `compared` were looked at.
    """

    rows: list[dict]
    number: int
    compared: int
    touched: int
    totals: list[tuple[str, str, int, int, int]]
    evidence: int
    later: int

    @property
    def is_nothing(self) -> bool:
        """Whether no line and no total would change."""
        return not self.number and not self.totals and not self.cut

    @property
    def cut(self) -> bool:
        """Whether some lines were not compared."""
        return self.compared < self.touched


def amend_preview(submission: Submission, at: datetime) -> Preview:
    """Return what a new revision would say otherwise than the one filed, as known at a moment.

    Of the totals those that come from the line list and from the work; rates and what is counted
    from the other lists follow at the freeze.
    """
    filed = filed_as(submission.as_of, amends_kept(submission))
    rules = rules_in_force(at)
    never = utility_facts_on(submission.as_of, at)["never_had_lead"] is True
    now = known_on(submission.as_of, at, rules, never, None)
    ids = touched(filed, now)
    rows = list(corrections(filed, now, ids[:MOST]))
    moved = _by_lines(rows)
    counts = category_counts_on(submission.as_of, at)
    kinds = kinds_by_year(submission.as_of, at, rules)
    year = kinds.get(submission.facts["program_year"], Counter())
    ever = sum(kinds.values(), Counter())
    said = submission.facts["totals"]
    found = {code: counts[name] for code, name in _BY_CATEGORY.items()}
    if len(ids) <= MOST:
        found |= {code: said[code] + moved[code] for code in _FROM_LINES if code in said}
    for code, kind in WORK_CODES.items():
        found[code], found[f"{code}_TO_DATE"] = year[kind], ever[kind]
    totals = [
        (total.code, total.heading, said[total.code], found[total.code],
         found[total.code] - said[total.code])
        for total in TOTALS
        if total.code in said and found.get(total.code, said[total.code]) != said[total.code]
    ]  # fmt: skip
    evidence, later = counting_later(filed, now)
    return Preview(
        [_shown(row) for row in rows[:SHOWN]],
        len(rows),
        min(len(ids), MOST),
        len(ids),
        totals,
        evidence,
        later,
    )


def _shown(row: CorrectionRow) -> dict:
    return {
        "row": row,
        "sides": (
            (
                "Filed",
                _words(
                    row.category_filed, row.system_filed, row.customer_filed, row.connector_filed
                ),
            ),
            (
                "Known now",
                _words(row.category_now, row.system_now, row.customer_now, row.connector_now),
            ),
        ),
    }


def _words(category: str, system: str, customer: str, connector: str) -> dict:
    """Return one side of a correction in words; empty where the line did not count."""
    if not category:
        return {}
    portions = (("SYSTEM", "System side", system), ("CUSTOMER", "customer side", customer))
    said = [f"{name} {material_words(portion, code)}" for portion, name, code in portions]
    said.append(material_words("CONNECTOR", connector))
    return {"category": category, "words": Category(category).label, "portions": "; ".join(said)}


def _by_lines(rows: list[CorrectionRow]) -> Counter:
    moved: Counter = Counter()
    for row in rows:
        for part in filter(None, row.totals_moved.split("; ")):
            code, by = part.split(" ")
            moved[code] += int(by)
    return moved
