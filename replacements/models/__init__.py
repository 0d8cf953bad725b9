"""Work orders and what comes back from them; every handed-in record is kept."""

from .access import Consent, ContactAttempt
from .completions import CompletionRecord, CompletionReview, Replacement
from .contractors import Certificate, Contractor, Crew, MaterialLot, Membership
from .pulls import ForceEstimateRecord, ModelCalibration, PullRecord
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
    "CompletionRecord",
    "CompletionReview",
    "Component",
    "ComponentInspection",
    "Consent",
    "ContactAttempt",
    "Contractor",
    "Crew",
    "ForceEstimateRecord",
    "MaterialLot",
    "Membership",
    "ModelCalibration",
    "PullRecord",
    "Replacement",
    "ToolStringPart",
    "ToolStringRecord",
    "WorkOrder",
    "WorkOrderChange",
    "WorkPackage",
]
