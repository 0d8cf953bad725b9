"""Reading a pull log from the CSV file of a data logger."""

import hashlib
import os
from collections.abc import Mapping
from typing import BinaryIO

from replacements.domain.units import FACTORS

from .cleaning import Cleaner, drop_negative, order_distances, order_times, refuse_unreadable
from .columns import guess_columns
from .encoding import SIZE_LIMIT_BYTES, content_of, text_of
from .layout import Layout, layout_of
from .log import Column, Cylinder, PullLog, PullLogError
from .rules import EventRules, shipped_rules
from .values import raw_values


def read(
    file: str | os.PathLike | BinaryIO,
    *,
    columns: Mapping[str, object] | None = None,
    cylinder: Cylinder | None = None,
    free_pressure_psi: float = 0.0,
    size_limit_bytes: int = SIZE_LIMIT_BYTES,
    rules: EventRules | None = None,
) -> PullLog:
    """Read the log of one pull.

    Parameters
    ----------
    file : path, or file open in binary
    columns : role (time, force, distance) to header text, or index from 0, or to a pair of
        either and a unit; what is not told is guessed
    cylinder : the puller, needed when the log holds pressure
    free_pressure_psi : gauge pressure while moving without load, psi
    size_limit_bytes : a larger file is refused before it is read

    Returns
    -------
    PullLog, forces in lbf, distances in ft, times in s from the first sample

    Raises
    ------
    PullLogError: the file is empty, too large, of another kind or not text; a column is missing
        or mixes units; values cannot be of their unit; time or distance run backwards; too few
        rows can be read. The sentence names the row and says what to do.
    """
    rules = rules or shipped_rules()
    content = content_of(file, size_limit_bytes)
    text = text_of(content)
    layout, found, unused = _understand(text, columns)
    cleaner = Cleaner(raw_values(text, layout, found), rules)
    refuse_unreadable(cleaner)
    drop_negative(cleaner, found["force"])
    _convert(cleaner, found, cylinder, free_pressure_psi)
    order_times(cleaner, found["time"])
    order_distances(cleaner)
    refuse_unreadable(cleaner)
    return PullLog(
        time_s=cleaner.time,
        force_lbf=cleaner.force,
        distance_ft=cleaner.distance,
        row=cleaner.row,
        columns=found,
        sha256=hashlib.sha256(content).hexdigest(),
        notes=tuple(cleaner.notes),
        raw_count=cleaner.raw_count,
        missing_share=cleaner.missing_share(),
        interval_s=cleaner.interval_s,
        unused=unused,
    )


def columns_of(
    file: str | os.PathLike | BinaryIO,
    *,
    columns: Mapping[str, object] | None = None,
    size_limit_bytes: int = SIZE_LIMIT_BYTES,
) -> dict[str, Column]:
    """Show how the columns of a log would be understood, before the puller is known.

    Raises
    ------
    PullLogError: as `read`.
    """
    return _understand(text_of(content_of(file, size_limit_bytes)), columns)[1]


def _understand(
    text: str, columns: Mapping[str, object] | None
) -> tuple[Layout, dict[str, Column], tuple[str, ...]]:
    layout = layout_of(text, columns)
    found, unused = guess_columns(layout.header, layout.sample, layout.unit_row, columns)
    return layout, found, unused


def _convert(
    cleaner: Cleaner,
    found: Mapping[str, Column],
    cylinder: Cylinder | None,
    free_pressure_psi: float,
) -> None:
    import numpy as np

    time, force, distance = found["time"], found["force"], found["distance"]
    cleaner.time = cleaner.time * FACTORS["TIME"].get(time.unit, 1.0)
    cleaner.force = cleaner.force * FACTORS[force.quantity][force.unit]
    cleaner.distance = cleaner.distance * FACTORS["DISTANCE"][distance.unit]
    if force.quantity == "PRESSURE":
        _refuse_beyond(cleaner, cleaner.force, force, "pressure_max_psi", "psi")
        factor = _lbf_per_psi(force, cylinder)
        if not 0 <= free_pressure_psi < cleaner.rules["pressure_max_psi"]:
            raise PullLogError(
                f"The free-running pressure must be zero or more psi, not {free_pressure_psi:g}."
            )
        cleaner.force = np.maximum(cleaner.force - free_pressure_psi, 0.0) * factor
    _refuse_beyond(cleaner, cleaner.force, force, "force_max_lbf", "lbf")
    _refuse_beyond(cleaner, np.abs(cleaner.distance), distance, "distance_max_ft", "ft")


def _lbf_per_psi(column: Column, cylinder: Cylinder | None) -> float:
    if cylinder is None:
        raise PullLogError(
            f"The column {column.header!r} holds pressure. Give the puller's bore, rod and "
            "efficiency, so that it can be turned into force."
        )
    try:
        return cylinder.lbf_per_psi()
    except ValueError as error:
        raise PullLogError(f"The puller's measures cannot be right: {error}") from error


def _refuse_beyond(cleaner: Cleaner, values, column: Column, key: str, unit: str) -> None:
    over = values > cleaner.rules[key]
    # A single leap of a counter is cleaned later; a column of them is the wrong unit.
    single = column.role == "distance" and over.sum() <= max(3, 0.001 * len(over))
    if over.any() and not single:
        at = int(over.argmax())
        raise PullLogError(
            f"Row {cleaner.row[at]}: {column.header!r}, read as {column.unit}, gives "
            f"{values[at]:,.0f} {unit}, more than the {cleaner.rules[key]:,.0f} {unit} any puller "
            f"or line of this kind has. The values look like another unit: say which."
        )
