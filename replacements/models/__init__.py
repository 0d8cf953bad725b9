"""Work orders and what comes back from them; every handed-in record is kept."""

from .access import Appointment, Consent, ContactAttempt, Person
from .closures import StreetClosure
from .completions import CompletionRecord, CompletionReview, Replacement
from .contractors import Certificate, Contractor, Crew, MaterialLot, Membership
from .devices import DeviceToken
from .ground import NearbyLine
from .owners import OwnerChange
from .payments import (
    ChangeOrder,
    ContractTerms,
    PayItem,
    PaymentStatement,
    StatementLine,
    StatementNote,
)
from .photos import PhotoFacts
from .pulls import (
    ForceConstants,
    ForceEstimateRecord,
    LiveFeed,
    LiveSample,
    ModelCalibration,
    PullExplanation,
    PullRecord,
)
from .reinspections import Reinspection, ReinspectionDraw
from .tool_life import ComponentInspection, ComponentRenewal, RatingPaper, ToolSet, ToolSetFacts
from .tools import AssemblyAnswer, Component, ComponentChange, ToolStringPart, ToolStringRecord
from .work_orders import WorkOrder, WorkOrderChange, WorkPackage
