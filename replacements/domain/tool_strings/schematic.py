"""A side view of the string in order, to scale, as SVG that prints and fits a phone.

Left is the pulling side with the old pipe, right the new pipe. Lengths and diameters share one
scale; a part whose length or diameter nobody recorded is dashed.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from replacements.domain.findings import Finding, Level
from replacements.domain.pipes import Pipe
from replacements.domain.tool_strings import shapes
from replacements.domain.tool_strings.components import Component, Facing, Kind, Part, ToolString
from replacements.domain.units import inches
from services_inventory.domain.drawing import picture, text

WIDTH = 720
_TITLE = "Tool string, side view to scale"
_MARGIN = 16
_FONT = 22  # half of that on a phone 360 px wide
_LINE = 34
_STUB_IN = 4.0  # of old and of new pipe that is shown
_LONGEST_IN, _WIDEST_IN = 60.0, 24.0  # a mistyped figure must not shrink the rest to nothing
_USUAL_LENGTH_IN = {
    Kind.BLADE: 3.0,
    Kind.PRE_EXPANDER: 2.0,
    Kind.SPACER: 3.0,
    Kind.EXPANDER: 4.0,
    Kind.JAW_SET: 2.0,
    Kind.RETAINING_NUT: 1.25,
    Kind.SWIVEL: 3.0,
    Kind.CLEVIS: 2.0,
    Kind.BREAKAWAY_LINK: 2.0,
    Kind.PIPE_PULLER: 4.0,
}
_KEY = "Dashed outline: a length or width was not recorded. The puller is not drawn."
_SHELL = "Gray behind the blade: the slit shell. "
_AT_THE_LEFT = (Kind.PULLER, Kind.CABLE, Kind.ROD)


@dataclass(frozen=True)
class _Frame:
    """Where the string is drawn: px per inch, the axis, and the left end of the first part."""

    scale: float
    axis: float
    start: float
    height: float


def side_view(
    tool_string: ToolString, old_pipe: Pipe, new_pipe: Pipe, findings: Iterable[Finding] = ()
) -> str:
    """Return the drawing as an SVG element, its parts numbered; rows beside it name and judge them.

    findings : of `check`; how many stop or caution is told to those who hear the page
    """
    found = [f for f in findings if f.level is not Level.NOTE]
    frame, body = _body(tool_string, old_pipe, new_pipe)
    return picture(WIDTH, frame.height + 6, body, _TITLE, _description(tool_string, found))


def places(tool_string: ToolString, old_pipe: Pipe, new_pipe: Pipe) -> list[dict]:
    """Return where each part stands in the drawing, so that a phone can light it."""
    frame = _frame(tool_string, old_pipe, new_pipe)
    found, x = [], frame.start
    for part in tool_string.parts:
        tool = part.component
        if tool.kind in _AT_THE_LEFT:
            at, wide, half = 0.0, frame.start, _LINE / 2
        else:
            at, wide = x, _length_in(tool) * frame.scale
            half = _width_in(tool, old_pipe) * frame.scale / 2
            x += wide
        box = (at, frame.axis - half, wide, 2 * half)
        found.append({"kind": tool.kind.value, "box": [round(each, 1) for each in box]})
    return found


def _body(string: ToolString, old_pipe: Pipe, new_pipe: Pipe) -> tuple[_Frame, list[str]]:
    frame = _frame(string, old_pipe, new_pipe)
    pipes, parts = _pipes(frame, string, old_pipe, new_pipe), _parts(frame, string, old_pipe)
    return frame, [*pipes, *parts, *_scale_bar(frame)]


def _frame(string: ToolString, old_pipe: Pipe, new_pipe: Pipe) -> _Frame:
    shown = [part.component for part in string.parts if part.component.kind not in _AT_THE_LEFT]
    total = 2 * _STUB_IN + sum(_length_in(tool) for tool in shown)
    scale = (WIDTH - 2 * _MARGIN) / total
    widest = max([_width_in(tool, old_pipe) for tool in shown] + [new_pipe.outside_in])
    half = (min(widest, _WIDEST_IN) / 2 + old_pipe.wall_in) * scale
    axis = half + 2.9 * _LINE
    return _Frame(scale, axis, _MARGIN + _STUB_IN * scale, axis + half + 2.2 * _LINE)


def _length_in(tool: Component) -> float:
    return min(tool.length_in or _USUAL_LENGTH_IN.get(tool.kind, 2.0), _LONGEST_IN)


def _width_in(tool: Component, old_pipe: Pipe) -> float:
    usual = 0.8 * old_pipe.inside_in if tool.kind is Kind.SPACER else old_pipe.inside_in
    return min(tool.outside_in or usual, _WIDEST_IN)


def _parts(frame: _Frame, string: ToolString, old_pipe: Pipe) -> list[str]:
    """Draw every part at its place; numbers stand above and below in turn, to keep apart."""
    drawn, x = _cable(frame, string, old_pipe), frame.start
    for place, part in enumerate(string.parts):
        tool = part.component
        if tool.kind in _AT_THE_LEFT:
            at = _MARGIN + (12 if tool.kind is Kind.PULLER else 52)
            drawn.append(shapes.number(at, frame.axis - 1.6 * _LINE, place + 1))
            continue
        length, half = (
            _length_in(tool) * frame.scale,
            _width_in(tool, old_pipe) * frame.scale / 2,
        )
        drawn.append(_shape(part, x, frame.axis, length, half, frame.scale))
        up = place % 2 == 0
        y = frame.axis + (-1 if up else 1) * (half + old_pipe.wall_in * frame.scale + 22)
        drawn.append(shapes.number(x + length / 2, y, place + 1))
        x += length
    return drawn


def _shape(part: Part, x: float, y: float, length: float, half: float, scale: float) -> str:
    tool = part.component
    dashed = tool.length_in is None or (
        tool.outside_in is None
        and tool.kind in (Kind.BLADE, Kind.PRE_EXPANDER, Kind.EXPANDER, Kind.PIPE_PULLER)
    )
    box = shapes.Box(x, y, length, half, dashed)
    if tool.kind is Kind.BLADE:
        pilot = min((tool.pilot_in or 0) * scale / 2 or half / 2, half)
        return shapes.blade(box, pilot, part.facing is not Facing.TAPER_TO_OLD_PIPE)
    return shapes.BY_KIND[tool.kind](box)


def _cable(frame: _Frame, string: ToolString, old_pipe: Pipe) -> list[str]:
    """Draw the cable to the jaw set, with 1/4 in. of tail behind it; rods to the first part."""
    rod = string.first(Kind.ROD)
    cable = string.first(Kind.CABLE)
    if cable is None:
        if rod is None:
            return []
        thickness = min(rod.outside_in or 0.5, old_pipe.inside_in) * frame.scale
        return [shapes.cable(0, frame.start, frame.axis, thickness, rod.outside_in is None)]
    end, x = frame.start, frame.start
    for part in string.parts:
        if part.component.kind not in _AT_THE_LEFT:
            x += _length_in(part.component) * frame.scale
            if part.component.kind is Kind.JAW_SET:
                end = x + 0.25 * frame.scale
    thickness = min(cable.pulling_end_in or 0.375, old_pipe.inside_in) * frame.scale
    return [shapes.cable(0, end, frame.axis, thickness, cable.pulling_end_in is None)]


def _pipes(frame: _Frame, string: ToolString, old_pipe: Pipe, new_pipe: Pipe) -> list[str]:
    """Draw the old pipe whole on the left, its shell behind a blade, if any, and the new pipe."""
    end = frame.start + sum(
        _length_in(part.component) * frame.scale
        for part in string.parts
        if part.component.kind not in _AT_THE_LEFT
    )
    expander = string.first(Kind.EXPANDER)
    widest = _width_in(expander, old_pipe) if expander else old_pipe.outside_in
    opened = max(widest, old_pipe.inside_in) / 2 * frame.scale
    wall = old_pipe.wall_in * frame.scale
    stub = _STUB_IN * frame.scale
    pilot = _pilot_px(frame, string)
    shell = [
        shapes.opened_shell(
            frame.start + pilot,
            WIDTH - _MARGIN,
            frame.axis,
            old_pipe.inside_in / 2 * frame.scale,
            opened,
            wall,
        )
    ]
    return [
        shapes.pipe(_MARGIN, stub + pilot, frame.axis, old_pipe.inside_in / 2 * frame.scale, wall),
        *(shell if string.first(Kind.BLADE) else ()),
        shapes.new_pipe(
            end,
            stub,
            frame.axis,
            new_pipe.inside_in / 2 * frame.scale,
            new_pipe.wall_in * frame.scale,
        ),
    ]


def _pilot_px(frame: _Frame, string: ToolString) -> float:
    """How far the nose of a blade that comes first still runs inside the old pipe."""
    shown = [part for part in string.parts if part.component.kind not in _AT_THE_LEFT]
    if not shown or shown[0].component.kind is not Kind.BLADE:
        return 0.0
    return shapes.NOSE * _length_in(shown[0].component) * frame.scale


def _scale_bar(frame: _Frame) -> list[str]:
    y = frame.height - 6
    return [
        shapes.bar(_MARGIN, y, frame.scale),
        _text(_MARGIN + frame.scale + 14, y + 6, "is 1 in.: lengths and widths to one scale"),
        _text(_MARGIN, _LINE - 6, "← to the puller: old pipe"),
        _text(WIDTH - _MARGIN, _LINE - 6, "new pipe follows", "end"),
    ]


def key_told(string: ToolString, old_pipe: Pipe, new_pipe: Pipe) -> str:
    """Return what is to be read with the drawing: the pipes' sizes, and what gray and dashes mean.

    Examples
    --------
    "Old pipe 1/2 in. lead, class AA: bore 1/2 in., outside 0.876 in. New pipe 1 in. PE, ..."
    """
    shell = _SHELL if string.first(Kind.BLADE) else ""
    return f"Old pipe {_size(old_pipe)} New pipe {_size(new_pipe)} {shell}{_KEY}"


def _size(pipe: Pipe) -> str:
    return f"{pipe.label}: bore {inches(pipe.inside_in)}, outside {inches(pipe.outside_in)}"


def named(part: Part, string: ToolString) -> str:
    """Return a part's name with its sizes, and by which end a cable is pulled."""
    tool = part.component
    sizes = []
    if tool.outside_in:
        sizes.append(f"{inches(tool.outside_in)} across")
    if tool.length_in:
        sizes.append(f"{inches(tool.length_in)} long")
    if tool.kind is Kind.CABLE:
        sizes = [f"{inches(tool.pulling_end_in)} pulling end"] if tool.pulling_end_in else []
        sizes += [f"{tool.length_ft:g} ft"] if tool.length_ft else []
        sizes.append(f"pulled by the {string.pulled_end.value.lower()} end")
    if tool.kind is Kind.ROD:
        sizes += [f"{tool.length_ft:g} ft joined"] if tool.length_ft else []
    return ", ".join([tool.label, *sizes])


def _description(string: ToolString, found: list[Finding]) -> str:
    parts = ", ".join(part.component.label for part in string.parts) or "no parts"
    stops = sum(f.level is Level.STOP for f in found)
    return (
        f"From the puller on the left to the new pipe on the right: {parts}. "
        f"{stops} stop and {len(found) - stops} caution findings, told in the rows below."
    )


def _text(x: float, y: float, words: str, anchor: str = "start") -> str:
    return text(x, y, words, anchor, shapes.BLACK, font_size=_FONT)
