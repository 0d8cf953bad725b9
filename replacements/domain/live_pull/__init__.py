"""A pull while it happens: from the samples that came to what a page may say of them.

state = live_state(plan, samples, peak=(1240.0, 12.1), age_s=0.8)
state.word, state.force_lbf, state.sentences, state.ahead

It never replaces the gauge or the relief valve.
"""

from .plan import BandPoint, LivePlan, Mark, live_plan
from .samples import Sample, clock_zero_s, highest, in_order, is_covered, reached_ft, trace_with
from .state import Ahead, LiveState, Word, live_state
from .strip import live_strip_svg
