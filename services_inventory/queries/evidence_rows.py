"""Rows of evidence as the database gives them, and as the domain weighs them."""

from collections.abc import Sequence
from datetime import date, datetime
from enum import StrEnum
from functools import lru_cache
from typing import Any

from django.utils.timezone import get_default_timezone

from ..domain.evidence import Basis, Era, EvidenceRecord, Portion
from ..domain.materials import Material

COLUMNS = (
    "id portion material basis era points_seen place observed_on installed_on installed_year "
    "diameter_in length_ft every_earlier_pipe below_lead withdraws_id resolves recorded_at "
    "batch_id both_true counts_from"
).split()


def record_of(row: Sequence) -> EvidenceRecord:
    """Return the domain's record of an evidence row in the order of its columns.

    The moment of record is given in the utility's time zone, as its day is the utility's.
    """
    (
        id_, portion, material, basis, era, points_seen, place, observed_on, installed_on,
        installed_year, diameter_in, length_ft, every_earlier_pipe, below_lead, withdraws, resolves,
        recorded_at, _batch, both_true, counts_from,
    ) = row  # fmt: skip
    return EvidenceRecord(
        id=id_,
        portion=_PORTIONS[portion],
        material=_MATERIALS[material] if material else None,
        basis=_BASES[basis],
        recorded_at=_local(recorded_at, get_default_timezone()),
        era=_ERAS[era],
        points_seen=points_seen,
        place=place,
        observed_on=day_of(observed_on),
        installed_on=day_of(installed_on),
        installed_year=installed_year,
        diameter_in=diameter_in,
        length_ft=length_ft,
        every_earlier_pipe=bool(every_earlier_pipe),
        below_lead=bool(below_lead),
        withdraws=withdraws,
        resolves=_MATERIALS[resolves] if resolves else None,
        both_true=bool(both_true),
        counts_from=day_of(counts_from),
    )


class _ByCode(dict[str, Any]):
    """Members by their codes: calling an enumeration costs more than the rest of a field."""

    def __init__(self, codes: type[StrEnum]):
        super().__init__({member.value: member for member in codes})
        self._codes = codes

    def __missing__(self, code: str) -> StrEnum:
        return self._codes(code)  # which says as a ValueError that it has no such member


_PORTIONS, _BASES, _ERAS, _MATERIALS = map(_ByCode, (Portion, Basis, Era, Material))


@lru_cache(maxsize=4_096)
def _local(value, zone) -> datetime:
    """A moment in the utility's time zone; a batch records all its rows at one."""
    return moment_of(value).astimezone(zone)


def day_of(value) -> Any:
    """Return a day, or None, as the driver gave it, text or date."""
    return date.fromisoformat(value) if isinstance(value, str) else value


def moment_of(value) -> datetime:
    """Return an aware moment as the driver gave it, text or datetime."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    return value if value.tzinfo else value.replace(tzinfo=_UTC)


_UTC = datetime.fromisoformat("2000-01-01T00:00:00+00:00").tzinfo
