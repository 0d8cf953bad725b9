"""The ground round a pull: other utilities inside its reach, cover, heave and frost."""

from replacements.domain.ground.clearance import (
    check_clearances,
    clearance_in,
    required_separation_in,
)
from replacements.domain.ground.rules import ground_rule
from replacements.domain.ground.run import GroundCondition, GroundOfRun, check_ground
from replacements.domain.ground.surface import (
    Surface,
    check_cover,
    check_heave,
    heave_free_cover_ft,
)
from replacements.domain.other_lines import OtherLine, UtilityKind
