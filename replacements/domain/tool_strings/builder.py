"""Proposing a string for two pipes from the contractor's own tools, by geometry and load.

Every tool is tried against the same checks that judge a finished string; among those that pass,
the fewest cautions win, then the figure nearest to the aim, then a rating that does not make the
part weaker than the cable, then the fewest pulls since it was inspected, then the contractor's
mark; never the highest rating. The same tools always give the same string.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import combinations, pairwise
from math import sqrt

from replacements.domain.findings import Finding, Level
from replacements.domain.pipes import Pipe
from replacements.domain.tool_strings.case import StringCase
from replacements.domain.tool_strings.checks import check_case
from replacements.domain.tool_strings.components import (
    CableEnd,
    Component,
    Facing,
    Kind,
    ToolString,
    tool_string,
)
from replacements.domain.tool_strings.condition import wear_share
from replacements.domain.tool_strings.load import ON_THE_DRAG_SIDE, part_limit_lbf
from replacements.domain.tool_strings.order import PLACE, Need, Requirement, required_kinds
from replacements.domain.units import inches
from services_inventory.domain.certain import certain

# The expander is chosen first, as blade, pre-expander and collar are measured against it.
_CHOICE_ORDER = (
    Kind.BLADE,
    Kind.PRE_EXPANDER,
    Kind.SPACER,
    Kind.PIPE_PULLER,
    Kind.CABLE,
    Kind.ROD,
    Kind.PULLER,
    Kind.JAW_SET,
    Kind.RETAINING_NUT,
    Kind.SWIVEL,
    Kind.CLEVIS,
    Kind.BREAKAWAY_LINK,
)
_MOST_STEPS, _MOST_TRIED = 3, 12  # pre-expanders in one string, and of those that pass
# Of these the string is better with one, but is not proposed to wait for it.
_WHERE_THERE_IS_ONE = (Kind.PULLER, Kind.CLEVIS, Kind.BREAKAWAY_LINK)


@dataclass(frozen=True)
class Proposal:
    """A string proposed for two pipes, or what is missing for one.

    tool_string : None when a required part is missing
    reasons : one sentence per part, in the order of the string
    missing : one sentence per required part that no tool fills
    advised : one sentence per advised part that no tool fills
    findings : of the whole check, empty without a string
    """

    tool_string: ToolString | None
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    advised: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class _Attempt:
    chosen: tuple[Component, ...]
    refused: dict[Kind, str]


def propose(
    old_pipe: Pipe,
    new_pipe: Pipe,
    components: Iterable[Component],
    length_ft: float | None,
    as_of: date | None,
    **known,
) -> Proposal:
    """Return the string that suits two pipes best, or which part is missing.

    known : the further fields of `StringCase`, such as method, total_force_lbf or limits
    """
    case = StringCase(
        tool_string=ToolString(pulled_end=CableEnd.THICK),  # as it is to be pulled
        old_pipe=old_pipe,
        new_pipe=new_pipe,
        length_ft=length_ft,
        as_of=as_of,
        **known,
    )
    tools = sorted(components, key=lambda tool: (PLACE[tool.kind], tool.mark, repr(tool)))
    attempts = [_fill(case, tools, expander) for expander in _expanders(case, tools)]
    best = min(attempts or [_fill(case, tools, None)], key=lambda a: len(_lacking(case, a)[0]))
    return _proposal(case, best)


def wanted(kind: Kind, case: StringCase) -> str:
    """Return in words what a tool of a kind must measure for a case."""
    old, new, limits = case.old_pipe, case.new_pipe, case.limits
    least, most = limits.expander_least * new.outside_in, limits.expander_most * new.outside_in
    expander = (
        f"under the expander's {inches(case.expander_in)}"
        if case.expander_in
        else ("under the expander")
    )
    texts = {
        Kind.CABLE: (
            f"a {inches(limits.pulling_cable_in)} pulling end, at least "
            f"{(case.length_ft or 0) + limits.cable_extra_ft:g} ft long, a threading end of up to "
            f"{inches(old.inside_in - limits.clearance_in)}"
        ),
        Kind.BLADE: (
            f"at least {inches(old.outside_in + limits.blade_reach_in)} over the tips, a pilot of "
            f"{inches(old.inside_in - limits.pilot_slack_most_in)} to "
            f"{inches(old.inside_in - limits.pilot_slack_least_in)}"
        ),
        Kind.PRE_EXPANDER: f"over the old bore of {inches(old.inside_in)} and {expander}",
        Kind.SPACER: "as long as the expander, together with the pre-expander",
        Kind.EXPANDER: (
            f"{least:.3f} to {most:.3f} in. across, over the old bore of {inches(old.inside_in)}"
        ),
        Kind.ROD: (
            f"at least {(case.length_ft or 0) + limits.cable_extra_ft:g} ft joined, up to "
            f"{inches(old.inside_in - limits.clearance_in)} over the joints"
        ),
        Kind.JAW_SET: f"for {inches(limits.pulling_cable_in)} cable",
        Kind.PIPE_PULLER: f"with a collar for {new.label}",
    }
    return texts.get(kind, "rated and inspected")


def _expanders(case: StringCase, tools: Sequence[Component]) -> list[Component]:
    ranked, _ = _ranked(case, (), [tool for tool in tools if tool.kind is Kind.EXPANDER])
    return ranked


def _fill(case: StringCase, tools: Sequence[Component], expander: Component | None) -> _Attempt:
    chosen = (expander,) if expander else ()
    refused = {} if expander else {Kind.EXPANDER: _refusal(case, tools, Kind.EXPANDER, ())}
    taken = {need.kind for need in _needs(case, ()) if need.need is not Need.WRONG}
    for kind in _CHOICE_ORDER:
        if kind not in taken and kind not in _WHERE_THERE_IS_ONE:
            continue
        ranked, _ = _ranked(case, chosen, [tool for tool in tools if tool.kind is kind])
        if not ranked:
            refused[kind] = _refusal(case, tools, kind, chosen)
        elif kind is Kind.PRE_EXPANDER and expander:
            chosen = (*chosen, *_steps(case, expander, ranked))
        else:
            chosen = (*chosen, ranked[0])
    return _Attempt(tuple(sorted(chosen, key=_in_order)), refused)


def _steps(
    case: StringCase, expander: Component, passing: Sequence[Component]
) -> tuple[Component, ...]:
    """Return the pre-expanders that widen the hole in the fewest steps that are each small enough.

    Where no chain keeps every step small enough, the one whose steps pass the limit by least.
    """
    sizes = [case.old_pipe.inside_in]
    nearest = list(passing[:_MOST_TRIED])

    def rank(chain: tuple[Component, ...]) -> tuple:
        through = [*sizes, *(certain(tool.outside_in) for tool in (*chain, expander))]
        steps = [after / before - 1 for before, after in pairwise(through)]
        over = sum(max(step - case.limits.step_up, 0.0) for step in steps)
        return round(over, 6), len(chain), max(steps), tuple(tool.mark for tool in chain)

    chains = [
        tuple(sorted(chain, key=_in_order))
        for count in range(1, _MOST_STEPS + 1)
        for chain in combinations(nearest, count)
        if len({tool.outside_in for tool in chain}) == count
    ]
    return min(chains, key=rank)


def _to_be_built(tools: Iterable[Component]) -> ToolString:
    """Return the string as it is to be put together; what was built, the crew looks at and says."""
    return tool_string(tools, blade_facing=Facing.FLAT_TO_OLD_PIPE, pulled_end=CableEnd.THICK)


def _needs(case: StringCase, chosen: Iterable[Component]) -> tuple[Requirement, ...]:
    cable = next((tool for tool in chosen if tool.kind is Kind.CABLE), None)
    construction = cable.construction if cable else ""
    return required_kinds(case.old_pipe, case.new_pipe, construction, case.method)


def _in_order(tool: Component) -> tuple[int, float]:
    """Place a tool in the string: by kind, and of one kind the narrower first."""
    return tuple(Kind).index(tool.kind), tool.outside_in or 0.0


def _ranked(
    case: StringCase, chosen: tuple[Component, ...], candidates: Sequence[Component]
) -> tuple[list[Component], list[Finding]]:
    """Return the candidates that pass, best first, and what stopped the others."""
    passing, stopped = [], []
    for tool in candidates:
        own = list(_own_findings(case, chosen, tool))
        stops = [found for found in own if found.level is Level.STOP]
        stopped += stops
        if not stops:
            cautions = sum(found.level is Level.CAUTION for found in own)
            rank = (cautions, _distance(case, chosen, tool), _weakens(case, chosen, tool),
                    wear_share(tool), tool.mark)  # fmt: skip
            passing.append((rank, tool))
    return [tool for _, tool in sorted(passing, key=lambda pair: pair[0])], stopped


def _own_findings(
    case: StringCase, chosen: tuple[Component, ...], tool: Component
) -> Iterator[Finding]:
    """Yield the findings of a trial string that speak of the tool tried."""
    together = sorted((*chosen, tool), key=_in_order)
    trial = replace(case, tool_string=_to_be_built(together))
    place = next(i for i, item in enumerate(together) if item is tool)
    return (found for found in check_case(trial) if found.part == place)


def _distance(case: StringCase, chosen: tuple[Component, ...], tool: Component) -> float:
    """How far a tool lies from the aim of its kind: in., or ft for a cable; 0 where none exists."""
    size = tool.outside_in or 0
    old, new = case.old_pipe, case.new_pipe
    expander = next((item.outside_in for item in chosen if item.kind is Kind.EXPANDER), None)
    if tool.kind is Kind.EXPANDER:
        return abs(size - case.limits.expander_aim * new.outside_in)
    if tool.kind is Kind.BLADE:
        return size - old.outside_in
    if tool.kind is Kind.PRE_EXPANDER and expander:
        return abs(size - sqrt(old.inside_in * expander))
    if tool.kind is Kind.SPACER:
        return tool.length_in or 0
    return (tool.length_ft or 0) if tool.kind in (Kind.CABLE, Kind.ROD) else 0


def _weakens(case: StringCase, chosen: tuple[Component, ...], tool: Component) -> bool:
    """Tell whether a part that carries the total would bear less than the cable chosen before."""
    cable = next((item for item in chosen if item.kind is Kind.CABLE), None)
    if cable is None or tool.kind in ON_THE_DRAG_SIDE:
        return False
    own, held = part_limit_lbf(case, tool), part_limit_lbf(case, cable)
    return own is not None and held is not None and own < held


def _refusal(
    case: StringCase, tools: Sequence[Component], kind: Kind, chosen: tuple[Component, ...]
) -> str:
    candidates = [tool for tool in tools if tool.kind is kind]
    told = replace(case, tool_string=_to_be_built(chosen))
    need = f"{kind.label}: needed {wanted(kind, told)}".rstrip(".")
    if not candidates:
        return f"{need}. There is none among the tools."
    _, stopped = _ranked(case, chosen, candidates)
    first = f" {stopped[0].message}" if stopped else ""
    return f"{need}. Of {len(candidates)} among the tools none passes.{first}"


def _lacking(case: StringCase, attempt: _Attempt) -> tuple[list[str], list[str]]:
    needs = _needs(case, attempt.chosen)
    missing = [n for n in needs if n.kind in attempt.refused and n.need is Need.REQUIRED]
    advised = [n for n in needs if n.kind in attempt.refused and n.need is Need.ADVISED]
    return (
        [attempt.refused[need.kind] for need in missing],
        [attempt.refused[need.kind] for need in advised]
        + [attempt.refused[kind] for kind in _WHERE_THERE_IS_ONE if kind in attempt.refused],
    )


def _proposal(case: StringCase, attempt: _Attempt) -> Proposal:
    missing, advised = _lacking(case, attempt)
    if missing:
        return Proposal(None, missing=tuple(missing), advised=tuple(advised))
    string = _to_be_built(attempt.chosen)
    full = replace(case, tool_string=string)
    return Proposal(
        string,
        tuple(_reason(full, tool) for tool in attempt.chosen),
        advised=tuple(advised),
        findings=tuple(check_case(full)),
    )


def _reason(case: StringCase, tool: Component) -> str:
    have = {
        "across": tool.outside_in and inches(tool.outside_in),
        "pilot": tool.pilot_in and inches(tool.pilot_in),
        "length": tool.length_ft and f"{tool.length_ft:g} ft",
        "rated": tool.rated_lbf and f"{tool.rated_lbf:,.0f} lb",
        "pulls since inspected": tool.pulls_since is not None and str(tool.pulls_since),
    }
    figures = ", ".join(f"{name} {value}" for name, value in have.items() if value)
    return (
        f"{tool.label}: {figures or 'passes'}; needed {wanted(tool.kind, case)}".rstrip(".") + "."
    )
