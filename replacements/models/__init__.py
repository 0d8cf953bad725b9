"""Work orders and what comes back from them; every handed-in record is kept."""

from .access import Consent, ContactAttempt
from .completions import CompletionRecord, CompletionReview, Replacement
from .contractors import Certificate, Contractor, Crew, MaterialLot, Membership
from .devices import DeviceToken, SentOnce
from .ground import NearbyLine
from .owners import OwnerChange
from .payments import (
    ChangeOrder,
    ContractTerms,
    PayItem,
    PaymentStatement,
    StatementLine,
)
from .photos import PhotoFacts
from .pulls import ForceConstants, ForceEstimateRecord, ModelCalibration, PullRecord
from .tools import (
    AssemblyAnswer,
    Component,
    ComponentInspection,
    ToolStringPart,
    ToolStringRecord,
)
from .work_orders import WorkOrder, WorkOrderChange, WorkPackage

__all__ = [
    "AssemblyAnswer",
    "Certificate",
    "ChangeOrder",
    "CompletionRecord",
    "CompletionReview",
    "Component",
    "ComponentInspection",
    "Consent",
    "ContactAttempt",
    "ContractTerms",
    "Contractor",
    "Crew",
    "DeviceToken",
    "ForceConstants",
    "ForceEstimateRecord",
    "MaterialLot",
    "Membership",
    "ModelCalibration",
    "NearbyLine",
    "OwnerChange",
    "PayItem",
    "PaymentStatement",
    "PhotoFacts",
    "PullRecord",
    "Replacement",
    "SentOnce",
    "StatementLine",
    "ToolStringPart",
    "ToolStringRecord",
    "WorkOrder",
    "WorkOrderChange",
    "WorkPackage",
]
