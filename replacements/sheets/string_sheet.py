"""The string sheet: the parts in order, drawn to scale, what to check at each, boxes to tick."""

from collections.abc import Callable
from datetime import date

from reportlab.platypus import Spacer

from ..domain.cautions import STRING, cautions_for
from ..domain.methods import Method, is_pulled
from ..domain.pipes import PipeError
from ..domain.tool_strings import BadComponent, side_view
from ..models import WorkOrder
from ..queries.checklist import checklist_shown
from ..queries.planned_pull import new_pipe_of, old_pipe_of, string_of
from ..queries.stored import findings_back
from ..words import said
from .page import (
    LARGE,
    SMALL,
    WIDTH,
    Box,
    block,
    one_page,
    paragraph,
    rows_table,
    sign_off,
    two_columns,
)
from .svg_figure import figure_of


def string_sheet(order: WorkOrder, as_of: date) -> bytes:
    """Return the sheet of an order's latest string as a PDF of one page."""
    record = order.tool_strings.order_by("-id").first()
    if not is_pulled(order.method):
        method = Method(order.method).label.lower()
        words = f"This order is done by {method}: nothing is pulled, and it needs no tool string."
        return _page(order, lambda: [paragraph(words, LARGE)], as_of)
    if record is None:
        words = "No tool string is recorded for this order. Record it before anything is loaded."
        return _page(order, lambda: [paragraph(words, LARGE)], as_of)
    findings = findings_back(record.findings)
    checklist = checklist_shown(order, record)
    rows = list(record.parts.select_related("component").order_by("position"))
    return _page(order, lambda: _parts(checklist, rows, findings), as_of, _drawn(order, record))


def _parts(checklist, rows, findings) -> list:
    measured = _measured(checklist["rows"])  # rods have no row that is measured
    return [
        *_failed(checklist["failed"]),
        block("Parts, from the puller to the new pipe"),
        rows_table([_part(row, findings) for row in rows], [0.06, 0.06, 0.34, 0.54]),
        *[paragraph(_said(f), SMALL) for f in findings if f.part is None and f.level != "NOTE"],
        Spacer(1, 4),
        block("Assembly: look, measure, write down"),
        *([rows_table(measured, [0.05, 0.55, 0.4])] if measured else ()),
        rows_table(_seen(checklist["rows"]), [0.05, 0.45, 0.05, 0.45]),
        Spacer(1, 4),
        block("Cautions"),
        two_columns([str(each) for each in cautions_for(*STRING)]),
        Spacer(1, 4),
        sign_off(("Put together by, name and time", "Seen by a second person, name and time")),
    ]


def _page(order: WorkOrder, parts: Callable[[], list], as_of: date, drawn: list = ()) -> bytes:
    address = order.line.premise.address or order.line.location_id
    return one_page(f"Tool string {order.number}", address, parts, as_of, above=drawn)


def _part(row, findings) -> list:
    of_part = [f for f in findings if f.part == row.position - 1 and f.level != "NOTE"]
    told = " ".join(_said(f) for f in of_part) or _measures(row.component)
    turned = f" ({row.orientation.replace('_', ' ').lower()})" if row.orientation else ""
    return [
        Box(12),
        paragraph(str(row.position), LARGE),
        paragraph(f"{row.component}{turned}"),
        paragraph(told, SMALL),
    ]


def _measures(component) -> str:
    units = {"in": "in.", "ft": "ft", "lbf": "lb"}
    told = [f"rated {component.rated_lbf:,.0f} lb"] if component.rated_lbf else []
    for name in ("outside_in", "length_in", "pulling_end_in", "length_ft"):
        value = component.dimensions.get(name)
        if value:
            words, unit = name.rsplit("_", 1)
            told.append(f"{words.replace('_', ' ')} {value:g} {units[unit]}")
    return ", ".join(told)


def _said(finding) -> str:
    return f"{finding.level.value}: {finding.message} {finding.do}".strip()


def _failed(failed) -> list:
    """Return what was answered and failed, before all else: paper must not look better."""
    if not failed:
        return []
    return [
        block("DO NOT PULL: failed on the assembly checklist"),
        *[paragraph(_said(found), SMALL) for found in failed],
        Spacer(1, 4),
    ]


def _measured(rows) -> list[list]:
    found = []
    for row in rows:
        check = row["check"]
        if check.stop and check.answer != "YES":
            room = f"_______ {said(check.unit)}  ({said(check.criterion)})"
            cells = [paragraph(_titled(check), SMALL), paragraph(f"{room}{_answered(row)}", SMALL)]
            found.append([Box(12), *cells])
    return found


def _seen(rows) -> list[list]:
    cells = [
        [Box(12), paragraph(f"{_titled(row['check'])}{_answered(row)}", SMALL)]
        for row in rows
        if row["check"].stop and row["check"].answer == "YES"
    ]
    if len(cells) % 2:
        cells.append(["", ""])
    return [left + right for left, right in zip(cells[::2], cells[1::2], strict=True)]


def _answered(row) -> str:
    """Return the answer on record, if there is one, and that it failed where it did."""
    if row["answer"] is None:
        return ""
    failed = "FAILED, " if row["judged"].failed else ""
    told = said(f"On record: {failed}{row['said']}")
    return f". {told}"


def _titled(check) -> str:
    shows, label = said(check.shows), said(check.label)
    return f"{shows}: {label[:1].lower()}{label[1:]}"


def _drawn(order: WorkOrder, record) -> list:
    try:
        drawn = side_view(string_of(record), old_pipe_of(order), new_pipe_of(order))
    except (BadComponent, PipeError):
        return []
    return [figure_of(drawn, WIDTH), Spacer(1, 4)]
