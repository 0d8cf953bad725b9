"""Labels for tools: mark, kind and a code to scan or type, thirty on a letter page.

Thirty labels of 1 by 2-5/8 in. a page is a common cut of label sheets (common practice, no source).
"""

from collections.abc import Iterable
from io import BytesIO

from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.lib.pagesizes import letter
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from ..models import Component

COLUMNS, ROWS = 3, 10
_WIDE, _HIGH, _STEP = 189, 72, 198
_LEFT, _TOP = 13.5, 36
_QR, _QUIET = 62, 4  # squares that stay blank around a code, so that readers find it


def tool_labels(tools: Iterable[Component]) -> bytes:
    """Return a PDF with a label for each tool; a page says so where there is none."""
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=letter, invariant=1)
    canvas.setTitle("Labels of tools")
    place = -1
    for place, tool in enumerate(tools):
        if place and place % (COLUMNS * ROWS) == 0:
            canvas.showPage()
        row, column = divmod(place % (COLUMNS * ROWS), COLUMNS)
        _label(canvas, tool, _LEFT + column * _STEP, letter[1] - _TOP - (row + 1) * _HIGH)
    if place < 0:
        canvas.drawString(_LEFT, letter[1] - _TOP, "There is no tool in use to print a label for.")
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _label(canvas: Canvas, tool: Component, left: float, foot: float) -> None:
    _code(canvas, tool.code.replace("-", ""), left + 2, foot + (_HIGH - _QR) / 2)
    at, room = left + _QR + 6, _WIDE - _QR - 8
    canvas.setFont("Courier-Bold", 15)
    canvas.drawString(at, foot + 14, tool.code)
    canvas.setFont("Helvetica-Bold", 12)
    lines = simpleSplit(tool.mark, "Helvetica-Bold", 12, room)[:2]
    for line, text in enumerate(lines):
        canvas.drawString(at, foot + 54 - 13 * line, text)
    canvas.setFont("Helvetica", 8.5)
    canvas.drawString(at, foot + 30, tool.kind_label)


def _code(canvas: Canvas, text: str, left: float, foot: float) -> None:
    """Draw a QR code as one path: a shape for each of its squares costs twice as much."""
    code = QrCodeWidget(text, barLevel="Q").qr
    code.make()
    step = _QR / (len(code.modules) + 2 * _QUIET)
    path = canvas.beginPath()
    for row, squares in enumerate(code.modules):
        for column, dark in enumerate(squares):
            if dark:
                at = left + (column + _QUIET) * step, foot + _QR - (row + 1 + _QUIET) * step
                path.rect(*at, step, step)
    canvas.drawPath(path, stroke=0, fill=1)
