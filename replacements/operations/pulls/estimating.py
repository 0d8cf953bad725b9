"""The force estimate of an order, kept with its inputs."""

from collections.abc import Mapping
from datetime import datetime

from services_inventory.asked_once import asking_once

from ...domain.methods import pulled_as
from ...domain.pipes import PipeError
from ...domain.pull_force import estimate, longest_run, relief_psi
from ...domain.tool_strings import Kind, ToolString
from ...models import ForceEstimateRecord, ToolStringRecord, WorkOrder
from ...queries.estimate_case import anchor_lbf_of, case_back, case_kept
from ...queries.gate import latest_string
from ...queries.ground import conditions_of
from ...queries.planned_pull import string_of
from ...queries.pulls import calibration_for, constants_at, logs_in_soil, standing_told
from ...queries.stored import findings_kept, plain
from ..work_orders import day_of
from .errors import EstimateRefused


def estimate_make(
    *,
    work_order: WorkOrder,
    by: str,
    at: datetime,
    anchor_lbf: float | None = None,
    plate_area_ft2: float | None = None,
    soil_psf: float | None = None,
    tool_string: ToolStringRecord | None = None,
    pipe_state: Mapping | None = None,
    measured: Mapping | None = None,
) -> ForceEstimateRecord:
    """Estimate the pull of an order from what is known now, and keep it with its inputs.

    Parameters
    ----------
    anchor_lbf : what the anchor may bear; or the area of its plate and what the ground may bear;
        unrated when all are left out
    tool_string : the latest of the order when left out; without one its parts are unrated
    pipe_state : resin of PE as printed on it, temperature_f of the pipe's wall, minutes under
        tension; left out, the weakest resin, the hottest wall and an hour are counted and told
    measured : values of the model's parameters measured for this pull, by code

    Raises
    ------
    EstimateRefused: Length, cover or soil is not known, or an input cannot be.
    """
    _refuse_unmeasured(work_order)
    record = tool_string or latest_string(work_order)
    given = {
        "anchor_lbf": anchor_lbf,
        "plate_area_ft2": plate_area_ft2,
        "soil_psf": soil_psf,
        **(pipe_state or {}),
        **(measured or {}),
    }
    try:
        with asking_once():
            string = string_of(record, day_of(at)) if record else ToolString()
            known = conditions_of(work_order, day_of(at))
        kept = case_kept(
            work_order, string, day_of(at), anchor_lbf_of(given), known, pipe_state or {},
            measured or {},
        )  # fmt: skip
        learned = calibration_for(work_order.soil, at, kept["method"])
        made = estimate(case_back(kept, constants_at(at)), learned)
    except (PipeError, ValueError) as error:
        raise EstimateRefused(f"{work_order.number}: {error}") from error
    return ForceEstimateRecord.objects.create(
        work_order=work_order,
        parameter_set=made.parameter_set,
        case=plain(kept | {"given": given}),
        result=_estimate_kept(made, learned, record, string)
        | {"standing": _standing(work_order, learned, at)},
        verdict=made.verdict.value,
        low_lbf=made.low_lbf,
        expected_lbf=made.expected_lbf,
        high_lbf=made.high_lbf,
        made_by=by,
        made_at=at,
    )


def _standing(order: WorkOrder, learned, at: datetime) -> str:
    logs, method = logs_in_soil(order.soil, at), pulled_as(order.method)
    return standing_told(order.soil_label, learned, logs, method)


def _refuse_unmeasured(order: WorkOrder) -> None:
    names = {"length_ft": "length", "cover_ft": "cover", "soil": "soil of the backfill"}
    missing = [name for field, name in names.items() if not getattr(order, field)]
    if missing:
        raise EstimateRefused(f"{order.number}: enter the {' and the '.join(missing)} first.")


def _estimate_kept(made, learned, record: ToolStringRecord | None, string: ToolString) -> dict:
    return plain(
        {
            "tool_string": record.pk if record else None,
            "limit_lbf": made.limit_lbf,
            "limited_by": made.limited_by,
            "pipe_limit_lbf": made.pipe_limit_lbf,
            "drag_limit_lbf": made.drag_limit_lbf,
            "drag_limited_by": made.drag_limited_by,
            "drag_basis": made.drag_basis.label,
            "drag_low_lbf": made.drag.low_lbf,
            "drag_expected_lbf": made.drag.expected_lbf,
            "drag_high_lbf": made.drag.high_lbf,
            "run_uncalibrated_lbf": made.run.expected_lbf / made.bias_factor,
            "parts": made.parts,
            "start_lbf": made.start_lbf,
            "end_lbf": made.end_lbf,
            "peak_ft": made.peak_ft,
            "squeeze_lbf": made.squeeze.with_bends_lbf if made.squeeze.shuts else None,
            "governs": {"name": made.governs.name, "margin": made.margin},
            "findings": findings_kept(made.findings),
            "bias_factor": made.bias_factor,
            "sigma_ln": made.sigma_ln,
            "calibration": made.calibration,
            "calibration_used": learned,
            "reach": longest_run(made.case, learned),
            "relief": _relief_kept(made, string),
        }
    )


def _relief_kept(made, string: ToolString) -> dict | None:
    """Return where to set the puller's relief, with the cylinder it holds for."""
    puller = string.first(Kind.PULLER)
    if puller is None:
        return None
    psi = relief_psi(
        made.limit_lbf, puller.cylinder_bore_in, puller.cylinder_rod_in, puller.cylinders
    )
    if psi is None:
        return None
    bore_in, rod_in = puller.cylinder_bore_in, puller.cylinder_rod_in
    return {"psi": psi, "bore_in": bore_in, "rod_in": rod_in, "cylinders": puller.cylinders}
