"""What tools have been through by the record: pulls, overloads, inspections, papers, tool sets."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Count, Exists, Max, OuterRef, Q

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

    inspection: ComponentInspection | None = None
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
    by_day = {} if as_of is None else {"inspected_on__lte": as_of}
    passed = defaultdict(list)
    rows = ComponentInspection.objects.standing().filter(component__in=lives, **by_day)
    for row in rows.order_by("inspected_on", "id"):
        life = lives[row.component_id]
        life.inspection = row
        life.wear |= row.findings.get("wear", {})
        if row.passed and row.by_competent_person:
            passed[row.component_id].append(row)
    _renew(lives, as_of)
    _count_pulls(lives, as_of)
    _add_overloads(components, lives, passed, as_of, own_limits or {})
    setups = setups_of(components)
    confirmed = _confirmed(components)
    for component in components:
        lives[component.pk].setup = setups.get(component.tool_set_id, SetUp())
        lives[component.pk].rating_confirmed = component.pk in confirmed
    return lives


def pulls_with(component_ids: Iterable[int], as_of: date | None = None):
    """Return the pulls of strings that tools were in, withdrawn ones too, by a day."""
    rows = PullRecord.objects.filter(**{f"{_OF_TOOL}__in": list(component_ids)})
    return rows if as_of is None else rows.filter(pulled_on__lte=as_of)


def _renew(lives: dict[int, ToolLife], as_of: date | None) -> None:
    rows = ComponentRenewal.objects.standing().filter(component__in=lives)
    rows = rows if as_of is None else rows.filter(done_on__lte=as_of)
    for row in rows:
        life = lives[row.component_id]
        seen = life.inspection.inspected_on if life.inspection else None
        if seen is None or row.done_on >= seen:
            life.wear[row.part] = "GOOD"


def _count_pulls(lives: dict[int, ToolLife], as_of: date | None) -> None:
    standing = pulls_with(lives, as_of).filter(withdrawn_at__isnull=True)
    for pk, peak in standing.values_list(_OF_TOOL).annotate(peak=Max("peak_lbf")).order_by():
        if pk in lives:
            lives[pk].peak_lbf = peak
    days = [life.inspection.inspected_on if life.inspection else date.min
            for life in lives.values()]  # fmt: skip
    since = standing.filter(pulled_on__gte=min(days, default=date.min))
    counted = since.values_list(_OF_TOOL, "pulled_on").annotate(n=Count("id")).order_by()
    for pk, day, count in counted:
        life = lives.get(pk)
        if life and (life.inspection is None or day >= life.inspection.inspected_on):
            life.pulls_since += count


def _add_overloads(components, lives, passed, as_of, own_limits) -> None:
    """Find the pulls that ask for a look; a withdrawn log counts unless it was read anew."""
    again = PullRecord.objects.standing().filter(log=OuterRef("log"))
    over = ~Q(gear_event="")
    for pk, limit in own_limits.items():
        if (lives[pk].peak_lbf or 0) > limit:
            over |= Q(**{_OF_TOOL: pk, "peak_lbf__gt": limit})
    found = (
        pulls_with(lives, as_of)
        .filter(over)
        .filter(Q(withdrawn_at__isnull=True) | ~Exists(again))
        .order_by("pulled_on", "id")
        .values_list(
            _OF_TOOL, "work_order__number", "pulled_on", "recorded_at", "peak_lbf", "gear_event",
            "metrics__limits__limit_lbf",
        )
        .distinct()
    )  # fmt: skip
    kinds = {component.pk: component.kind for component in components}
    for pk, order, day, recorded_at, peak, event, held in found:
        own = own_limits.get(pk)
        of_string = bool(event) and kinds.get(pk) != Kind.PULLER
        if pk not in lives or not (of_string or (own is not None and (peak or 0) > own)):
            continue
        if any(i.inspected_on >= day and i.recorded_at > recorded_at for i in passed[pk]):
            continue
        limit = None if event == "CABLE_BREAK" else (held if of_string and held else own)
        lives[pk].overloads += (Overload(order, day, peak or 0.0, limit),)


def _confirmed(components: list[Component]) -> set[int]:
    by_pk = {component.pk: component for component in components}
    papers = RatingPaper.objects.standing().filter(component__in=by_pk, confirmed_at__isnull=False)
    return {
        paper.component_id
        for paper in papers
        if paper.figures == rating_figures(by_pk[paper.component_id])
    }


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
