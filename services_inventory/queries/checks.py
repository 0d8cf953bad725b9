"""What must hold across the rows of the record; each check gives sentences, none if all is well.

Further checks are named in the setting `RECORD_CHECKS`, a list of dotted paths to functions
that yield sentences. They take no argument, or `night`: its number, where only tonight's part is
looked at (`domain.in_turn`) of what grows with every year.
"""

from collections.abc import Callable, Iterator
from inspect import signature

from django.conf import settings
from django.db import connection
from django.db.models import Count, F, Max, OuterRef, Q, Subquery
from django.db.models.functions import Trim
from django.db.utils import IntegrityError
from django.utils.module_loading import import_string

from ..domain.classification import Category, facts_from_key
from ..domain.evidence import Basis, Portion
from ..domain.evidence.records import Era
from ..domain.in_turn import tonight
from ..domain.materials import Connector, Material
from ..models import (
    Batch,
    CategoryChange,
    Conflict,
    Decision,
    Evidence,
    KnownSum,
    Premise,
    Proposal,
    ServiceLine,
)
from .counts import category_counts, neighborhood_counts

SHOWN = 3
ROWS_A_NIGHT = 500_000


def checks() -> list:
    """Return every check, those of the other parts of the program included."""
    named = getattr(settings, "RECORD_CHECKS", ())
    return [*OWN, *(import_string(path) for path in named)]


def breaches_of(check: Callable, night: int | None = None) -> list[str]:
    """Return the sentences of a check, of tonight's part where it has parts."""
    return list(check(night) if "night" in signature(check).parameters else check())


def _some(lines, sentence: str) -> Iterator[str]:
    """Say how many lines break a rule, and name a few."""
    number = lines.count()
    if number:
        named = ", ".join(lines.order_by("id").values_list("location_id", flat=True)[:SHOWN])
        yield f"{number:,} line(s) {sentence}: {named}{' …' if number > SHOWN else ''}"


def category_is_the_decisions() -> Iterator[str]:
    """The category of a line is the one its decision gives."""
    wrong = ServiceLine.objects.filter(decision__isnull=False).exclude(
        category=F("decision__category")
    )
    yield from _some(wrong, "carry another category than their decision gives")
    yield from _some(
        ServiceLine.objects.filter(category__isnull=False, decision__isnull=True),
        "have a category but no decision behind it",
    )


def live_lines_have_a_category() -> Iterator[str]:
    """A line without category was born of a file that was taken back, or has no evidence."""
    lost = ServiceLine.objects.filter(
        category__isnull=True,
        batch__isnull=False,
        batch__withdrawn_by__isnull=True,
        given_up=False,
    )
    yield from _some(lost, "of a file that stands have no category")


def last_change_is_the_category() -> Iterator[str]:
    """The last change of a line led to the category that it has."""
    last = (
        CategoryChange.objects.filter(line=OuterRef("pk"))
        .order_by("-effective_on", "-recorded_at", "-id")
        .values("to_category")[:1]
    )
    lines = ServiceLine.objects.annotate(last=Subquery(last))
    wrong = lines.filter(
        Q(category__isnull=False) & (Q(last__isnull=True) | ~Q(last=F("category")))
        | Q(category__isnull=True, last__isnull=False)
    )
    yield from _some(wrong, "have a history that doesn't end in their category")


def neighborhood_is_the_premises() -> Iterator[str]:
    """A line lies in the neighborhood of its premise."""
    wrong = ServiceLine.objects.exclude(neighborhood=F("premise__neighborhood")).exclude(
        neighborhood__isnull=True, premise__neighborhood__isnull=True
    )
    yield from _some(wrong, "lie in another neighborhood than their premise")


def conflicts_are_marked() -> Iterator[str]:
    """A line is marked as in conflict exactly while one of its conflicts is open."""
    open_now = Conflict.objects.filter(resolved_at__isnull=True)
    yield from _some(
        ServiceLine.objects.filter(in_conflict=True).exclude(id__in=open_now.values("line_id")),
        "are marked as in conflict, but none is open",
    )
    yield from _some(
        ServiceLine.objects.filter(in_conflict=False, id__in=open_now.values("line_id")),
        "have an open conflict, but are not marked",
    )
    twice = open_now.values("line", "portion").annotate(n=Count("*")).filter(n__gt=1).count()
    if twice:
        yield f"{twice:,} portion(s) have more than one open conflict."


def decisions_against_findings_are_agreed() -> Iterator[str]:
    """A decision that lets not stand what was seen has a document and a second person."""
    agreed = Proposal.objects.filter(
        answer=Proposal.Answer.AGREED, decision__document__isnull=False
    ).exclude(answered_by_account=F("proposed_by_account"))
    for portion in Portion:
        keys = [
            pk
            for pk, key in Decision.objects.values_list("id", "facts_key").iterator(5_000)
            if any(said.startswith(portion.label) for said in facts_from_key(key).set_aside)
        ]
        alone = ServiceLine.objects.filter(decision__in=keys).exclude(
            id__in=agreed.filter(conflict__portion=portion.value).values("conflict__line_id")
        )
        yield from _some(
            alone, f"set aside what was seen on the {portion.label} without a second person"
        )


ROWS = ("new", "changed", "unchanged", "held", "left_out")


def counts_add_up() -> Iterator[str]:
    """The neighborhoods' counts add up to the whole, and each intake's rows to its total."""
    whole, parts = category_counts()["total"], neighborhood_counts()
    together = sum(part["total"] for part in parts)
    if whole != together:
        yield f"The neighborhoods hold {together:,} lines together, the inventory {whole:,}."
    for batch in Batch.objects.filter(kind="INTAKE", state=Batch.State.APPLIED):
        counts = batch.counts
        parts = sum(counts.get(name, 0) for name in ROWS)
        if parts != counts.get("total"):
            yield f"{batch}: its rows add up to {parts:,}, not {counts.get('total')}."


def codes_are_known(night: int | None = None) -> Iterator[str]:
    """Materials, connectors, categories and portions are codes that the program knows."""
    strange = ServiceLine.objects.exclude(
        system_material__in=[code.value for code in Material],
        customer_material__in=[code.value for code in Material],
        connector__in=[code.value for code in Connector],
    )
    yield from _some(strange, "carry a code that is not known")
    yield from _some(
        ServiceLine.objects.filter(category__isnull=False).exclude(
            category__in=[code.value for code in Category]
        ),
        "carry a category that is not known",
    )
    last = Evidence.objects.aggregate(last=Max("id"))["last"] or 0
    parts = [Q(id__range=(part[0], part[-1])) for part in tonight(last + 1, ROWS_A_NIGHT, night)]
    yield from strange_evidence(Q(*parts, _connector=Q.OR) if night is not None else None)


def strange_evidence(among: Q | None = None) -> Iterator[str]:
    """Say of which evidence a code is none of the program's, so that nothing can be weighed."""
    for name, codes in (
        ("portion", Portion),
        ("basis", Basis),
        ("material", Material),
        ("era", Era),
    ):
        known = [code.value for code in codes] + ([""] if name == "material" else [])
        rows = (
            Evidence.objects.filter(among or Q()).exclude(**{f"{name}__in": known}).order_by("id")
        )
        number = rows.count()
        if number:
            row = rows.select_related("line").first()
            yield (
                f"{number:,} piece(s) of evidence have a {name} that is not known, such as "
                f"{getattr(row, name)!r} at {row.line.location_id} (evidence {row.pk}). "
                "A newer version of the program, or a restored copy, may know it."
            )


def lines_have_an_identifier() -> Iterator[str]:
    """Every line has an identifier by which files and people find it again."""
    nameless = ServiceLine.objects.annotate(said=Trim("location_id")).filter(said="")
    number = nameless.count()
    if number:
        named = ", ".join(map(str, nameless.order_by("id").values_list("id", flat=True)[:SHOWN]))
        yield f"{number:,} line(s) have no identifier (number in the database: {named})."


def positions_are_pairs() -> Iterator[str]:
    """A premise has both coordinates or neither."""
    half = Premise.objects.filter(latitude__isnull=True) ^ Premise.objects.filter(
        longitude__isnull=True
    )
    number = half.count()
    if number:
        yield f"{number:,} premise(s) have one coordinate without the other."


def references_lead_somewhere() -> Iterator[str]:
    """Every reference from one table to another finds its row."""
    try:
        connection.check_constraints()
    except IntegrityError as error:
        yield f"A reference leads nowhere: {error}"


def sums_add_up() -> Iterator[str]:
    """What a line's evidence is known to come to adds up to the number by which it is found."""
    for total, codes in KnownSum.objects.order_by("total").values_list("total", "codes"):
        if not all(isinstance(code, int) for code in codes) or sum(codes) != total:
            yield (
                f"The sum {total} is not made of the codes beside it; lines are weighed without "
                "it. Look who may write to the database, and run manage.py restate --afresh."
            )


OWN = (
    category_is_the_decisions,
    live_lines_have_a_category,
    last_change_is_the_category,
    neighborhood_is_the_premises,
    conflicts_are_marked,
    decisions_against_findings_are_agreed,
    counts_add_up,
    codes_are_known,
    sums_add_up,
    lines_have_an_identifier,
    positions_are_pairs,
    references_lead_somewhere,
)
