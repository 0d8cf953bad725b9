"""What tools have been through by the record: pulls, overloads, inspections, papers, tool sets."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from operator import itemgetter
from typing import NamedTuple

from django.db.models import CharField, Count, Exists, Max, OuterRef, Q
from django.db.models.functions import Cast

from services_inventory import bulk
from services_inventory.asked_once import once, until_written

from ..domain.tool_strings import Fact, Kind, SetUp, SizeGroup
from ..domain.tool_strings.components import Overload
from ..models import (
    Component,
    ComponentInspection,
    ComponentRenewal,
    PullRecord,
    RatingPaper,
    ToolSetFacts,
)

RATED_BY = ("construction", "pulling_end_in", "breaking_force_lbf")
_OF_TOOL = "tool_string__parts__component"


@dataclass
class ToolLife:
    """One tool's record by a day.

    inspection : the latest that stands
    wear : state of each wear part, renewals counted
    peak_lbf, pulls_since : highest force of a string it was in; pulls since its inspection
    overloads : pulls over the limit after which no competent person has passed it
    """

    inspection: "_Inspection | None" = None
    wear: dict[str, str] = field(default_factory=dict)
    peak_lbf: float | None = None
    pulls_since: int = 0
    overloads: tuple[Overload, ...] = ()
    rating_confirmed: bool = False
    setup: SetUp = field(default_factory=SetUp)


def rating_figures(component: Component) -> dict:
    """Return what a paper of a tool's rating speaks for."""
    told = {name: component.dimensions.get(name) for name in RATED_BY}
    return {**told, "rated_lbf": component.rated_lbf}


def lives_of(
    components: Iterable[Component],
    as_of: date | None = None,
    own_limits: Mapping[int, float] | None = None,
) -> dict[int, ToolLife]:
    """Return what each tool has been through by a day; a handful of queries for all of them.

    own_limits : what each tool may bear by its entry, lb; a pull over it counts as an overload
    """
    components = list(components)
    lives = {component.pk: ToolLife() for component in components}
    record, passed, by = _record_of(frozenset(lives)), defaultdict(list), as_of or date.max
    for row in record.inspections:
        if row.inspected_on <= by:
            life = lives[row.component_id]
            life.inspection = row
            life.wear |= row.findings.get("wear", {})
            if row.passed and row.by_competent_person:
                passed[row.component_id].append(row)
    for row in record.renewals:
        life = lives[row.component_id]
        seen = life.inspection.inspected_on if life.inspection else date.min
        if seen <= row.done_on <= by:
            life.wear[row.part] = "GOOD"
    for pk, pulls in record.pulls.items():
        _count_pulls(lives[pk], pulls, by)
    _add_overloads(components, lives, passed, by, own_limits or {}, record.pulls)
    setups, papers = setups_of(components), defaultdict(list)
    for paper in record.papers:
        papers[paper.component_id].append(paper.figures)
    for component in components:
        life = lives[component.pk]
        life.setup = setups.get(component.tool_set_id, SetUp())
        life.rating_confirmed = rating_figures(component) in papers[component.pk]
    return lives


def _count_pulls(life: ToolLife, pulls: "_Pulls", by: date) -> None:
    until = bisect_right(pulls.days, by.isoformat())
    seen = life.inspection.inspected_on.isoformat() if life.inspection else ""
    life.peak_lbf = pulls.peaks[until]
    life.pulls_since = until - bisect_left(pulls.days, seen)


class _Pulls:
    """Pulls of a tool by day: the highest force before the first day and after each.

    went_wrong : whether any asks for a look at the whole string
    highest_lbf : the highest force of any
    Both know of withdrawn pulls: what a part bore stays borne until the log is read anew.
    """

    def __init__(self):
        self.went_wrong, self.highest_lbf = False, 0.0
        self.days: list[str] = []  # as ISO has them, in order
        self.peaks: list[float | None] = [None]

    def add(self, day: str, pulls: int, peak: float | None) -> None:
        """Add those of a later day, with the highest force of any of them."""
        before = self.peaks[-1]
        self.days += [day] * pulls
        self.peaks += [peak if (peak or 0.0) > (before or 0.0) else before] * pulls


class _Inspection(NamedTuple):
    """What counts of an inspection."""

    component_id: int
    inspected_on: date
    passed: bool
    by_competent_person: bool
    findings: dict
    next_due_on: date | None
    recorded_at: datetime


@dataclass(frozen=True)
class _Record:
    """What stands on record of tools."""

    inspections: list[_Inspection]
    renewals: list[ComponentRenewal]
    pulls: dict[int, _Pulls]
    papers: list[RatingPaper]


@until_written(PullRecord, ComponentInspection, ComponentRenewal, RatingPaper)
@once
def _record_of(pks: frozenset[int]) -> _Record:
    of_tools = {"component__in": pks}
    papers = RatingPaper.objects.standing().filter(confirmed_at__isnull=False, **of_tools)
    inspections = ComponentInspection.objects.standing().filter(**of_tools)
    found = inspections.order_by("inspected_on", "id").values_list(*_Inspection._fields)
    return _Record(
        [_Inspection(*row) for row in found],
        list(ComponentRenewal.objects.standing().filter(**of_tools)),
        _pulls_of(pks),
        list(papers),
    )


def _pulls_of(pks: frozenset[int]) -> dict[int, _Pulls]:
    """Return the pulls of each tool; days as texts, as thousands are read and few compared."""
    if not pks:
        return {}
    found = {pk: _Pulls() for pk in pks}
    days = (
        pulls_with(pks)
        .values_list(_OF_TOOL, Cast("pulled_on", CharField()), Q(withdrawn_at__isnull=True))
        .annotate(
            pulls=Count("pk", distinct=True),  # a tool may stand in a string twice
            peak=Max("peak_lbf"),
            event=Max("gear_event"),
        )
    )
    rows = bulk.fetched(*days.query.sql_with_params())  # thousands, that need no converting
    for pk, day, stands, pulls, peak, event in sorted(rows, key=itemgetter(1)):
        of_tool = found[pk]
        of_tool.went_wrong |= bool(event)
        of_tool.highest_lbf = max(of_tool.highest_lbf, peak or 0.0)
        if stands:
            of_tool.add(day, pulls, peak)
    return found


def pulls_with(component_ids: Iterable[int]):
    """Return the pulls of strings that tools were in, withdrawn ones too."""
    return PullRecord.objects.filter(**{f"{_OF_TOOL}__in": list(component_ids)})


def _add_overloads(components, lives, passed, by, own_limits, pulls: dict[int, _Pulls]) -> None:
    """Find the pulls that ask for a look; a withdrawn log counts unless it was read anew."""
    kinds = {component.pk: component.kind for component in components}
    over = {pk: own for pk, own in own_limits.items() if pulls[pk].highest_lbf > own}
    if not (over or any(of_tool.went_wrong for of_tool in pulls.values())):
        return
    for pk, order, day, recorded_at, peak, event, held in _over(
        frozenset(lives), frozenset(over.items())
    ):
        own = own_limits.get(pk)
        of_string = bool(event) and kinds.get(pk) != Kind.PULLER
        if pk not in lives or not (of_string or (own is not None and (peak or 0) > own)):
            continue
        if day > by:
            continue
        if any(i.inspected_on >= day and i.recorded_at > recorded_at for i in passed[pk]):
            continue
        limit = None if event == "CABLE_BREAK" else (held if of_string and held else own)
        lives[pk].overloads += (Overload(order, day, peak or 0.0, limit),)


@once
def _over(pks: frozenset[int], limits: frozenset[tuple[int, float]]) -> list[tuple]:
    """Return the pulls with something wrong in the string, or over a tool's own limit."""
    over = ~Q(gear_event="")
    for pk, limit in limits:
        over |= Q(**{_OF_TOOL: pk, "peak_lbf__gt": limit})
    again = PullRecord.objects.standing().filter(log=OuterRef("log"))
    return list(
        pulls_with(pks)
        .filter(over)
        .filter(Q(withdrawn_at__isnull=True) | ~Exists(again))
        .order_by("pulled_on", "id")
        .values_list(
            _OF_TOOL, "work_order__number", "pulled_on", "recorded_at", "peak_lbf", "gear_event",
            "metrics__limits__limit_lbf",
        )
        .distinct()
    )  # fmt: skip


def setups_of(components: Iterable[Component], at: datetime | None = None) -> dict[int, SetUp]:
    """Return what each tool set of these tools says, by its number; as entered by a moment."""
    ids = {component.tool_set_id for component in components if component.tool_set_id}
    if not ids:
        return {}
    rows = ToolSetFacts.objects.filter(tool_set__in=ids).select_related("tool_set")
    if at is None:
        rows = rows.standing()
    else:
        rows = rows.filter(entered_at__lte=at).filter(
            Q(withdrawn_at__isnull=True) | Q(withdrawn_at__gt=at)
        )
    return {row.tool_set_id: setup_back(row) for row in rows.order_by("entered_at", "id")}


def setup_back(row: ToolSetFacts) -> SetUp:
    """Return kept facts of a tool set as the domain's own."""
    groups = row.groups and tuple(SizeGroup(tuple(g["old_in"]), tuple(g["new_in"]))
                                  for g in row.groups)  # fmt: skip
    facts = {check: Fact(**fact) for check, fact in row.facts.items()}
    return SetUp(row.tool_set.name, row.instructions, facts, groups or None)
