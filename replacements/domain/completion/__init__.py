"""Quality of a finished replacement: tests, disinfection, flushing, lead taken out, photos, papers.

Which checks are mandatory is a utility's own choice (`completion_requirements.csv` with its
overrides). A mandatory check that is missing or fails is a STOP, any other a CAUTION. What the
rule asks for before water returns to the house can't be waived; its values are passed in with
their citation.
"""

from .checks import check
from .facts import (
    CompletionFacts,
    Disinfection,
    Flush,
    Household,
    LeadRemoved,
    PressureTest,
    Quality,
    TracerTest,
)
from .requirements import (
    BadCompletion,
    CompletionRequirements,
    Requirement,
    disinfection_choices,
    disinfection_words,
    flushing_values,
    shipped_requirements,
)
from .service_return import AfterRules, return_to_service_findings, sample_findings, sample_window
from .water import PressureTestPlan, flush_rate_gpm, pressure_test_plan, water_volume_gal
