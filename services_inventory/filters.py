"""What the inventory list can be narrowed by: one table, one small interpreter.

A row says how the address of the page names the filter, what a person reads, which lines it
keeps, and the words it adds to the sentence above the list. The state of a list is its address.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import product
from urllib.parse import urlencode

from django.db.models import F, Q, Value
from django.db.models.functions import Coalesce
from django.db.models.lookups import In

from .domain.evidence import PoolStatus
from .models import Conflict, Decision, InspectionOrder
from .models.lines import CATEGORIES, COMMON_USE, CONNECTORS, MATERIALS, LineUse
from .models.places import COMMON_KIND, PremiseKind
from .queries.addresses import address_matches
from .queries.within import BadShape, inside, shape_of

EARLIEST_YEAR = 1800
NOWHERE = "none"
MOST_VALUES = 20

Choices = Sequence[tuple[str, str]]


class NotAValue(Exception):
    """A filter cannot take this text; the message says what it takes."""


@dataclass(frozen=True)
class Filter:
    """One thing to narrow the list by.

    Parameters
    ----------
    keeps : from the values to the condition on service lines
    sentence : with `{}` where the words of the values go
    takes : from one text to the value, raising `NotAValue`
    off_index : the same condition where no index shall be used for it
    """

    key: str
    label: str
    keeps: Callable[[list], Q]
    sentence: str
    choices: Choices = ()
    takes: Callable[[str], object] = str
    kind: str = "choice"
    off_index: Callable[[list], Q] | None = None

    def read(self, text: str):
        """Return the value that a text stands for."""
        if self.choices and text not in dict(self.choices):
            raise NotAValue(f"{self.label}: {text[:40]} is none of the choices.")
        return self.takes(text)

    def words(self, values: list) -> str:
        """Return the words that the sentence above the list gets."""
        said = dict(self.choices)
        return self.sentence.format(" or ".join(str(said.get(v, v)) for v in values))


def _among(lookup: str) -> Callable[[list], Q]:
    return lambda values: Q(
        **{lookup: values[0]} if len(values) == 1 else {f"{lookup}__in": values}
    )


def _year(text: str) -> int:
    try:
        year = int(text)
    except ValueError:
        raise NotAValue(f"{text[:20]} is no year; write it like 1948.") from None
    if not EARLIEST_YEAR <= year <= date.max.year:
        raise NotAValue(f"{year} is no year from {EARLIEST_YEAR} on; write it like 1948.")
    return year


def _shape(text: str):
    try:
        return shape_of(text)
    except BadShape as error:
        raise NotAValue(str(error)) from None


def _neighborhood(text: str):
    if text != NOWHERE and not (text.isascii() and text.isdecimal() and len(text) < 18):
        raise NotAValue("Neighborhood: choose one of the list.")
    return text if text == NOWHERE else int(text)


def _in_neighborhoods(values: list) -> Q:
    ids = [value for value in values if value != NOWHERE]
    kept = _among("neighborhood_id")(ids) if ids else Q()
    return kept | Q(neighborhood__isnull=True) if NOWHERE in values else kept


def _category_off_index(values: list) -> Q:
    return Q(In(Coalesce(F("category"), Value("")), values))


def _neighborhood_off_index(values: list) -> Q:
    ids = [0 if value == NOWHERE else value for value in values]
    return Q(In(Coalesce(F("neighborhood_id"), Value(0)), ids))


def _uses(values: list) -> Q:
    """Name the common use as excluded where it is, as the index of the others does."""
    kept = _among("use")(values)
    return kept if COMMON_USE in values else kept & ~Q(use=COMMON_USE)


def _kinds(values: list) -> Q:
    kept = _among("premise__kind")(values)
    if {"", COMMON_KIND} & set(values):
        return kept
    return kept & ~Q(premise__kind="") & ~Q(premise__kind=COMMON_KIND)


def _in_pool(values: list) -> Q:
    codes = [code for value in values for code in POOL_CODES[value]]
    return _among("validation")(codes)


def _in_conflict(values: list) -> Q:
    """By the open conflicts, of which there are few, rather than by a mark on every line."""
    return Q(pk__in=Conflict.objects.filter(resolved_at__isnull=True).values("line_id"))


def _inspection_waits(values: list) -> Q:
    return Q(pk__in=InspectionOrder.objects.waiting().values("line_id"))


def _rests_on_connectors(values: list) -> Q:
    return Q(decision__in=Decision.objects.filter(rests_on_connectors=True).values("id"))


POOL_CODES = {
    "IN": [PoolStatus.IN.value],
    "OUT": [status.value for status in PoolStatus if status != PoolStatus.IN],
    **{status.value: [status.value] for status in PoolStatus if status != PoolStatus.IN},
}
POOL_WORDS = (
    ("IN", "in the validation pool"),
    ("OUT", "out of it, for any reason"),
    ("OUT_BAN", "out: laid after the lead ban"),
    ("OUT_TWO_POINTS", "out: seen at enough points"),
    ("OUT_REPLACED", "out: replaced"),
)
_KINDS = [(value or "NOT_STATED", label) for value, label in PremiseKind.choices]

FILTERS: tuple[Filter, ...] = (
    Filter(
        "category", "Category", _among("category"), "that are {}", CATEGORIES,
        off_index=_category_off_index,
    ),
    Filter(
        "neighborhood", "Neighborhood", _in_neighborhoods, "in {}",
        takes=_neighborhood, kind="neighborhood", off_index=_neighborhood_off_index,
    ),
    Filter("address", "Address", lambda v: address_matches(v[0]), "at “{}”", kind="text"),
    Filter("location", "Location id", _among("location_id"), "with location id {}", kind="text"),
    Filter("system", "System side", _among("system_material"), "{} on the system side", MATERIALS),
    Filter(
        "customer", "Customer side", _among("customer_material"), "{} on the customer side",
        MATERIALS,
    ),
    Filter("connector", "Connector", _among("connector"), "with {}", CONNECTORS),
    Filter("use", "Use", _uses, "used for {}", LineUse.choices),
    Filter(
        "kind", "Premises", _kinds, "at premises of kind {}", _KINDS,
        takes=lambda text: "" if text == "NOT_STATED" else text,
    ),
    Filter("pool", "Validation", _in_pool, "{}", POOL_WORDS),
    Filter(
        "rests", "Rests on", _rests_on_connectors, "whose category rests on {}",
        (("connectors", "connectors not counting"),),
    ),
    Filter("conflict", "Evidence", _in_conflict, "{}", (("yes", "with evidence in conflict"),)),
    Filter(
        "inspection", "Inspection", _inspection_waits, "{}",
        (("waiting", "with an inspection ordered that waits"),),
    ),
    Filter(
        "laid_from", "Laid from", lambda v: Q(installed_year__gte=v[0]), "laid in {} or later",
        takes=_year, kind="year",
    ),
    Filter(
        "laid_to", "Laid to", lambda v: Q(installed_year__lte=v[0]), "laid in {} or earlier",
        takes=_year, kind="year",
    ),
    Filter(
        "within", "Drawn on the map", lambda v: inside(v[0]), "in the shape drawn on the map",
        takes=_shape, kind="shape",
    ),
)  # fmt: skip

EVERY_KEY = frozenset(row.key for row in FILTERS)
OWN_INDEX = frozenset({"location", "address", "conflict", "inspection", "use", "kind", "within"})
# Where a key of line facts (system|customer|connector|history|below|…) says the material.
PORTION_KEYS = (
    ("system", "facts_key__startswith", ("{}|",)),
    ("customer", "facts_key__contains", ("|{}|",)),
    ("connector", "facts_key__contains", [f"|{{}}|{w}|{b}" for w in "YN?" for b in "YN"]),
)
PORTIONS = frozenset(key for key, *_ in PORTION_KEYS)


@dataclass(frozen=True)
class Chosen:
    """The filters of one address: values by key, and what could not be read."""

    values: dict[str, list]
    texts: dict[str, list[str]]
    problems: dict[str, str]

    def condition(self, on_index: frozenset = EVERY_KEY, without: str = "") -> Q:
        """Return the condition on lines; an unreadable filter keeps no line.

        Parameters
        ----------
        on_index : keys for which an index may be used. The others are written so that none can
            be: a walk along another index finds many lines sooner than a search and a sort.
        without : a key that is left out
        """
        if self.problems:
            return Q(pk__in=[])
        kept = Q()
        for row in FILTERS:
            if row.key in self.values and row.key != without:
                plain = row.off_index is None or row.key in on_index
                kept &= (row.keeps if plain else row.off_index)(self.values[row.key])
        return kept

    def few(self, without: str = "") -> Q:
        """Return the same condition, written for finding few lines among very many."""
        keys = self.keys - {without}
        if keys & OWN_INDEX:
            return self.condition(frozenset(), without)
        if keys & PORTIONS:
            return self.condition(frozenset(), without) & self._decided_so(without)
        return self.condition(EVERY_KEY, without)

    def _decided_so(self, without: str) -> Q:
        """Lines whose row of the decision table can have these materials: one index for all."""
        rows = Q()
        if "category" in self.values and without != "category":
            rows &= Q(category__in=self.values["category"])
        for key, lookup, forms in PORTION_KEYS:
            some = Q()
            for value, form in product(self.values.get(key, ()), forms):
                some |= Q(**{lookup: form.format(value)})
            rows &= some
        return Q(decision__in=Decision.objects.filter(rows).values("id"))

    def words(self, names: dict | None = None) -> str:
        """Return the sentence's part on the filters, with neighborhoods by their names."""
        said = []
        for row in FILTERS:
            values = self.values.get(row.key)
            if values and row.kind == "neighborhood":
                said.append(f"in {' or '.join((names or {}).get(v, str(v)) for v in values)}")
            elif values:
                texts = self.texts[row.key] if row.choices else values
                said.append(row.words(texts))
        return ", ".join(said)

    def address(self, **changed) -> str:
        """Return the query part of an address with these filters, some changed or dropped."""
        pairs = {**self.texts, **changed}
        return urlencode({key: value for key, value in pairs.items() if value}, doseq=True)

    @property
    def keys(self) -> frozenset[str]:
        """The keys of the filters that are set."""
        return frozenset(self.texts)


def choose(query) -> Chosen:
    """Read the filters from a page's address (a QueryDict); what is not one is passed over."""
    values, texts, problems = {}, {}, {}
    for row in FILTERS:
        given = [text.strip() for text in query.getlist(row.key)[:MOST_VALUES] if text.strip()]
        if not given:
            continue
        texts[row.key] = given
        try:
            values[row.key] = [row.read(text) for text in given]
        except NotAValue as problem:
            problems[row.key] = str(problem)
    return Chosen(values, texts, problems)
