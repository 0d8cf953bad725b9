"""Tool sets, and the set-up facts that their makers' instructions give."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime

from django.db import IntegrityError, transaction

from ...domain.tool_strings import BadSetUp, Fact, SizeGroup, refuse_set_up
from ...models import Contractor, ToolSet, ToolSetFacts
from .errors import ToolError


def tool_set_add(*, contractor: Contractor, name: str) -> ToolSet:
    """Add a tool set under the contractor's own name for it.

    Raises
    ------
    ToolError: it has no name, or the name is taken.
    """
    if not name.strip():
        raise ToolError("Give the tool set a name of your own.")
    try:
        with transaction.atomic():
            return ToolSet.objects.create(contractor=contractor, name=name.strip()[:60])
    except IntegrityError as error:
        raise ToolError(f"{contractor.name} has a tool set {name.strip()} already.") from error


def tool_set_facts_enter(
    *,
    tool_set: ToolSet,
    instructions: str,
    facts: Mapping[str, Fact],
    by: str,
    at: datetime,
    groups: Sequence[SizeGroup] = (),
) -> ToolSetFacts:
    """Enter what the maker's instructions of a set say; the entry before is kept.

    Parameters
    ----------
    instructions : what it was read from: title, edition, page

    Raises
    ------
    ToolError: no instructions are named, nothing is said, or a fact cannot be.
    """
    if not instructions.strip():
        raise ToolError("Name the maker's instructions: title, edition and page.")
    if not facts and not groups:
        raise ToolError("Nothing is entered; without an entry common practice holds.")
    try:
        refuse_set_up(facts, groups)
    except BadSetUp as error:
        raise ToolError(str(error)) from error
    return ToolSetFacts.objects.create(
        tool_set=tool_set,
        instructions=instructions.strip()[:200],
        facts={check: asdict(fact) for check, fact in facts.items()},
        groups=[
            {"old_in": list(group.old_in), "new_in": list(group.new_in)} for group in groups
        ] or None,
        entered_by=by,
        entered_at=at,
    )  # fmt: skip
