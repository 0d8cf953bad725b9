"""What is known of a building: its kind, the plumbing inside, treatment. Every change is kept."""

from datetime import datetime

from django.db import transaction
from django.utils.timezone import localdate

from services_inventory.refused import Refused

from ..domain.plumbing import Plumbing, PlumbingInside, Treatment, plumbing_contradictions
from ..models import Premise, PremiseChange

FIELDS = ("kind", "building_year", "plumbing", "plumbing_year", "treatment")


@transaction.atomic
def building_record(
    *, premise: Premise, kind: str, building_year: int | None, plumbing: str,
    plumbing_year: int | None, treatment: str, source: str, by: str, at: datetime,
) -> PremiseChange:  # fmt: skip
    """Record the building's kind and plumbing as somebody now knows them; empty is not known.

    Raises
    ------
    Refused: the year cannot be true, nothing says how it is known, or nothing would change.
    """
    inside = PlumbingInside(
        Plumbing(plumbing) if plumbing else None,
        plumbing_year,
        Treatment(treatment) if treatment else None,
    )
    wrong = plumbing_contradictions(inside, building_year, localdate(at))
    if wrong:
        raise Refused(" ".join(wrong))
    if not source.strip():
        raise Refused("Say how it is known, for instance a visit or a plumbing permit.")
    after = dict(
        zip(FIELDS, (kind, building_year, plumbing, plumbing_year, treatment), strict=True)
    )
    return _change(premise, after, source.strip()[:300], by, at)


def _change(premise: Premise, after: dict, source: str, by: str, at: datetime) -> PremiseChange:
    premise = Premise.objects.select_for_update().get(pk=premise.pk)
    new = {name: value for name, value in after.items() if getattr(premise, name) != value}
    if not new:
        raise Refused("This is on record already; nothing was changed.")
    change = PremiseChange.objects.create(
        premise=premise,
        before={name: getattr(premise, name) for name in new},
        after=new,
        source=source,
        recorded_by=by,
        recorded_at=at,
    )
    Premise.objects.filter(pk=premise.pk).update(**new)
    return change


@transaction.atomic
def building_put_back(
    *, change: PremiseChange, reason: str, by: str, at: datetime
) -> PremiseChange:
    """Put back what a change found, by a new change that says why.

    Raises
    ------
    Refused: no reason is given, a later change has moved on, or the change is none of a building.
    """
    if not reason.strip():
        raise Refused("Say why it is put back.")
    if change.batch_id or not set(change.after) <= set(FIELDS):
        raise Refused("A file's change is taken back with its batch.")
    premise = Premise.objects.select_for_update().get(pk=change.premise_id)
    moved = [name for name, value in change.after.items() if getattr(premise, name) != value]
    if moved:
        raise Refused("A later change has moved on from it; put that one back first.")
    return _change(premise, change.before, reason.strip()[:300], by, at)
