"""Drawing a list of unknown lines to look at, for a budget of inspections."""

from __future__ import annotations

from datetime import date, datetime

from program.models import InspectionDraw
from program.operations.plans.places import unknown_lines
from program.planning.unknowns import BadUnknowns, inspection_list
from program.queries.planning.asked import PlanError
from program.queries.planning.pool import open_lines
from services_inventory.queries.counts import NO_POSITION, NOWHERE_NAMES


def inspections_draw(
    *, budget: int, random_share: float, seed: int, by: str, at: datetime, as_of: date
) -> InspectionDraw:
    """Draw and keep a list: a part chosen to find lead, a part drawn at random.

    Raises
    ------
    PlanError: nothing is unknown, or the budget or the random part can't be.
    """
    lines = open_lines()
    unknown = unknown_lines(lines, seed)
    if not unknown.chances:
        raise PlanError("No line is unknown, so there is nothing to inspect.")
    nowhere = dict(NOWHERE_NAMES)
    strata = {
        line.location_id: line.neighborhood or nowhere[NO_POSITION if line.lat is None else None]
        for line in lines
    }
    try:
        found = inspection_list(unknown.chances, strata, budget, random_share, seed)
    except BadUnknowns as error:
        raise PlanError(str(error)) from error
    pks = {line.location_id: line.pk for line in lines}
    return InspectionDraw.objects.create(
        drawn_on=as_of,
        drawn_by=by,
        drawn_at=at,
        budget=budget,
        random_share=random_share,
        seed=seed,
        unknown=len(unknown.chances),
        listed={
            "stratum_sizes": found.stratum_sizes,
            "inspections": [
                [pks[one.line_id], one.line_id, one.part, one.stratum,
                 round(one.probability_of_lead, 4), one.inclusion]
                for one in found.inspections
            ],
            "sentences": list(unknown.sentences),
        },
    )  # fmt: skip
