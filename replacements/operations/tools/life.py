"""What happens to a tool: wear parts renewed, the paper of its rating, records taken back."""

from datetime import date, datetime
from typing import Any

from services_inventory.domain.days import day_told
from services_inventory.models import Document
from services_inventory.operations.taking_back import take_back

from ...models import Component, ComponentInspection, ComponentRenewal, RatingPaper
from ...queries.tool_life import rating_figures
from ..work_orders import day_of
from .errors import ToolError

WEAR_PARTS = {"O_RINGS": "O-rings", "TIP": "Tip of the cable", "EDGE": "Cutting edge"}


def component_renew(
    *,
    component: Component,
    part: str,
    done_on: date,
    done_by: str,
    by: str,
    at: datetime,
    note: str = "",
) -> ComponentRenewal:
    """Record that a wear part was renewed, such as an end crimped on anew; it is good from then.

    Raises
    ------
    ToolError: there is no such part, the day has not come, nobody is named, or the tool is retired.
    """
    if part not in WEAR_PARTS:
        raise ToolError(f"A wear part is one of {', '.join(WEAR_PARTS)}, not {part!r}.")
    if component.retired_on:
        raise ToolError(f"{component.mark} was retired on {day_told(component.retired_on)}.")
    if done_on > day_of(at):
        raise ToolError(f"It is dated {day_told(done_on)}, which has not come yet.")
    if not done_by.strip():
        raise ToolError("Write the name of the person who did it.")
    return ComponentRenewal.objects.create(
        component=component,
        part=part,
        done_on=done_on,
        done_by=done_by.strip()[:120],
        note=note.strip()[:200],
        recorded_by=by,
        recorded_at=at,
    )


def rating_paper_attach(
    *, component: Component, document: Document, by: str, at: datetime
) -> RatingPaper:
    """Keep the certificate or tag that a tool's rating was read from, for a second reader.

    Raises
    ------
    ToolError: no rating is entered yet.
    """
    figures = rating_figures(component)
    if not (figures["breaking_force_lbf"] or figures["rated_lbf"]):
        raise ToolError(f"Enter the rating of {component.mark} first; then attach its paper.")
    return RatingPaper.objects.create(
        component=component, document=document, figures=figures, attached_by=by, attached_at=at
    )


def rating_paper_confirm(
    *, paper: RatingPaper, read_lbf: float, by: str, at: datetime
) -> RatingPaper:
    """Confirm a rating by what a second person reads off the paper.

    Parameters
    ----------
    read_lbf : breaking force of a cable, rated load of another tool, as the paper says it

    Raises
    ------
    ToolError: it is the person who attached it, the entry says something else, it was corrected
        since, or the paper was withdrawn or confirmed before.
    """
    if paper.withdrawn_at or paper.confirmed_at:
        raise ToolError("That paper was withdrawn or confirmed already; look at the tool again.")
    if by == paper.attached_by:
        raise ToolError("A second person reads the paper, not the one who attached it.")
    if paper.figures != rating_figures(paper.component):
        raise ToolError("The entry was corrected since; attach the paper to the entry as it is.")
    entered = paper.figures["breaking_force_lbf"] or paper.figures["rated_lbf"]
    if abs(read_lbf - entered) > 0.5:
        raise ToolError(
            f"You read {read_lbf:,.0f} lb, the entry says {entered:,.0f} lb. Correct the entry, or "
            "read the paper again."
        )
    paper.confirmed_by, paper.confirmed_at = by, at
    paper.save(update_fields=["confirmed_by", "confirmed_at"])
    return paper


RECORDS = {
    "inspection": ComponentInspection,
    "renewal": ComponentRenewal,
    "paper": RatingPaper,
}


def tool_record_withdraw(
    *, component: Component, kind: str, number: int, reason: str, by: str, at: datetime
) -> None:
    """Take an inspection, a renewal or a paper of a tool back; it is kept, and counts no more.

    Raises
    ------
    ToolError: there is no such record of this tool.
    Refused: no reason is given, or it was taken back before.
    """
    model: Any = RECORDS.get(kind)
    row = model and model.objects.filter(pk=number, component=component).first()
    if row is None:
        raise ToolError("This tool has no such record.")
    take_back(row=row, reason=reason, by=by, at=at)
