"""The string sheet: the parts in order, drawn to scale, what to check at each, boxes to tick."""

from datetime import date

from reportlab.graphics.shapes import Drawing, Line, Rect, String
from reportlab.lib.colors import black, lightgrey, white
from reportlab.platypus import Spacer

from ..domain.tool_strings import BadComponent, Kind, ToolString, checks_for
from ..models import WorkOrder
from ..queries.planned_pull import string_of
from ..queries.stored import findings_back
from .page import LARGE, SMALL, WIDTH, Box, block, one_page, paragraph, rows_table, sign_off

_USUAL_IN = 2.0
_HEIGHT = 84


def string_sheet(order: WorkOrder, as_of: date) -> bytes:
    """Return the sheet of an order's latest string as a PDF of one page."""
    record = order.tool_strings.order_by("-id").first()
    if record is None:
        words = "No tool string is recorded for this order. Record it before the cable is loaded."
        return _page(order, [paragraph(words, LARGE)], as_of)
    findings = findings_back(record.findings)
    rows = list(record.parts.select_related("component").order_by("position"))
    parts = [
        *_drawn(record),
        block("Parts, from the puller to the new pipe"),
        rows_table([_part(row, findings) for row in rows], [0.06, 0.06, 0.34, 0.54]),
        *[paragraph(_said(f), SMALL) for f in findings if f.part is None and f.level != "NOTE"],
        Spacer(1, 4),
        block("Assembly: look, measure, write down"),
        rows_table(_measured(order), [0.05, 0.55, 0.4]),
        rows_table(_seen(order), [0.05, 0.45, 0.05, 0.45]),
        Spacer(1, 4),
        sign_off(("Put together by, name and time", "Seen by a second person, name and time")),
    ]
    return _page(order, parts, as_of)


def _page(order: WorkOrder, parts: list, as_of: date) -> bytes:
    address = order.line.premise.address or order.line.location_id
    return one_page(f"Tool string {order.number}", address, parts, as_of)


def _part(row, findings) -> list:
    of_part = [f for f in findings if f.part == row.position - 1 and f.level != "NOTE"]
    said = " ".join(_said(f) for f in of_part) or _measures(row.component)
    turned = f" ({row.orientation.replace('_', ' ').lower()})" if row.orientation else ""
    return [
        Box(12),
        paragraph(str(row.position), LARGE),
        paragraph(f"{row.component.kind_label} {row.component.mark}{turned}"),
        paragraph(said, SMALL),
    ]


def _measures(component) -> str:
    units = {"in": "in.", "ft": "ft", "lbf": "lb"}
    said = [f"rated {component.rated_lbf:,.0f} lb"] if component.rated_lbf else []
    for name in ("outside_in", "length_in", "pulling_end_in", "length_ft"):
        value = component.dimensions.get(name)
        if value:
            words, unit = name.rsplit("_", 1)
            said.append(f"{words.replace('_', ' ')} {value:g} {units[unit]}")
    return ", ".join(said)


def _said(finding) -> str:
    return f"{finding.level.value}: {finding.message} {finding.do}".strip()


def _measured(order: WorkOrder) -> list[list]:
    rows = []
    for check in checks_for(order.new_material):
        if check.stop and check.answer != "YES":
            asked = f"_______ {check.unit}  ({check.criterion})"
            rows.append([Box(12), paragraph(check.label, SMALL), paragraph(asked, SMALL)])
    return rows


def _seen(order: WorkOrder) -> list[list]:
    cells = [
        [Box(12), paragraph(check.label, SMALL)]
        for check in checks_for(order.new_material)
        if check.stop and check.answer == "YES"
    ]
    if len(cells) % 2:
        cells.append(["", ""])
    return [left + right for left, right in zip(cells[::2], cells[1::2], strict=True)]


def _drawn(record) -> list:
    try:
        string = string_of(record)
    except BadComponent:
        return []
    return [_drawing(string), Spacer(1, 4)]


def _drawing(string: ToolString) -> Drawing:
    """Draw lengths and widths to one scale; a part with a figure missing is left white."""
    tools = [p.component for p in string.parts if p.component.kind not in (Kind.PULLER, Kind.CABLE)]
    places = {id(p.component): n for n, p in enumerate(string.parts, start=1)}
    total = sum(tool.length_in or _USUAL_IN for tool in tools) + 6
    scale = min(WIDTH / total, 28)
    drawing, middle, x = Drawing(WIDTH, _HEIGHT), _HEIGHT / 2, 3 * scale
    drawing.add(Line(0, middle, x, middle, strokeWidth=3))
    for tool in tools:
        length = (tool.length_in or _USUAL_IN) * scale
        width = min((tool.outside_in or 0.8) * scale, _HEIGHT - 34)
        fill = lightgrey if tool.length_in and tool.outside_in else white
        drawing.add(Rect(x, middle - width / 2, length, width, fillColor=fill, strokeColor=black))
        drawing.add(
            String(
                x + length / 2,
                middle - 4,
                str(places[id(tool)]),
                textAnchor="middle",
                fontName="Helvetica-Bold",
                fontSize=12,
            )  # fmt: skip
        )
        x += length
    drawing.add(Rect(x, middle - 12, WIDTH - x, 24, fillColor=white, strokeColor=black))
    drawing.add(String(0, _HEIGHT - 10, "to the puller; old pipe", fontSize=9))
    drawing.add(String(WIDTH, _HEIGHT - 10, "new pipe follows", fontSize=9, textAnchor="end"))
    return drawing
