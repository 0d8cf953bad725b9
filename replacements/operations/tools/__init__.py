"""The contractor's own tools, the string put together for one pull, and its assembly checklist."""

from .assembly import assembly_answer, assembly_answer_many
from .catalog import (
    component_add,
    component_correct,
    component_inspect,
    component_retire,
    rope_retires,
)
from .errors import ToolError
from .strings import ProposedString, facing_default, tool_string_propose, tool_string_record

__all__ = [
    "ProposedString",
    "ToolError",
    "assembly_answer",
    "assembly_answer_many",
    "component_add",
    "component_correct",
    "component_inspect",
    "component_retire",
    "facing_default",
    "rope_retires",
    "tool_string_propose",
    "tool_string_record",
]
