"""Evidence about a line, and how many records per portion become one material.

Evidence is append-only. `weigh` gives one line's facts with reasons; `signature` and `stand`
give the facts alone, for a caller that weighs many lines and keeps the result of each signature.
"""

from services_inventory.domain.evidence.bases import (
    Basis,
    Traits,
    bases,
    basis_from_words,
    read_basis,
)
from services_inventory.domain.evidence.records import (
    Era,
    EvidencePolicy,
    EvidenceRecord,
    Portion,
    contradictions,
    lead_ban_date,
)
from services_inventory.domain.evidence.reducing import Signature, shown_by, signature
from services_inventory.domain.evidence.standing import PoolStatus, Standing, stand
from services_inventory.domain.evidence.weighing import (
    Conflict,
    PortionStanding,
    Review,
    ReviewKind,
    Weighed,
    facts_by_portion,
    weigh,
)

__all__ = [
    "Basis",
    "Conflict",
    "Era",
    "EvidencePolicy",
    "EvidenceRecord",
    "PoolStatus",
    "Portion",
    "PortionStanding",
    "Review",
    "ReviewKind",
    "Signature",
    "Standing",
    "Traits",
    "Weighed",
    "bases",
    "basis_from_words",
    "contradictions",
    "facts_by_portion",
    "lead_ban_date",
    "read_basis",
    "shown_by",
    "signature",
    "stand",
    "weigh",
]
