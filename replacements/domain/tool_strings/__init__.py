"""The tool string: the contractor's tools in order, what is right or wrong with them, a drawing.

cable, blade, pre-expander, spacer, expander, jaw set, retaining nut, swivel, pipe puller, new
pipe: read from the puller at the receiving pit. Sources on every row of
`replacements/reference/string_rules.csv` and `assembly_checks.csv`.
"""

from replacements.domain.findings import Finding, Level
from replacements.domain.tool_strings.assembly import (
    Answer,
    AssemblyCheck,
    JudgedRow,
    UnknownCheck,
    assembly_checks,
    checks_for,
    judge_rows,
)
from replacements.domain.tool_strings.builder import Proposal, propose
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.checks import check, check_case
from replacements.domain.tool_strings.components import (
    MEASURES,
    NEEDED,
    BadComponent,
    CableEnd,
    Component,
    Facing,
    Kind,
    Part,
    ToolString,
    Wear,
    component_from,
    tool_named,
    tool_string,
)
from replacements.domain.tool_strings.load import PartLimit, StringStrength, strength
from replacements.domain.tool_strings.order import Need, Requirement, parts_of, required_kinds
from replacements.domain.tool_strings.rules import StringLimits
from replacements.domain.tool_strings.schematic import key_told, named, places, side_view
from replacements.domain.tool_strings.setup import (
    NO_SET,
    BadSetUp,
    Fact,
    SetUp,
    SizeGroup,
    refuse_set_up,
    shipped_groups,
)
