"""Pull logs: reading what a puller's logger wrote, what happened in the pull, whether it holds.

log = read(path, cylinder=Cylinder(bore_in=3.25, rod_in=1.5, efficiency=0.92))
assessment = assess(log, expected_length_ft=60, limit_lbf=3840)
assessment.verdict, assessment.findings, assessment.metrics
"""

from replacements.domain.units import FACTORS as UNITS

from .chart import log_chart_svg, pulled
from .events import Event, EventKind
from .log import CleaningNote, Column, Cylinder, PullLog, PullLogError
from .metrics import PullMetrics
from .reading import columns_of, read
from .rules import EventRules, event_rules, shipped_rules
from .verdict import LogVerdict, PullAssessment, assess, examine
