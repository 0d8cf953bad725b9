"""Checking rows: every cell typed and judged, all problems of a row collected.

Rows are checked in batches, column by column, and each distinct word, date or size is read
once. Nothing here knows the database.
"""

from services_inventory.intake.checking.batches import CheckedBatch
from services_inventory.intake.checking.problems import RowProblem
from services_inventory.intake.checking.repeats import Repeats
from services_inventory.intake.checking.rows import RowChecker
