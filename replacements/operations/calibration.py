"""What a named person puts into use of the force model: factors that pulls taught, and constants.

Nothing goes into use by itself, and nothing changes an estimate that was made before.
"""

from collections.abc import Mapping
from datetime import datetime

from services_inventory.refused import Refused

from ..domain.pull_force import ParameterSet, soils
from ..domain.ropes import design_factor_floor
from ..domain.tool_strings import StringLimits
from ..models import ForceConstants, ModelCalibration
from ..queries.learning import learned_now, taught
from ..queries.planned_pull import string_limits_on
from ..queries.pulls import constants_at
from ..queries.stored import plain
from .work_orders import day_of


def calibration_put_in_use(*, soil: str, by: str, at: datetime, reason: str) -> ModelCalibration:
    """Put into use what all logged pulls in a soil teach now; estimates from now on follow it.

    Raises
    ------
    Refused: there is no such soil, no pull in it that says anything, nothing new, or no reason is
        given.
    """
    reason = _reason(reason)
    _refuse_soil(soil)
    constants = constants_at(at)
    learned = learned_now(taught(constants), constants).get(soil)
    if learned is None:
        raise Refused(f"No pull in {soils()[soil].name} has been accepted yet.")
    last = ModelCalibration.objects.filter(soil=soil).order_by("-made_at", "-id").first()
    if last is not None and last.result == plain(learned):
        raise Refused("That is in use already; no pull was added since.")
    return ModelCalibration.objects.create(
        soil=soil, made_at=at, pulls=learned.n, result=plain(learned),
        put_in_use_by=by, reason=reason,
    )  # fmt: skip


def calibration_take_out(*, soil: str, by: str, at: datetime, reason: str) -> ModelCalibration:
    """Take a soil back to the plain model; estimates made meanwhile stay as they are.

    Raises
    ------
    Refused: nothing is in use for the soil, or no reason is given.
    """
    reason = _reason(reason)
    _refuse_soil(soil)
    last = ModelCalibration.objects.filter(soil=soil).order_by("-made_at", "-id").first()
    if last is None or not last.result:
        raise Refused(f"No learned factor is in use for {soils()[soil].name}.")
    return ModelCalibration.objects.create(
        soil=soil, made_at=at, pulls=0, result={}, put_in_use_by=by, reason=reason
    )


def constants_put_in_use(
    *,
    values: Mapping[str, tuple[float, float, float]],
    by: str,
    at: datetime,
    reason: str,
    string_limits: Mapping[str, float] | None = None,
) -> ForceConstants:
    """Put the utility's own constants and limits of tool strings into use, from now on.

    Parameters
    ----------
    values : (low, value, high) by code of each constant that is to differ from the shipped one;
        none of them takes all back to the shipped
    string_limits : fields of `StringLimits` that are to differ from the shipped ones

    Raises
    ------
    Refused: a constant cannot be, nothing would change, or no reason is given.
    """
    reason = _reason(reason)
    try:
        made = ParameterSet().with_ranges(values)
        limits = StringLimits(**(string_limits or {}))
    except (TypeError, ValueError) as error:
        raise Refused(str(error)) from error
    if limits.design_factor < design_factor_floor():
        raise Refused(
            f"A design factor of {limits.design_factor:g} is below the floor of "
            f"{design_factor_floor():g}."
        )
    if made["USE_CAUTION"] > made["USE_STOP"]:
        raise Refused("Caution must come before stop: its use is above that of the stop.")
    if (made.id, limits) == (constants_at(at).id, string_limits_on(day_of(at))):
        raise Refused("These are the constants in use already; nothing is changed.")
    return ForceConstants.objects.create(
        parameter_set=made.id,
        values={code: list(three) for code, three in values.items()},
        string_limits=dict(string_limits or {}),
        reason=reason,
        put_in_use_by=by,
        put_in_use_at=at,
    )


def _reason(reason: str) -> str:
    if not reason.strip():
        raise Refused("Say why; the reason stays on record with your name.")
    return reason.strip()[:200]


def _refuse_soil(soil: str) -> None:
    if soil not in soils():
        raise Refused(f"There is no soil {soil!r}; there are {', '.join(soils())}.")
