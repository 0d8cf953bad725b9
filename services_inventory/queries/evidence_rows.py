"""Rows of evidence as the database gives them, and as the domain weighs them."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.utils.timezone import localtime

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
    values = dict(zip(COLUMNS, row, strict=True))
    return EvidenceRecord(
        id=values["id"],
        portion=Portion(values["portion"]),
        material=Material(values["material"]) if values["material"] else None,
        basis=Basis(values["basis"]),
        recorded_at=localtime(moment_of(values["recorded_at"])),
        era=Era(values["era"]),
        points_seen=values["points_seen"],
        place=values["place"],
        observed_on=day_of(values["observed_on"]),
        installed_on=day_of(values["installed_on"]),
        installed_year=values["installed_year"],
        diameter_in=values["diameter_in"],
        length_ft=values["length_ft"],
        every_earlier_pipe=bool(values["every_earlier_pipe"]),
        below_lead=bool(values["below_lead"]),
        withdraws=values["withdraws_id"],
        resolves=Material(values["resolves"]) if values["resolves"] else None,
        both_true=bool(values["both_true"]),
        counts_from=day_of(values["counts_from"]),
    )


def day_of(value) -> Any:
    """Return a day, or None, as the driver gave it, text or date."""
    return date.fromisoformat(value) if isinstance(value, str) else value


def moment_of(value) -> datetime:
    """Return an aware moment as the driver gave it, text or datetime."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    return value if value.tzinfo else value.replace(tzinfo=_UTC)


_UTC = datetime.fromisoformat("2000-01-01T00:00:00+00:00").tzinfo
