"""Everything that is due, for the program, a line, an address or a person, as one calendar.

Each clock starts with a fact; the fact knows which days follow from it, by which rule, and says
how each day was computed. Nothing here reads a clock: the day is a parameter.
"""

from program.domain.deadlines.due import (
    Due,
    DueState,
    Subject,
    SubjectKind,
    calendar_of,
    keep_until,
)
from program.domain.deadlines.feed import to_ics
from program.domain.deadlines.groups import Group, grouped
from program.domain.deadlines.notices import (
    Discovery,
    Inquiry,
    InventoryFinished,
    NewCustomer,
    OwnerChange,
    SampleResult,
    YearlyNotice,
)
from program.domain.deadlines.program_days import Program
from program.domain.deadlines.sampling import (
    CopperExceedance,
    HighSite,
    LeadExceedance,
    MonitoringPeriod,
    YearlyOutreach,
)
from program.domain.deadlines.works import (
    CustomerStarted,
    Disturbance,
    DisturbanceKind,
    ReplacementWork,
    WorkKind,
    follow_up_sample,
)
