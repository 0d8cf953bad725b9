"""The contractor's own tools, the string put together for one pull, and its assembly checklist."""

from .assembly import assembly_answer_many
from .catalog import (
    component_add,
    component_correct,
    component_inspect,
    component_put_back,
    component_retire,
    component_show,
    rope_retires,
)
from .errors import ToolError
from .life import (
    WEAR_PARTS,
    component_renew,
    rating_paper_attach,
    rating_paper_confirm,
    tool_record_withdraw,
)
from .sets import tool_set_add, tool_set_facts_enter
from .strings import ProposedString, tool_string_propose, tool_string_record
