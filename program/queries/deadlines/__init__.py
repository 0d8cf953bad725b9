"""Everything that is due, from the facts in the record; what is done is left out."""

from .calendar import Deadlines, deadlines_on, overdue_count
from .chosen import Chosen, NothingFound, chosen_by
from .program_facts import program_fact
