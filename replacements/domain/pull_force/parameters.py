"""The force model's parameters: default, plausible range, mark and source of each.

Nothing here is a measurement of this line. No load-cell series for slitting small lead pipe has
been published, so most defaults are proposals that the utility owns and replaces as its own
pulls teach it. The shipped values are `replacements/reference/force_parameters.csv`.
"""

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from types import MappingProxyType

from replacements.domain.parameters import Parameter, load_parameters
from replacements.domain.reference_tables import rows

# Raise it when the algebra changes, so that estimates before and after are told apart.
MODEL = "2"


def shipped_parameters() -> Mapping[str, Parameter]:
    """Return the force model's shipped parameters by code."""
    return load_parameters("force_parameters")


@dataclass(frozen=True)
class ParameterSet:
    """The constants an estimate was made with; their id is stored beside the estimate.

    Two sets with the same values have the same id on every machine, so an old estimate can
    always be told from one made after the utility, or a new version, changed a value.
    """

    parameters: Mapping[str, Parameter] = field(default_factory=shipped_parameters)

    def __getitem__(self, code: str) -> float:
        return self.parameters[code].default

    def with_values(self, values: Mapping[str, float]) -> "ParameterSet":
        """Return the set with the utility's own, or this pull's measured, values.

        A value that was given is no longer an unknown: its range closes on it.

        Raises
        ------
        ValueError: if a code is not a parameter of the model; the sentence lists what there is.
        """
        changed = dict(self.parameters)
        for code, value in values.items():
            if code not in changed:
                raise ValueError(
                    f"The force model has no parameter {code!r}; it has {', '.join(changed)}."
                )
            changed[code] = replace(
                changed[code],
                default=float(value),
                low=float(value),
                high=float(value),
                mark="own",
                source="Value given for this pull.",
            )
        return ParameterSet(MappingProxyType(changed))

    def with_ranges(self, values: Mapping[str, tuple[float, float, float]]) -> "ParameterSet":
        """Return the set with the utility's own (low, default, high) of some constants.

        Raises
        ------
        ValueError: if a code is not a parameter, or the three cannot be; the sentence says which
            and why.
        """
        changed = dict(self.parameters)
        for code, (low, default, high) in values.items():
            if code not in changed:
                raise ValueError(f"The force model has no parameter {code!r}.")
            _refuse_range(changed[code], low, default, high)
            changed[code] = replace(
                changed[code],
                low=float(low),
                default=float(default),
                high=float(high),
                mark="own",
                source="Put into use by the utility.",
            )
        return ParameterSet(MappingProxyType(changed))

    @cached_property
    def id(self) -> str:
        """Twelve characters that change with any default, range, soil class or the model."""
        lines = [
            f"{code}={p.default!r},{p.low!r},{p.high!r}"
            for code, p in sorted(self.parameters.items())
        ]
        text = "\n".join([MODEL, *lines, *_soil_lines()])
        return hashlib.sha256(text.encode()).hexdigest()[:12]


# Shares and factors of safety that must not pass 1.
SHARES = frozenset(
    "USE_STOP USE_CAUTION GRIP_EFFICIENCY CONTACT_FRACTION PULL_OUT_FRACTION "
    "SAND_MOBILIZATION LATERAL_RATIO".split()
)


def _refuse_range(shipped: Parameter, low: float, default: float, high: float) -> None:
    """Refuse three figures that cannot be, or that look like another unit's."""
    if not (math.isfinite(high) and 0 < low <= default <= high):
        raise ValueError(
            f"{shipped.name}: low, value and high must rise and lie above zero, not {low:g}, "
            f"{default:g}, {high:g}."
        )
    if shipped.code in SHARES and high > 1:
        raise ValueError(f"{shipped.name} is a share and cannot be above 1, not {high:g}.")
    if not shipped.default / 10 <= default <= shipped.default * 10:
        raise ValueError(
            f"{shipped.name}: {default:g} is more than ten times off the shipped "
            f"{shipped.default:g} {shipped.unit}; was it given in another unit?"
        )


@cache
def _soil_lines() -> tuple[str, ...]:
    prose = {"name", "mark", "source"}
    return tuple(
        ",".join(value for name, value in row.items() if name not in prose) for row in rows("soils")
    )
