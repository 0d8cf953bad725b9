"""The print pack of what is to be done of a package: cover, list, map, then each order's sheets."""

from collections.abc import Sequence
from datetime import date
from io import BytesIO

from pypdf import PdfWriter
from reportlab.lib.pagesizes import letter
from reportlab.platypus import PageBreak, SimpleDocTemplate, Spacer, Table, TableStyle

from services_inventory.domain.days import day_told

from ..domain.cautions import all_cautions
from ..domain.driving import driving_order
from ..domain.ground import GroundCondition
from ..domain.methods import is_pulled
from ..models import WorkOrder, WorkPackage
from ..queries.access import consent_state
from ..queries.ground import lines_near
from ..queries.together import together
from ..sheets.job_sheet import job_sheet
from ..sheets.page import (
    FOOT,
    LARGE,
    MARGIN,
    SMALL,
    WIDTH,
    block,
    facts,
    paragraph,
    sign_off,
    two_columns,
)
from ..sheets.string_sheet import string_sheet
from ..words import said
from .given import given_of
from .pack_map import PackMap

_WIDTHS = (0.06, 0.14, 0.18, 0.19, 0.1, 0.14, 0.19)


def print_pack(package: WorkPackage, orders: Sequence[WorkOrder], as_of: date) -> bytes:
    """Return the pack of at most PACK_ORDERS orders as one PDF with a bookmark for each order.

    They come in driving order, numbered alike in list, map and bookmarks.
    """
    places = [order.line.premise for order in orders]
    known = [None if p.latitude is None else (p.latitude, p.longitude) for p in places]
    with together([orders[at] for at in driving_order(known)]) as driven:
        return _pack(package, driven, as_of)


def _pack(package: WorkPackage, orders: Sequence[WorkOrder], as_of: date) -> bytes:
    writer = PdfWriter()
    writer.append(
        BytesIO(_front(package, orders, as_of)), "Cover, list and map", import_outline=False
    )
    for place, order in enumerate(orders, start=1):
        mark = f"{place}. {order.number} {order.line.premise.address}"
        writer.append(BytesIO(job_sheet(order, as_of)), mark, import_outline=False)
        if is_pulled(order.method):
            writer.append(BytesIO(string_sheet(order, as_of)), import_outline=False)
    writer.add_metadata({"/Title": f"{package.name}, {package.contractor.name}"})
    buffer = BytesIO()
    writer.write(buffer)
    return buffer.getvalue()


def _front(package: WorkPackage, orders: Sequence[WorkOrder], as_of: date) -> bytes:
    buffer = BytesIO()
    document = SimpleDocTemplate(
        buffer, pagesize=letter, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN,
        bottomMargin=MARGIN + 20, title=package.name, invariant=1,
    )  # fmt: skip
    document.build(
        [*_cover(package, orders, as_of), PageBreak(), *_list(orders, as_of), *_map(orders)],
        onFirstPage=_foot,
        onLaterPages=_foot,
    )
    return buffer.getvalue()


def _foot(canvas, document) -> None:
    said = paragraph(FOOT, SMALL)
    said.wrapOn(canvas, WIDTH, 30)
    said.drawOn(canvas, MARGIN, MARGIN - 14)


def _cover(package: WorkPackage, orders: Sequence[WorkOrder], as_of: date) -> list:
    title = LARGE.clone("title", fontSize=26, leading=32)
    total_ft = sum(order.length_ft or 0 for order in orders)
    unmeasured = sum(1 for order in orders if not order.length_ft)
    length = f"{total_ft:,.0f} ft" + (f" ({unmeasured} not measured)" if unmeasured else "")
    return [
        Spacer(1, 60),
        paragraph("Work package", LARGE),
        paragraph(package.name, title),
        paragraph(package.contractor.name, LARGE),
        Spacer(1, 24),
        facts(
            [
                ("Season", str(package.year)),
                ("Due", day_told(package.due_on) if package.due_on else "not set"),
                ("Still to be done", f"{len(orders)} orders"),
                ("Length", length),
                ("Printed", day_told(as_of)),
                ("Sheets", "job and tool string for each order"),
            ]
        ),
        Spacer(1, 24),
        block("Cautions for every job"),
        two_columns([str(caution) for caution in all_cautions()]),
        Spacer(1, 12),
        sign_off(("Received by, name and date", "Competent person, name and date")),
    ]


def _list(orders: Sequence[WorkOrder], as_of: date) -> list:
    heads = ("", "Order", "Address", "Pipes", "Length", "Consent", "Hazards")
    lines = [[paragraph(name, SMALL) for name in heads]]
    for place, order in enumerate(orders, start=1):
        given, consent = given_of(order), consent_state(order.line, as_of)
        words = (
            place,
            order.number,
            order.line.premise.address,
            f"{given['old_pipe']}; new {given['new_pipe']}",
            f"{order.length_ft:g} ft" if order.length_ft else "measure",
            consent.state.label + ("" if consent.may_start else ": DO NOT START"),
            "; ".join(map(said, _hazards(order))) or "none known",
        )
        lines.append([paragraph(str(text), SMALL) for text in words])
    table = Table(lines, colWidths=[WIDTH * share for share in _WIDTHS], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("LINEBELOW", (0, 0), (-1, -1), 0.5, "#888888"),
                ("LINEBELOW", (0, 0), (-1, 0), 1.2, "#000000"),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ]
        )
    )
    return [paragraph("Still to be done, in driving order", LARGE), Spacer(1, 8), table]


def _hazards(order: WorkOrder) -> list[str]:
    """Return what lies near, what the ground is like, and what nobody has looked for."""
    found = [str(line) for line in lines_near(order)]
    if not order.other_lines_looked_for_on:
        found.append("OTHER LINES NOT LOOKED FOR")
    found += [GroundCondition(code).label for code in order.ground_conditions]
    return [*found, "groundwater"] if order.groundwater else found


def _map(orders: Sequence[WorkOrder]) -> list:
    drawn = PackMap(orders)
    if not drawn.places:
        return [Spacer(1, 12), paragraph("No order has a position yet: there is no map.", SMALL)]
    off = [str(n) for n, o in enumerate(orders, start=1) if o.line.premise.latitude is None]
    missing = f" Without a position: {', '.join(off)}." if off else ""
    said = (
        f"Straight lines show the order of the list, not the way. Streets are not drawn.{missing}"
    )
    return [PageBreak(), paragraph("Where they are", LARGE), Spacer(1, 6),
            paragraph(said, SMALL), Spacer(1, 6), drawn]  # fmt: skip
