"""The statement for the consumer confidence report, assembled from the record in two languages.

Facts come from tap samples, the inventory and the utility's particulars. Words that the rule or
the State prescribes are slots, shown empty until staff fill them.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from program.models import NoticeSlot, SamplingPeriod
from program.notices.printing import LANGUAGES, in_words
from program.notices.templates_text import UnknownPlaceholder, fill
from program.queries.sampling import Ranked, compliance_results, ranked
from program.utility import the_utility
from services_inventory.domain.reference import toml_of
from services_inventory.domain.regulation import Rules
from services_inventory.queries.counts_now import category_counts_now

KIND = "REPORT"  # of the slots, beside the kinds of notices
_OPEN = ("LEAD", "GRR", "UNKNOWN")


@dataclass(frozen=True)
class Passage:
    """One block in one language: its text, or what it lacks."""

    id: str
    summary: str
    citation: str
    prescribed: bool
    language: str
    text: str = ""
    lacks: str = ""
    taken_from: str = ""


def report_blocks() -> list[dict]:
    """Return the blocks in the order of the statement."""
    return toml_of("program", "report_blocks.toml")["block"]


def prescribed_blocks() -> dict[str, dict]:
    """Return the blocks whose words staff paste, by id."""
    return {block["id"]: block for block in report_blocks() if block.get("prescribed")}


def yearly_statement(year: int, as_of: date, rules: Rules) -> dict[str, list[Passage]]:
    """Return the statement for a calendar year by language.

    as_of : the day on which the inventory is counted
    """
    periods = list(SamplingPeriod.objects.standing().filter(last_day__year=year))
    periods.sort(key=lambda period: period.first_day)
    rows = compliance_results(periods)
    found = [(one, metal, ranked(one, metal, rules, rows))
             for one in periods for metal in ("LEAD", "COPPER")]  # fmt: skip
    slots = {(slot.slot, slot.language): slot for slot in NoticeSlot.objects.filter(kind=KIND)}
    return {language: list(_passages(language, found, slots, as_of)) for language in LANGUAGES}


_OF_THE_UTILITY = {"website": "website", "phone": "phone number"}


def _passages(language: str, found: list, slots: dict, as_of: date) -> Iterator[Passage]:
    counts = category_counts_now()
    stands = {
        "always": True,
        "exceeded": any(metal == "LEAD" and one.exceeded for _, metal, one in found),
        "open_lines": any(counts[category] for category in _OPEN),
    }
    facts = _facts(counts, as_of, language)
    for block in report_blocks():
        if block["when"] == "sampled":
            metal = block["id"].upper()
            some = [(period, one) for period, named, one in found if named == metal and one.found]
            for period, one in some:
                yield _own(block, language, facts | _sampled(period, one, language))
            if not some:
                yield _lacking(block, language, "No result of the year is on record.")
        elif stands[block["when"]]:
            yield (
                _slot(block, language, slots)
                if block.get("prescribed")
                else _own(block, language, facts)
            )


def _facts(counts: dict, as_of: date, language: str) -> dict[str, str]:
    utility = the_utility()
    return {
        "website": utility.website if utility else "",
        "phone": utility.phone if utility else "",
        "as_of": in_words(as_of, language),
        "total": f"{counts['total']:,}",
        "lead": f"{counts['LEAD']:,}",
        "grr": f"{counts['GRR']:,}",
        "unknown": f"{counts['UNKNOWN']:,}",
    }


def _sampled(period: SamplingPeriod, one: Ranked, language: str) -> dict[str, str]:
    """Return what a period's results say; the range and the count are of all sites that count."""
    values = [sample.value for _, sample in one.samples]
    values += [sample.value for sample in one.aside if sample.first.tier]
    return {
        "first_day": in_words(period.first_day, language),
        "last_day": in_words(period.last_day, language),
        "number": f"{len(values):,}",
        "percentile": _amount(one.found.value if one.found else 0),
        "low": _amount(min(values)),
        "high": _amount(max(values)),
        "above": f"{sum(value > one.level for value in values):,}",
        "level": _amount(one.level),
    }


def _amount(value) -> str:
    return f"{round(float(value), 3):,}".removesuffix(".0")


def _own(block: dict, language: str, facts: dict[str, str]) -> Passage:
    try:
        return _passage(block, language, text=fill(block[language], facts))
    except UnknownPlaceholder:
        lacks = [words for name, words in _OF_THE_UTILITY.items() if not facts[name]]
        asks = f"Enter the utility's {' and '.join(lacks)} under The utility; its text names them."
        return _lacking(block, language, asks)


def _slot(block: dict, language: str, slots: dict) -> Passage:
    kept = slots.get((block["id"], language))
    if kept is None or not kept.text:
        return _lacking(block, language, "Its words are prescribed. Paste your agency's text.")
    return _passage(block, language, text=kept.text, taken_from=kept.taken_from)


def _lacking(block: dict, language: str, why: str) -> Passage:
    return _passage(block, language, lacks=why)


def _passage(block: dict, language: str, **said) -> Passage:
    return Passage(
        block["id"], block["summary"], block["citation"], block.get("prescribed", False), language,
        **said,
    )  # fmt: skip
