"""Evidence about a line, and how many records per portion become one material.

Evidence is append-only. `weigh` gives one line's facts with reasons; `reduce` and `stand` give
the facts alone, for `queries.weigher`, which keeps the result of each signature.
"""

from services_inventory.domain.evidence.bases import (
    Basis,
    Traits,
    bases,
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
from services_inventory.domain.evidence.reducing import (
    Fact,
    Reduced,
    Signature,
    reduce,
    shown_by,
    signature,
)
from services_inventory.domain.evidence.standing import PoolStatus, PortionResult, Standing, stand
from services_inventory.domain.evidence.weighing import (
    Conflict,
    PortionStanding,
    Review,
    ReviewKind,
    Weighed,
    conflicts,
    explained,
    weigh,
)
