"""Lines of which a file says another category than their evidence gives, or supposes something."""

from collections.abc import Iterator, Mapping
from urllib.parse import urlencode

from django.db.models import Count, Exists, F, Min, OuterRef, Q, QuerySet

from ..domain.categories import Category
from ..domain.classification import UnknownLabel
from ..models import Decision, SaidCategory, ServiceLine

HEADER = (
    "location id", "address", "neighborhood", "the file says", "it supposes", "the evidence says",
    "why", "file", "batch", "row",
)  # fmt: skip
CHUNK = 2_000
_WORDS = {one.value: one.label for one in (*Category, *UnknownLabel)} | {"": "none"}


def said_standing() -> QuerySet:
    """Return the last word of the files on each line, where it and the evidence still differ."""
    live = SaidCategory.objects.filter(taken_back=False)
    same_file = Q(batch=OuterRef("batch"), pk__gt=OuterRef("pk"))
    later = live.filter(Q(batch__gt=OuterRef("batch")) | same_file, line=OuterRef("line"))
    differs = ~Q(said="") & ~Q(said=F("line__category"))
    supposes = ~Q(label="") & Q(line__category="UNKNOWN")
    return live.filter(differs | supposes, ~Exists(later), line__category__isnull=False)


def said_groups() -> list[dict]:
    """Return how many lines there are of each word, category and reason, most first."""
    groups = list(
        said_standing()
        .values("said", "label", "line__category", "line__decision__reason")
        .annotate(lines=Count("pk"), decision=Min("line__decision"))
        .order_by("-lines", "said", "label", "line__category", "line__decision__reason")
    )
    return [
        one
        | {
            "says": _told(one["said"], one["label"]),
            "now": one["line__category"],
            "now_words": _WORDS[one["line__category"]],
            "why": one["line__decision__reason"] or "",
            "query": urlencode(
                {
                    "said": one["said"],
                    "label": one["label"],
                    "now": one["line__category"],
                    "why": one["decision"] or "",
                }
            ),
        }
        for one in groups
    ]


def _told(said: str, label: str) -> str:
    return _WORDS[label] if label and said in ("", "UNKNOWN") else _WORDS[said]


def said_found(asked: Mapping[str, str]) -> QuerySet:
    """Return the lines of one group, or of all, street by street."""
    found = said_standing()
    for name, key in (("said", "said"), ("label", "label"), ("now", "line__category")):
        if name in asked:
            found = found.filter(**{key: asked[name]})
    if asked.get("why", "").isdecimal():
        reason = Decision.objects.filter(pk=int(asked["why"][:9])).values("reason")
        found = found.filter(line__decision__reason__in=reason)
    return found.select_related(
        "line__premise", "line__neighborhood", "line__decision", "batch"
    ).order_by("line__premise__street_key", "line__premise__house_number", "pk")


def said_told(found: QuerySet, most: int | None = None) -> Iterator[tuple]:
    """Yield (line, cells in the order of `HEADER`)."""
    rows = found[:most] if most else found.iterator(CHUNK)
    for one in rows:
        line = one.line
        place = line.neighborhood.name if line.neighborhood else ""
        yield line, (
            line.location_id, line.premise.address, place, _WORDS[one.said] if one.said else "",
            _WORDS[one.label] if one.label else "", _WORDS[line.category],
            line.decision.reason if line.decision else "", one.batch.file_name, one.batch_id,
            one.row_number,
        )  # fmt: skip


def said_of(line: ServiceLine) -> SaidCategory | None:
    """Return the last word that a file had on a line, with its words."""
    one = line.said_categories.filter(taken_back=False).order_by("-batch", "-pk").first()
    if one is not None:
        one.words = _told(one.said, one.label)
    return one
