"""The record: append-only evidence, and the standing that follows from it."""

from .batches import Batch, HeldRow, SavedColumns
from .evidence import Conflict, Document, Evidence, LineDocument, Proposal
from .facts import KnownFact, KnownSum
from .feeds import Feed
from .inspections import InspectionOrder
from .lines import CategoryChange, Decision, ServiceLine
from .matching import MatchDecision, MatchQuestion, MatchUse
from .own_words import OwnWord
from .places import Neighborhood, Premise, PremiseChange
from .said_categories import SaidCategory
from .sent_once import SentOnce
from .validation import ValidationDraw, ValidationPick
