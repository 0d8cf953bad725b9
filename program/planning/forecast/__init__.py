"""Will the plan hold: thousands of possible programs, each played through year by year.

What is not known is drawn: the share of lead among unknown lines of each neighborhood, the share
of owners who refuse, what a crew-day yields, how many days weather takes, and what a job costs. The
cumulative average rate of every run, with the years now over, is compared with the one required.
"""

from program.planning.forecast.case import (
    ANY_SHARE,
    BadForecast,
    ForecastCase,
    ForecastGroup,
    Uncertainty,
)
from program.planning.forecast.crews import CrewsNeeded, crews_needed
from program.planning.forecast.odds import QUANTILES, Forecast, cut_off, forecast
