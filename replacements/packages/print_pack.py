"""The print pack of a package: cover, list of orders, then job and string sheet of each."""

from collections.abc import Sequence
from datetime import date
from io import BytesIO

from pypdf import PdfWriter
from reportlab.lib.pagesizes import letter
from reportlab.platypus import PageBreak, SimpleDocTemplate, Spacer, Table, TableStyle

from ..domain.cautions import all_cautions
from ..domain.methods import is_pulled
from ..models import WorkOrder, WorkPackage
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
from .given import given_of

_WIDTHS = (0.05, 0.13, 0.32, 0.2, 0.2, 0.1)


def print_pack(package: WorkPackage, orders: Sequence[WorkOrder], as_of: date) -> bytes:
    """Return the pack of at most PACK_ORDERS orders as one PDF with a bookmark for each order."""
    writer = PdfWriter()
    writer.append(BytesIO(_front(package, orders, as_of)), "Cover and list", import_outline=False)
    for order in orders:
        mark = f"{order.number} {order.line.premise.address}"
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
        [*_cover(package, orders, as_of), PageBreak(), *_list(orders)],
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
                ("Due", str(package.due_on or "not set")),
                ("Orders", str(len(orders))),
                ("Length", length),
                ("Printed", str(as_of)),
                ("Sheets", "job and tool string for each order"),
            ]
        ),
        Spacer(1, 24),
        block("Cautions for every job"),
        two_columns([str(caution) for caution in all_cautions()]),
        Spacer(1, 12),
        sign_off(("Received by, name and date", "Competent person, name and date")),
    ]


def _list(orders: Sequence[WorkOrder]) -> list:
    lines = [[paragraph(name, SMALL) for name in
              ("", "Order", "Address", "Old pipe", "New pipe", "Length")]]  # fmt: skip
    for place, order in enumerate(orders, start=1):
        given = given_of(order)
        length = f"{order.length_ft:g} ft" if order.length_ft else "measure"
        words = (order.number, order.line.premise.address, given["old_pipe"], given["new_pipe"])
        lines.append([paragraph(str(text), SMALL) for text in (place, *words, length)])
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
    return [paragraph("Orders of the package", LARGE), Spacer(1, 8), table]
