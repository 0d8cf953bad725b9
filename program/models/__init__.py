"""Statements about the inventory and the work: frozen pools, submissions, plans, notices."""

from .customers import CustomerWork, CustomerWorkStep, Inquiry
from .deadlines import DoneMark
from .kept_views import KeptView
from .layouts import LayoutVersion
from .notices import DeliveryCorrection, Notice, NoticeBatch, NoticeReturn, NoticeSlot, SentAgain
from .outreach import Audience, OutreachAct, OutreachPartner
from .people import (
    MapKey,
    PeopleChange,
    PersonalOpened,
    Purge,
    RecoveryCode,
    SignedIn,
    Telephone,
)
from .plan_documents import PlanDocument, PlanStatement, PlanText
from .plans import InspectionDraw, LostDay, Plan, PlanAdoption, PlanArea, PlanAreaLine, PlanEdit
from .pools import PoolFreeze, PoolLine
from .sampling import Exceedance, Invalidation, ResultFile, SamplingPeriod, TapResult
from .seals import Proof, RowDigests, RowDigestsTaken, Seal, WrittenRow
from .submissions import Submission, SubmissionFile, ValueTick
from .utility import FirstHourSkip, OwnValue, Utility
