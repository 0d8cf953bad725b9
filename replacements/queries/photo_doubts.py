"""What the program can tell of photos: far away, sent before, alike, dark. A person decides."""

from collections.abc import Iterable, Iterator
from functools import reduce
from operator import or_

from django.db.models import Q

from ..domain.findings import Finding, Level
from ..models import PhotoFacts, WorkOrder

FAR_M = 150.0
DARK = 45  # of 255, mean; as on the phone (`phone/picture.js`); own judgment
ALIKE_BITS = 6  # of 64 that may differ; as on the phone; own judgment
ALIKE_BRIGHTNESS = 12  # of 255, by which pictures that are alike differ at most; own judgment
COMPARED = 5000  # newest photos of the company that are about as bright
_SIGNS = 2**64 - 1
_SOURCE = "planning rule of this program [judgment]"


def photo_doubts(order: WorkOrder, facts: Iterable[PhotoFacts]) -> dict[int, list[Finding]]:
    """Return by document what makes one look twice at a photo; nothing of it refuses one."""
    facts = list(facts)
    found: dict[int, list[Finding]] = {fact.document_id: [] for fact in facts}
    for told in (_far(order, facts), _used(order, facts), _alike(order, facts), _dark(facts)):
        for document_id, finding in told:
            found[document_id].append(finding)
    return found


Told = Iterator[tuple[int, Finding]]


def _doubt(rule: str, message: str, do: str, value: float | None = None) -> Finding:
    return Finding(Level.CAUTION, rule, message, _SOURCE, do, value=value)


def _far(order: WorkOrder, facts: list[PhotoFacts]) -> Told:
    for fact in facts:
        if fact.distance_m is not None and fact.distance_m > FAR_M:
            yield (
                fact.document_id,
                _doubt(
                    "PHOTO_FAR_AWAY",
                    f"{fact.document.name} says it was taken {fact.distance_ft:,.0f} ft from "
                    f"{order.line.premise.address}.",
                    "Look whether it is of this job; the address's position may be wrong too.",
                    fact.distance_m,
                ),
            )


def _used(order: WorkOrder, facts: list[PhotoFacts]) -> Told:
    names = {fact.document_id: fact.document.name for fact in facts}
    others = PhotoFacts.objects.filter(document__in=names).exclude(work_order=order)
    numbers = dict(others.order_by("-id").values_list("document_id", "work_order__number"))
    for pk, number in sorted(numbers.items()):
        yield (
            pk,
            _doubt(
                "PHOTO_USED_BEFORE",
                f"{names[pk]} is the same picture as one sent for {number}.",
                "Look which job it shows; one of the two records needs its own photo.",
            ),
        )


def _alike(order: WorkOrder, facts: list[PhotoFacts]) -> Told:
    """Yield each photo that looks like another: of this record, or of another order's."""
    seen = [fact for fact in facts if fact.likeness is not None]
    others, like = _others(order, seen), {}
    for place, fact in enumerate(seen):
        own = [(each.likeness, each.document_id) for each in seen[:place]]
        found = (pk for bits, pk in own + others if _differ(bits, fact.likeness))
        if (pk := next(found, None)) is not None:
            like[fact.document_id] = pk
    named = _named(set(like.values())) if like else {}
    for fact in seen:
        if fact.document_id in like:
            name, number = named[like[fact.document_id]]
            number = "this order too" if number == order.number else number
            yield (
                fact.document_id,
                _doubt(
                    "PHOTO_ALIKE",
                    f"{fact.document.name} looks like the same picture as {name}, sent for "
                    f"{number}.",
                    "Look at both: only light and shade were compared.",
                ),
            )


def _named(documents: set[int]) -> dict[int, tuple[str, str]]:
    """Return name and order number of photos, by document: of the order it was first sent for."""
    rows = PhotoFacts.objects.filter(document__in=documents).order_by("-id")
    told = rows.values_list("document_id", "document__name", "work_order__number")
    return {pk: (name, number) for pk, name, number in told}


def _differ(one: int, other: int) -> bool:
    return ((one ^ other) & _SIGNS).bit_count() <= ALIKE_BITS


def _others(order: WorkOrder, seen: list[PhotoFacts]) -> list[tuple[int, int]]:
    """Return (likeness, document) of the company's photos for other orders, about as bright."""
    if not seen:
        return []
    near = {(f.brightness - ALIKE_BRIGHTNESS, f.brightness + ALIKE_BRIGHTNESS) for f in seen}
    bright = reduce(or_, (Q(brightness__range=each) for each in sorted(near)))
    own = {fact.document_id for fact in seen}
    rows = PhotoFacts.objects.filter(
        bright, likeness__isnull=False, work_order__contractor=order.contractor_id
    ).exclude(Q(work_order=order) | Q(document__in=own))
    return list(rows.order_by("-id").values_list("likeness", "document_id")[:COMPARED])


def _dark(facts: list[PhotoFacts]) -> Told:
    for fact in facts:
        if fact.brightness is not None and fact.brightness < DARK:
            yield (
                fact.document_id,
                _doubt(
                    "PHOTO_DARK",
                    f"{fact.document.name} may be too dark.",
                    "Look whether it shows what it should.",
                    fact.brightness,
                ),
            )
