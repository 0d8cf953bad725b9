"""Trying rows of one's own values: written, computed with, and rolled back."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime

from django.db import transaction
from django.utils.timezone import localdate

from program.domain.own_values import Act, Proposal
from program.domain.utility_facts import contradictions, utility_facts
from program.models import OwnValue, Utility
from program.queries.own_values import ended_and_begun, in_words, named, under
from program.queries.rehearsal import compared, figures_of, weighed_by
from program.rules import own_values_now, rules_known, utility_facts_on
from services_inventory import bulk
from services_inventory.domain.allowed import shown, written
from services_inventory.domain.certain import certain
from services_inventory.domain.classification import Category
from services_inventory.domain.regulation import RegulationError
from services_inventory.domain.reporting import Report
from services_inventory.models import ServiceLine
from services_inventory.operations.standings import standings_rehearse
from services_inventory.refused import Refused


class OwnValueRefused(Refused):
    """A value can't be recorded; `errors` has a sentence by the field that it is about, or ""."""

    def __init__(self, errors: str | dict[str, str]):
        self.errors = {"": errors} if isinstance(errors, str) else errors
        super().__init__(" ".join(self.errors.values()))


def rows_write(
    proposals: Sequence[Proposal], *, author: str, reason: str, at: datetime
) -> list[OwnValue]:
    """Append proposals as rows, each with what held before; let the utility's row follow."""
    rows = []
    for proposal in proposals:
        row = OwnValue(
            act=proposal.act.value,
            value_id=proposal.value_id,
            jurisdiction=proposal.jurisdiction,
            value=proposal.value,
            before=_before(proposal),
            effective_from=proposal.effective_from,
            about_id=proposal.about,
            citation=proposal.citation,
            author=author,
            reason=reason,
            recorded_at=at,
        )
        row.save()
        rows.append(row)
    if any(row.value_id in utility_facts() for row in rows):
        _utility_write(localdate(at))
    return rows


def _before(proposal: Proposal) -> object:
    if proposal.about is not None:
        return OwnValue.objects.get(pk=proposal.about).value
    if proposal.value_id in utility_facts():
        return utility_facts_on(proposal.effective_from)[proposal.value_id]
    held = rules_known().rules.get(proposal.value_id, proposal.effective_from)
    return written(held.value)


def _utility_write(day: date) -> None:
    """Let the utility's columns say what its facts are on a day."""
    utility = Utility.objects.order_by("id").first() or Utility()
    for name, value in utility_facts_on(day).items():
        empty = getattr(Utility(), name) if value is None else value
        setattr(utility, name, empty)
    utility.save()


@contextmanager
def tried(proposals: Sequence[Proposal], *, author: str, at: datetime) -> Iterator[list[OwnValue]]:
    """Let proposals stand in the record for the block, and nothing of it after; give those before.

    Raises
    ------
    OwnValueRefused: with them the values contradict each other, or the utility's facts do.
    """
    before, faults = own_values_now(), rules_known().faults
    with transaction.atomic():
        rows_write(proposals, author=author, reason="a rehearsal", at=at)
        _refuse(proposals, faults)
        yield before
        transaction.set_rollback(True)


def _refuse(proposals: Sequence[Proposal], faults_before: list) -> None:
    known = {fault.sentence for fault in faults_before}
    fresh = [fault.sentence for fault in rules_known().faults if fault.sentence not in known]
    if fresh:
        raise OwnValueRefused(" ".join(fresh))
    if known and any(proposal.act is Act.SET for proposal in proposals):
        raise OwnValueRefused(
            "First take back what can't be computed by: " + " ".join(sorted(known))
        )
    if any(proposal.value_id in utility_facts() for proposal in proposals):
        utility = Utility.objects.order_by("id")[0]
        facts = {name: getattr(utility, name) for name in utility_facts()}
        if found := contradictions(facts, invented=utility.clock_stands_at is not None):
            raise OwnValueRefused(found)


def weighs(proposals: Sequence[Proposal], *, author: str, at: datetime) -> bool:
    """Whether lines would have to be weighed again, because what they stand by is another.

    Raises
    ------
    OwnValueRefused: see `tried`; or the policies can't be built with them.
    """
    on = day_of(proposals, localdate(at))
    with _in_words():
        before = None if rules_known().faults else weighed_by(on)
        with tried(proposals, author=author, at=at):
            return not rules_known().faults and before != weighed_by(on)


def rehearse(
    proposals: Sequence[Proposal], *, author: str, at: datetime, report: Report | None = None
) -> dict:
    """Return what proposals would move, as plain JSON; nothing is kept.

    Raises
    ------
    OwnValueRefused: with them something can't be computed.
    """
    on = day_of(proposals, localdate(at))
    with bulk.large_work(), _in_words():
        sound = not rules_known().faults
        old, stood_by = (figures_of(on), weighed_by(on)) if sound else (None, None)
        held, cautions = _held(proposals, on), [*_cautions(proposals)]
        with tried(proposals, author=author, at=at) as before:
            sound = not rules_known().faults
            moves: list = []
            examples: list = []
            again = sound and stood_by != weighed_by(on)
            if again:
                moves, examples = standings_rehearse(on=on, report=report)
            new = figures_of(on, moves) if sound else None
            return {
                "on": on.isoformat(),
                "weighs": again,
                "values": [
                    (name, was, now)
                    for (name, was), (_, now) in zip(held, _held(proposals, on), strict=True)
                ],
                "consequences": list(ended_and_begun(before, own_values_now())),
                "cautions": cautions + _lines_and_connections(proposals),
                "moves": _by_category(moves),
                "examples": [
                    (pk, place, _words(was), _words(becomes))
                    for pk, place, was, becomes in examples
                ],
                "still_wrong": [fault.sentence for fault in rules_known().faults],
                **compared(old, new),
            }


@contextmanager
def _in_words() -> Iterator[None]:
    """Tell what can't be computed as a refusal: a value was in its range, and yet can't be."""
    try:
        yield
    except (RegulationError, ArithmeticError, LookupError, TypeError, ValueError) as error:
        raise OwnValueRefused(f"The program can't compute with it: {error}") from error


def day_of(proposals: Sequence[Proposal], today: date) -> date:
    """The day that a rehearsal is about: today, or the later day from which it would hold."""
    return max(today, *(proposal.effective_from for proposal in proposals))


def _held(proposals: Sequence[Proposal], on: date) -> list[tuple[str, str]]:
    """Return (what it is called, what holds on a day) of each value that proposals are about."""
    facts, known = utility_facts_on(on), rules_known()
    found = {}
    for value_id in (proposal.value_id for proposal in proposals):
        if value_id in facts:
            found[named(value_id)] = in_words(facts[value_id]) or "not recorded"
        elif value_id in known.rules.ids():
            value = known.rules.get(value_id, on)
            found[value_id] = f"{shown(value.value)} ({value.jurisdiction.lower()})"
    return list(found.items())


def _cautions(proposals: Sequence[Proposal]) -> Iterator[str]:
    rules = rules_known().rules
    for proposal in proposals:
        if proposal.act is not Act.SET or proposal.value_id in utility_facts():
            continue
        held = under(rules, proposal.value_id, proposal.jurisdiction, proposal.effective_from)
        allowed = certain(held.allowed)
        if allowed.looser(allowed.take(proposal.value), held.value):
            yield (
                f"It asks for less than the {held.jurisdiction.lower()} value, "
                f"{shown(held.value)}. A State may do so only where the rule lets it, as with a "
                "deferred deadline: read its letter again before you confirm."
            )


def _lines_and_connections(proposals: Sequence[Proposal]) -> list[str]:
    if all(proposal.value_id != "connections" for proposal in proposals):
        return []
    connections = Utility.objects.order_by("id").values_list("connections", flat=True).first()
    lines = ServiceLine.objects.filter(category__isnull=False).count()
    if not connections or lines <= connections:
        return []
    return [
        f"The inventory has {lines:,} lines, more than these {connections:,} connections: is a "
        "digit missing?"
    ]


def _words(category: str | None) -> str:
    return Category(category).label if category else "no category"


def _by_category(moves) -> list[tuple[str, str, int]]:
    """Return (category, new category, lines) of the lines that change category."""
    found: dict[tuple[str, str], int] = {}
    for move in moves:
        if move.category != move.new_category:
            key = (_words(move.category), _words(move.new_category))
            found[key] = found.get(key, 0) + move.lines
    return [(*key, lines) for key, lines in found.items()]
