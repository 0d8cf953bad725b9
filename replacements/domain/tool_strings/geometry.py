"""Does the string go through the old pipe, open it far enough, and let the new pipe follow?

Ranges are proposals that a utility owns (`StringLimits`), held against the published practice
that expanders run 20 to 25% over the new pipe (IPBA, July 2011).
"""

from collections.abc import Iterator

from replacements.domain.findings import Finding
from replacements.domain.methods import Method
from replacements.domain.tool_strings.case import StringCase, nominal_bore_in
from replacements.domain.tool_strings.components import NEEDED, Component, Kind
from replacements.domain.tool_strings.order import fits
from replacements.domain.tool_strings.rules import finding
from replacements.domain.units import inches
from services_inventory.domain.certain import certain

_HAIR = 1e-9  # figures that differ by less are equal
_SIZED = (Kind.BLADE, Kind.EXPANDER, Kind.PIPE_PULLER)  # what a set groups by pipe


def dimension_findings(case: StringCase) -> Iterator[Finding]:
    """Yield every dimension that a check needs and nobody recorded."""
    for place, part in enumerate(case.tool_string.parts):
        needed = NEEDED[part.component.kind]
        if part.component.kind is Kind.PULLER and case.first(Kind.ROD):
            needed = ("fits_rod_in",)
        missing = [n for n in needed if not getattr(part.component, n)]
        if missing:
            message = f"{part.component.label}: not recorded: {', '.join(missing)}."
            yield finding("DIMENSION_MISSING", message, part=place)


def threading_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether cable or rods go through the old bore and are long enough."""
    bore, limits = case.old_pipe.inside_in, case.limits
    for place, cable in case.of_kind(Kind.CABLE):
        lead = cable.thin_end_in or cable.pulling_end_in
        if lead and lead + limits.clearance_in > bore + _HAIR:
            message = _clear("threading end", lead, bore, limits.clearance_in)
            yield finding("THREADING", message, part=place, value=lead)
        if cable.pulling_end_in:
            yield from _pull_cable(case, place, cable.pulling_end_in)
        yield from _long_enough(case, place, cable)
    for place, rod in case.of_kind(Kind.ROD):
        if rod.outside_in and rod.outside_in + limits.clearance_in > bore + _HAIR:
            message = _clear("joints", rod.outside_in, bore, limits.clearance_in, "rods")
            yield finding("ROD_BORE", message, part=place, value=rod.outside_in)
        yield from _long_enough(case, place, rod)


def blade_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether the blade's pilot runs in the old bore and its tips cut through the wall."""
    old, limits = case.old_pipe, case.limits
    for place, blade in case.of_kind(Kind.BLADE):
        reach = old.outside_in + limits.blade_reach_in
        if blade.outside_in and blade.outside_in < reach - _HAIR:
            message = (
                f"{blade.label} reaches {inches(blade.outside_in)} over its tips; the old pipe is "
                f"{inches(old.outside_in)} outside and needs {inches(reach)}"
            )
            yield finding("BLADE_REACH", message, part=place, value=blade.outside_in)
        if blade.pilot_in:
            yield from _pilot(case, place, blade)


def expansion_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether pre-expander, spacer and expander suit each other and both pipes."""
    for place, expander in case.of_kind(Kind.EXPANDER):
        if expander.outside_in:
            yield from _expander(case, place, expander)
    yield from _pre_expanders(case)
    yield from _spacing(case)


def collar_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether the collar of the pipe puller matches the new pipe and follows the expander."""
    new = case.new_pipe
    for place, puller in case.of_kind(Kind.PIPE_PULLER):
        if new.fitting_type is None:
            message = f"{puller.label}: the new pipe is known by measure only."
            yield finding("COLLAR_UNPROVED", message, part=place)
        else:
            yield from _collar(case, place, puller)
        if puller.outside_in and case.expander_in and puller.outside_in > case.expander_in + _HAIR:
            message = (
                f"The collar of {puller.label} is {inches(puller.outside_in)} across, the expander "
                f"{inches(case.expander_in)}"
            )
            yield finding("COLLAR_OUTSIDE", message, part=place, value=puller.outside_in)


def size_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether each tool is marked for this old line, and for lines of one size group only."""
    bore = nominal_bore_in(case.old_pipe)
    for place, part in enumerate(case.tool_string.parts):
        sizes = part.component.fits_old_in
        if not sizes:
            continue
        if not fits(bore, sizes):
            marked = ", ".join(inches(size) for size in sizes)
            message = (
                f"{part.component.label} is marked for {marked} lines, this one is {inches(bore)}"
            )
            yield finding("OLD_SIZE", message, part=place, value=bore)
        groups = part.component.setup.size_groups
        crossed = [g for g in groups if any(fits(size, g.old_in) for size in sizes)]
        if len({group.old_in for group in crossed}) > 1:
            said = " and for ".join(group.label for group in crossed)
            message = f"{part.component.label} is marked for {said} alike."
            yield finding("SIZE_GROUP", message, part=place)


def set_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether jaws and nut are of one tool set, and whether it is meant for these pipes."""
    told = [(place, part.component) for place, part in enumerate(case.tool_string.parts)
            if part.component.kind in (Kind.JAW_SET, Kind.RETAINING_NUT)]  # fmt: skip
    names = dict.fromkeys(tool.setup.name for _, tool in told)
    if len(names) > 1:
        said = " and ".join(f"{t.label} of {t.setup.name or 'no set'}" for _, t in told)
        message = f"Jaws and nut are not of one tool set: {said}."
        yield finding("SET_MIXED", message, part=told[0][0])
    for place, jaws in case.of_kind(Kind.JAW_SET):
        if not jaws.setup.instructions:
            message = f"No maker's instructions are on record for {jaws.label}."
            yield finding("SET_UNKNOWN", message, part=place)
    yield from _set_sizes(case)


def _set_sizes(case: StringCase) -> Iterator[Finding]:
    """Yield once a set that knows no group of tools for these two pipes."""
    bore, new = nominal_bore_in(case.old_pipe), case.new_pipe.nominal_in
    seen = set()
    for place, part in enumerate(case.tool_string.parts):
        setup = part.component.setup
        if part.component.kind not in _SIZED or not setup.groups or setup.name in seen:
            continue
        seen.add(setup.name)
        if not any(
            fits(bore, group.old_in) and (not group.new_in or fits(new, group.new_in))
            for group in setup.groups
        ):
            message = (
                f"Tool set {setup.name} names no tools for a {inches(bore)} old and a "
                f"{inches(new)} new pipe."
            )
            yield finding("SET_SIZES", message, part=place, value=bore)


def pipe_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether an old run that is slit can be, and whether the new pipe is the larger one."""
    old, new = case.old_pipe, case.new_pipe
    slit = case.method is Method.SPLIT
    if old.material != "LEAD" and slit:
        yield finding("OLD_PIPE", f"The old pipe is {old.material}; a lead blade does not slit it.")
    for material in case.run_materials if slit else ():
        if material.upper() != "LEAD":
            message = f"The old run holds {material.upper()}; a lead blade does not cut it."
            yield finding("RUN_NOT_CUTTABLE", message)
    if new.outside_in <= old.inside_in + _HAIR:
        sizes = f"{inches(new.outside_in)} outside, the old bore {inches(old.inside_in)}"
        message = f"The new pipe is {sizes}"
        yield finding("NEW_PIPE_SMALLER", message, value=new.outside_in)
    elif new.inside_in < old.inside_in - _HAIR:
        message = f"The new bore is {inches(new.inside_in)}, the old one {inches(old.inside_in)}"
        yield finding("NEW_BORE_SMALLER", message, value=new.inside_in)


def entry_findings(case: StringCase) -> Iterator[Finding]:
    """Yield whether the string passes the hole in the wall."""
    if case.entry_hole_in is None or case.expander_in is None:
        return
    need = case.expander_in + case.limits.entry_hole_clearance_in
    if case.entry_hole_in < need - _HAIR:
        message = (
            f"The hole in the wall is {inches(case.entry_hole_in)}; the expander needs "
            f"{inches(need)}"
        )
        yield finding("ENTRY_HOLE", message, value=case.entry_hole_in)


def _clear(
    what: str, size_in: float, bore_in: float, clearance_in: float, of: str = "cable"
) -> str:
    return (
        f"The {what} of the {of} {'is' if of == 'cable' else 'are'} {inches(size_in)}; with "
        f"{inches(clearance_in)[:-1]} clearance it needs a bore of "
        f"{inches(size_in + clearance_in)} and the old pipe has {inches(bore_in)}"
    )


def _pull_cable(case: StringCase, place: int, pulling_end_in: float) -> Iterator[Finding]:
    bore, limits = case.old_pipe.inside_in, case.limits
    if pulling_end_in + limits.clearance_in > bore + _HAIR:
        message = _clear("pulling end", pulling_end_in, bore, limits.clearance_in)
        yield finding("PULL_CABLE_BORE", message, part=place, value=pulling_end_in)
    elif pulling_end_in + limits.tight_clearance_in > bore - _HAIR:
        message = (
            f"The pulling end of {inches(pulling_end_in)} has {inches(bore - pulling_end_in)} to "
            "spare in the old bore, before scale."
        )
        yield finding("PULL_CABLE_TIGHT", message, part=place, value=bore - pulling_end_in)


def _long_enough(case: StringCase, place: int, tool: Component) -> Iterator[Finding]:
    """Yield a cable, or rods joined, too short to reach from pit to pit and beyond."""
    if case.length_ft is None:
        yield finding("LENGTH_UNKNOWN", "The length of the line is not given.", part=place)
    elif tool.length_ft:
        need = case.length_ft + case.limits.cable_extra_ft
        if not tool.length_ft >= need - _HAIR:
            rods = tool.kind is Kind.ROD
            message = (
                f"{tool.label} {'are' if rods else 'is'} {tool.length_ft:g} ft long; a line of "
                f"{case.length_ft:g} ft needs {need:g} ft with the string, the puller and both "
                "pits."
            )
            rule = "ROD_SHORT" if rods else "CABLE_SHORT"
            yield finding(rule, message, part=place, value=tool.length_ft)


def _pilot(case: StringCase, place: int, blade: Component) -> Iterator[Finding]:
    bore, limits = case.old_pipe.inside_in, case.limits
    most, least = bore - limits.pilot_slack_least_in, bore - limits.pilot_slack_most_in
    pilot = certain(blade.pilot_in)
    text = f"The pilot of {blade.label} is {inches(pilot)}, the old bore {inches(bore)}; "
    if pilot > most + _HAIR:
        message = text + f"at most {inches(most)} enters."
        yield finding("BLADE_PILOT_LARGE", message, part=place, value=pilot)
    elif pilot < least - _HAIR:
        message = text + f"under {inches(least)} it wanders."
        yield finding("BLADE_PILOT_SMALL", message, part=place, value=pilot)


def _expander(case: StringCase, place: int, expander: Component) -> Iterator[Finding]:
    old, new, limits = case.old_pipe, case.new_pipe, case.limits
    size = certain(expander.outside_in)
    least, most = limits.expander_least * new.outside_in, limits.expander_most * new.outside_in
    text = f"{expander.label} is {inches(size)}, the new pipe {inches(new.outside_in)} outside; "
    if size < least - _HAIR:
        message = text + f"it should be {least:.3f} to {most:.3f} in."
        yield finding("EXPANDER_SMALL", message, part=place, value=size)
    elif size > most + _HAIR:
        message = text + f"it should be {least:.3f} to {most:.3f} in."
        yield finding("EXPANDER_LARGE", message, part=place, value=size)
    if size <= old.inside_in + _HAIR:
        message = f"{expander.label} is {inches(size)}, the old bore {inches(old.inside_in)}"
        yield finding("EXPANDER_OLD_BORE", message, part=place, value=size)
    comes_out = case.method is Method.PULL_OUT
    opening = max(size, old.outside_in) if comes_out else size + 2 * old.wall_in
    message = f"The soil opens to {inches(opening)} where the expander passes."
    yield finding("SOIL_OPENING", message, part=place, value=opening)


def _pre_expanders(case: StringCase) -> Iterator[Finding]:
    before, last = case.old_pipe.inside_in, None
    for place, pre in case.of_kind(Kind.PRE_EXPANDER):
        size = pre.outside_in
        if not size:
            continue
        end = case.expander_in
        if size <= before + _HAIR or (end is not None and size >= end - _HAIR):
            upper = f" and under the expander's {inches(end)}" if end is not None else "."
            message = f"{pre.label} is {inches(size)}; it must be over {inches(before)}{upper}"
            yield finding("PRE_EXPANDER_SIZE", message, part=place, value=size)
        yield from _step(case, before, size, place)
        before, last = size, place
    if last is not None and case.expander_in:
        yield from _step(case, before, case.expander_in, last)


def _step(case: StringCase, before: float, after: float, place: int) -> Iterator[Finding]:
    step = after / before - 1
    if step > case.limits.step_up + _HAIR:
        message = (
            f"From {inches(before)} to {inches(after)} is a step of {step:.0%}, over "
            f"{case.limits.step_up:.0%}."
        )
        yield finding("STEP_UP", message, part=place, value=step)


def _spacing(case: StringCase) -> Iterator[Finding]:
    blades, expanders = case.of_kind(Kind.BLADE), case.of_kind(Kind.EXPANDER)
    if not (blades and expanders) or not expanders[0][1].length_in:
        return
    start, end = blades[0][0], expanders[0][0]
    between = [part.component for part in case.tool_string.parts[start + 1 : end]]
    if not any(tool.kind is Kind.SPACER for tool in between):
        return  # said already: a spacer is advised
    spacing = sum(tool.length_in or 0 for tool in between)
    if spacing < expanders[0][1].length_in - _HAIR:
        place = next(i for i, tool in case.of_kind(Kind.SPACER) if start < i < end)
        message = (
            f"Blade and expander are {inches(spacing)} apart, less than the expander's "
            f"{inches(expanders[0][1].length_in)}"
        )
        yield finding("SPACING", message, part=place, value=spacing)


def _collar(case: StringCase, place: int, puller: Component) -> Iterator[Finding]:
    new = case.new_pipe
    if puller.fits_new_in and not fits(new.nominal_in, puller.fits_new_in):
        sizes = ", ".join(inches(size) for size in puller.fits_new_in)
        message = f"{puller.label} is for {sizes} pipe, the new pipe is {inches(new.nominal_in)}"
        yield finding("COLLAR_SIZE", message, part=place, value=new.nominal_in)
    types = {name.upper() for name in puller.fits_new_types}
    if types and new.fitting_type not in types:
        message = f"{puller.label} is for {', '.join(sorted(types))}, the new pipe is {new.label}."
        yield finding("COLLAR_TYPE", message, part=place)
