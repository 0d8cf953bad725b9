"""What logs of pulls teach: how far the estimate was off in each soil, how pulls scatter, and how
well the ranges given before each pull have held.
"""

from replacements.domain.learning.belief import (
    Belief,
    Prior,
    after_agreeing,
    beliefs,
    planning_prior,
    posterior,
)
from replacements.domain.learning.calibration import Calibration, Observation, calibrate, narrowing
from replacements.domain.learning.chart import narrowing_chart_svg
from replacements.domain.learning.score import AgainstRange, Scored, Scores, score
