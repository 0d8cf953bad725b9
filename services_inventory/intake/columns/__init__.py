"""Which column of a file holds what: known fields, guessing, and the map a person can correct."""

from services_inventory.domain.columns import FIELDS, Field, ValueKind
from services_inventory.intake.columns.guessing import guess
from services_inventory.intake.columns.making import Made, made_of
from services_inventory.intake.columns.mapping import BadColumnMap, ColumnMap, MappedColumn
