"""The whole check of a tool string: is it right for these two pipes, and what limits it?"""

from replacements.domain.findings import Finding, by_severity
from replacements.domain.pipes import Pipe
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.components import ToolString
from replacements.domain.tool_strings.condition import condition_findings
from replacements.domain.tool_strings.geometry import (
    blade_findings,
    collar_findings,
    dimension_findings,
    entry_findings,
    expansion_findings,
    pipe_findings,
    set_findings,
    size_findings,
    threading_findings,
)
from replacements.domain.tool_strings.load import limit_findings, rating_findings
from replacements.domain.tool_strings.order import cable_end_findings, order_findings

CHECKS = (
    pipe_findings,
    order_findings,
    cable_end_findings,
    dimension_findings,
    threading_findings,
    blade_findings,
    expansion_findings,
    collar_findings,
    size_findings,
    set_findings,
    entry_findings,
    rating_findings,
    limit_findings,
    condition_findings,
)


def check(tool_string: ToolString, old_pipe: Pipe, new_pipe: Pipe, **known) -> list[Finding]:
    """Return all that is to be said of a string, most severe first; never raises on any parts.

    known : the further fields of `StringCase`, such as length_ft, as_of, total_force_lbf
    """
    case = StringCase(tool_string=tool_string, old_pipe=old_pipe, new_pipe=new_pipe, **known)
    return check_case(case)


def check_case(case: StringCase) -> list[Finding]:
    """Return all that is to be said of a case, most severe first."""
    return by_severity([found for examine in CHECKS for found in examine(case)])
