"""The job sheet: where, which pipes, how hard, what to watch, who signed."""

from datetime import date

from reportlab.platypus import Spacer

from services_inventory.domain.days import day_told

from ..domain.cautions import BEFORE, STRING, Step, cautions_for
from ..domain.findings import Level
from ..domain.methods import Method, is_pulled
from ..domain.pipes import PipeError
from ..domain.pull_force import MOST_FT, RANGE_COVERS, soils
from ..domain.units import inches
from ..models import WorkOrder
from ..queries.access import consent_state
from ..queries.estimate_told import figures_told
from ..queries.gate import start_on_record
from ..queries.ground import ground_findings
from ..queries.planned_pull import new_pipe_of, old_pipe_of
from ..words import said
from .page import SMALL, Box, block, facts, one_page, paragraph, rows_table, sign_off, two_columns
from .start_rows import start_rows

_NOT_KNOWN = "MEASURE"


def job_sheet(order: WorkOrder, as_of: date) -> bytes:
    """Return an order's job sheet as a PDF of one page."""
    estimate = order.estimates.order_by("-id").first()
    consent, ground = consent_state(order.line, as_of), _ground(order, as_of)
    address = order.line.premise.address or order.line.location_id

    def parts() -> list:
        return _parts(order, estimate, consent, ground)

    return one_page(f"Job sheet {order.number}", address, parts, as_of)


def _parts(order: WorkOrder, estimate, consent, ground: list[str]) -> list:
    return [
        block("Pipes and run"),
        facts(_run(order)),
        Spacer(1, 5),
        *(_pull(estimate) if is_pulled(order.method) else ()),
        block("Ground and other lines"),
        *[paragraph(sentence, SMALL) for sentence in ground],
        Spacer(1, 5),
        block("Before the work: no start until every box is ticked"),
        rows_table(_before(order, consent), [0.05, 0.45, 0.05, 0.45]),
        Spacer(1, 5),
        block("Cautions"),
        two_columns([str(each) for each in _cautions(order)]),
        Spacer(1, 5),
        sign_off(("Foreman, name and time", "Competent person, name and time",
                  "Water back on, name and time")),
    ]  # fmt: skip


def _pull(estimate) -> list:
    """Return what is said of the force; where nothing is pulled there is none."""
    return [
        block("Forces: never pull past the limits"),
        *[paragraph(sentence, SMALL) for sentence in _standing(estimate)],
        facts(_forces(estimate)),
        *[paragraph(sentence, SMALL) for sentence in _doubts(estimate)],
        Spacer(1, 5),
    ]


def _cautions(order: WorkOrder) -> list:
    return cautions_for(*BEFORE, *STRING, Step.WATER, pulled=is_pulled(order.method))


def _run(order: WorkOrder) -> list[tuple[str, str]]:
    bends = "; ".join(order.bends_told)
    if order.snaking_deg_per_10_ft:
        bends = f"{bends or 'none known'}; wavy, {order.snaking_deg_per_10_ft:g}° in every 10 ft"
    joints = "; ".join(order.joints_told)
    soil = soils()[order.soil].name if order.soil in soils() else _NOT_KNOWN
    wet = ", groundwater above pipe" if order.groundwater else ""
    return [
        ("Old pipe", _size(old_pipe_of, order)),
        ("New pipe", _size(new_pipe_of, order)),
        ("Length", f"{order.length_ft:g} ft" if order.length_ft else _NOT_KNOWN),
        ("Cover", f"{order.cover_ft:g} ft" if order.cover_ft else _NOT_KNOWN),
        ("Bends", bends or "none known"),
        ("Joints", joints or "none known"),
        ("Soil", f"{soil}{wet}"),
        ("Method", Method(order.method).label),
    ]


def _size(of, order: WorkOrder) -> str:
    try:
        pipe = of(order)
    except PipeError:
        return _NOT_KNOWN
    measured = order.old_grade or order.old_outside_in or of is new_pipe_of
    assumed = "" if measured else " (assumed: measure)"
    return f"{pipe.label}, outside {inches(round(pipe.outside_in, 3))}{assumed}"


def _standing(estimate) -> list[str]:
    """Return how far the estimate can be trusted, before its figures."""
    said = estimate and figures_told(estimate)["standing"]
    return [f"{said} Each range is {RANGE_COVERS}."] if said else []


def _forces(estimate) -> list[tuple[str, str]]:
    if estimate is None:
        return [("Estimate", "none made yet: do not load the cable")]
    told = figures_told(estimate)
    total, drag = told["total"], told["drag"]
    drag_by = f"{told['drag_limited_by']}{_state(estimate.case)}"
    return [
        ("Total, expected", f"{total['expected']} ({total['low']} to {total['high']})"),
        ("Total, STOP at", f"{told['limit']} ({told['limited_by']})" if told["limit"]
         else "UNRATED: do not pull"),
        ("Drag on pipe, expected", f"{drag['expected']} (up to {drag['high']})"),
        ("Drag, limit", f"{told['drag_limit']} ({drag_by})" if told["drag_limit"]
         else "UNRATED: do not pull"),
        ("Verdict", {"NO_GO": "NO-GO", "GO": "Go"}.get(estimate.verdict, "Caution")),
        ("High drag rests on", told["drag_basis"]),
        ("Relief, set at most", told["relief_psi"] or "_______ psi (from the STOP above)"),
        ("Longest run", _reach(told)),
    ]  # fmt: skip


def _state(case: dict) -> str:
    """Return under which conditions the new pipe bears its limit."""
    resin = case.get("resin")
    return f"; {resin}, up to {case['temperature_f']:g} °F" if resin else ""


def _reach(told: dict) -> str:
    if told["most_ft"] is None:
        return "not known"
    if told["most_ft"] >= MOST_FT:
        return "not limited by force"
    return f"{told['most_ft']} ft at most, {told['easy_ft']} ft with margin"


def _doubts(estimate) -> list[str]:
    if estimate is None:
        return []
    found = [
        f
        for f in estimate.result.get("findings", ())
        if f["level"] != "NOTE" and f["rule"] not in _SAID_OF_THE_GROUND
    ]
    return [f"{f['level']}: {f['message']} {f['do']}" for f in found[:4]]


_SAID_OF_THE_GROUND = {"UNVERIFIED_CROSSING", "OTHER_LINES_UNKNOWN", "FROZEN_GROUND"}


def _ground(order: WorkOrder, as_of: date) -> list[str]:
    lines = [_line(row) for row in order.nearby_lines.standing().order_by("at_ft", "id")]
    looked = order.other_lines_looked_for_on
    seen = f"none found on {day_told(looked)}" if looked else "NOT LOOKED FOR: do not dig or pull"
    found = [f for f in ground_findings(order, as_of) if f.level is not Level.NOTE]
    return [
        f"Other lines: {'; '.join(map(said, lines)) or said(seen)}",
        *[f"{f.level.value}: {f.message} {f.do}" for f in found[:_FINDINGS]],
        *([f"{len(found) - _FINDINGS} more: see the order."] if len(found) > _FINDINGS else []),
    ]


_FINDINGS = 4


def _line(row) -> str:
    far = "distance NOT KNOWN" if row.separation_in is None else f"{row.separation_in:g} in. away"
    return f"{row.as_other_line.label}, {far}, {'exposed' if row.exposed else 'NOT exposed'}"


def _start_told(start) -> str:
    if start is None:
        return "Safe start: NOT on record yet"
    if not start.holds:
        return f"Safe start of {day_told(start.on)} HOLDS NO MORE: {start.lapsed[0].message}"
    return f"Safe start on record for {day_told(start.on)}, for that day only"


def _before(order: WorkOrder, consent) -> list[list]:
    safety, start = order.safety or {}, start_on_record(order)
    said = [
        f"Consent: {consent.state.value.lower().replace('_', ' ')}"
        + ("" if consent.may_start else ". DO NOT START"),
        _start_told(start),
        *start_rows(order.method, safety.get("answers")),
        "House's electrical ground seen by an electrician; line shut and disconnected at both ends"
        ", corporation shut, curb stop out",
        "Notice, flushing instructions, filter and cartridges for the household on the truck",
    ]
    cells = [[Box(), paragraph(sentence, SMALL)] for sentence in said]
    if len(cells) % 2:
        cells.append(["", ""])
    return [left + right for left, right in zip(cells[::2], cells[1::2], strict=True)]
