"""The bases of evidence: records, inspections and methods, and what each can show."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from services_inventory.domain.reference import toml_of
from services_inventory.domain.words import Reading, read


class Basis(StrEnum):
    """How a material is known."""

    REPLACEMENT = "REPLACEMENT"
    EXCAVATION = "EXCAVATION"
    VISUAL_INSPECTION = "VISUAL_INSPECTION"
    SCRATCH_MAGNET = "SCRATCH_MAGNET"
    CCTV = "CCTV"
    RECORD_INSTALLATION = "RECORD_INSTALLATION"
    RECORD_TAP_CARD = "RECORD_TAP_CARD"
    RECORD_PERMIT = "RECORD_PERMIT"
    RECORD_DRAWING = "RECORD_DRAWING"
    RECORD_METER = "RECORD_METER"
    RECORD_OTHER = "RECORD_OTHER"
    INSTALL_DATE = "INSTALL_DATE"
    WATER_SAMPLING = "WATER_SAMPLING"
    DIAMETER = "DIAMETER"
    AFFIDAVIT = "AFFIDAVIT"
    CUSTOMER_REPORT = "CUSTOMER_REPORT"
    PREDICTIVE_MODEL = "PREDICTIVE_MODEL"
    NOT_STATED = "NOT_STATED"

    @property
    def traits(self) -> "Traits":
        """What this basis can show."""
        return bases()[self]

    @property
    def label(self) -> str:
        """The words a person reads."""
        return self.traits.label


@dataclass(frozen=True)
class Traits:
    """What one basis can show; see `reference/bases.toml` for the meaning of each."""

    label: str
    strength: int
    inspection: bool
    exterior: bool
    record: bool
    supports_non_lead: str
    note: str

    @property
    def needs_approval(self) -> bool:
        """Whether it shows non-lead only once the State has approved it."""
        return self.supports_non_lead == "IF_APPROVED"

    @property
    def alone_shows_non_lead(self) -> bool:
        """Whether it shows non-lead without a date, a size or an approval."""
        return self.supports_non_lead == "YES"

    @property
    def verified(self) -> bool:
        """Whether it is a record or an inspection, and not somebody's word or a calculation."""
        return self.record or self.inspection


@cache
def bases() -> dict[str, Traits]:
    """The table of bases, strongest first."""
    content = toml_of("services_inventory", "bases.toml")
    return {Basis(code): Traits(**row) for code, row in content.items()}


def read_basis(text: str | None) -> Reading:
    """The code of the basis that the words name, or the reason why a person decides."""
    return read(text, "basis_words.csv")
