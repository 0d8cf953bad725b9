"""Closed block faces: recorded between house numbers or crossings, and withdrawn."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from difflib import get_close_matches
from typing import TYPE_CHECKING

from services_inventory.domain.addresses import normalize
from services_inventory.models import Batch, Premise
from services_inventory.refused import Refused

from ..domain.closures import Side
from ..models import StreetClosure

if TYPE_CHECKING:
    from shapely import Geometry

_FEET_A_DEGREE = 364_567  # of latitude, good to half a percent anywhere
CROSSING_FT = 300  # streets whose nearest houses lie farther apart do not cross
FACE_FT = 200  # houses on both sides of a stretch drawn along the middle of its street


def closure_record(
    *,
    street: str,
    start: str,
    end: str,
    side: str,
    first_day: date,
    last_day: date,
    by: str,
    at: datetime,
    reason: str = "",
    stretch: str = "",
    batch: Batch | None = None,
) -> StreetClosure:
    """Close a block face for some days.

    Parameters
    ----------
    start, end : house numbers, or the streets that cross there; both empty for the whole street
    stretch : instead of them, the part of the street as WKT in longitude and latitude

    Raises
    ------
    Refused: no such street, side, crossing or house; or the days run backward.
    """
    key = street_key_of(street)
    if side not in set(Side):
        raise Refused(f"A side is one of {', '.join(Side).lower()}.")
    if last_day < first_day:
        raise Refused("The last day is before the first.")
    first, last = _along(key, stretch) if stretch else _between(key, start.strip(), end.strip())
    made = StreetClosure(
        street_key=key, first_number=first, last_number=last, side=side, first_day=first_day,
        last_day=last_day, reason=" ".join(reason.split())[:200], batch=batch, recorded_by=by,
        recorded_at=at,
    )  # fmt: skip
    same = StreetClosure.objects.standing().filter(
        street_key=key, first_number=first, last_number=last, side=side, first_day=first_day,
        last_day=last_day,
    )  # fmt: skip
    if same.exists():
        raise Refused(f"{made.as_face.where} is closed for these days already.")
    made.save()
    return made


def closure_withdraw(*, closure: StreetClosure, by: str, at: datetime, reason: str) -> None:
    """Take a closure back, with a reason.

    Raises
    ------
    Refused: no reason is given, or it was taken back before.
    """
    if not reason.strip():
        raise Refused("Write why the closure is taken back.")
    if not StreetClosure.withdraw(closure.pk, by, at, reason):
        raise Refused(f"{closure.as_face.where} was taken back before: nothing changed.")


def street_key_of(street: str) -> str:
    """Return the key by which places know a street.

    Raises
    ------
    Refused: no place of the inventory is on it.
    """
    key = normalize(f"1 {street}").street_key
    if key and Premise.objects.filter(street_key=key).exists():
        return key
    known = Premise.objects.order_by().values_list("street_key", flat=True).distinct()
    near = get_close_matches((key or street).upper(), filter(None, known), 3, 0.6)
    meant = f" Is {' or '.join(near)} meant?" if near else ""
    raise Refused(f"No place of the inventory is on {street.strip()[:60]!r}.{meant}")


def _between(key: str, start: str, end: str) -> tuple[int | None, int | None]:
    if not start and not end:
        return None, None
    if not start or not end:
        raise Refused(
            "Give both ends: two house numbers, or two streets that cross; or neither, for the "
            "whole street."
        )
    if start.isdecimal() and end.isdecimal():
        first, last = sorted((int(start), int(end)))
        if last > 999_999:
            raise Refused(f"{last} is no house number.")
        return first, last
    if start.isdecimal() or end.isdecimal():
        raise Refused("Give two house numbers or two crossing streets, not one of each.")
    return _of_houses(key, _stretch_between(key, start, end), f"between {start} and {end}")


def _along(key: str, wkt: str) -> tuple[int, int]:
    import shapely

    try:
        return _of_houses(key, shapely.from_wkt(wkt), "along the line given")
    except shapely.errors.GEOSException:
        raise Refused(f"{wkt[:40]!r} is no line.") from None


def _stretch_between(key: str, start: str, end: str) -> Geometry:
    import shapely

    own = shapely.MultiPoint(_spots(key))
    ends = [_crossing(own, key, one) for one in (start, end)]
    stretch = shapely.LineString(ends)
    if not stretch.length:
        raise Refused("Both ends are the same crossing.")
    return stretch


def _crossing(own, key: str, other: str):
    """The middle between the nearest houses of two streets, which is where they cross."""
    import shapely

    theirs = shapely.MultiPoint(_spots(street_key_of(other)))
    if own.is_empty or theirs.is_empty:
        raise Refused("These streets have no positions: give house numbers.")
    gap = shapely.shortest_line(own, theirs)
    narrow = _plane(gap)
    if narrow.length > CROSSING_FT:
        raise Refused(
            f"{other} does not cross {key}: their nearest houses lie {narrow.length:,.0f} ft "
            "apart. Give house numbers."
        )
    return gap.interpolate(0.5, normalized=True)


def _of_houses(key: str, stretch, where: str) -> tuple[int, int]:
    """The least and greatest house number beside a stretch of a street."""
    import shapely

    beside, (across, along) = _plane(stretch).buffer(FACE_FT, cap_style="flat"), _scale(stretch)
    rows = Premise.objects.filter(
        street_key=key, latitude__isnull=False, house_number__isnull=False
    ).values_list("house_number", "longitude", "latitude")
    near = [
        number
        for number, lon, lat in rows
        if number is not None
        and lon is not None
        and lat is not None
        and shapely.intersects_xy(beside, lon * across, lat * along)
    ]
    if not near:
        raise Refused(f"No house of {key} lies {where}: give house numbers.")
    return min(near), max(near)


def _spots(key: str) -> Sequence[tuple[float | None, float | None]]:
    placed = Premise.objects.filter(street_key=key, latitude__isnull=False)
    return list(placed.values_list("longitude", "latitude"))


def _scale(shape) -> tuple[float, float]:
    from math import cos, radians

    return _FEET_A_DEGREE * cos(radians(shape.bounds[1])), _FEET_A_DEGREE


def _plane(shape):
    """The shape in feet, on a plane that is true within a town."""
    import shapely

    scale = _scale(shape)
    return shapely.transform(shape, lambda xy: xy * scale)
