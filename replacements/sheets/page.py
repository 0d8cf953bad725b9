"""What both sheets are made of: one letter page with a head, blocks of text and boxes to tick."""

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from io import BytesIO
from math import floor
from xml.sax.saxutils import escape

from reportlab.lib.colors import black, white
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from services_inventory.domain.days import day_told

from ..words import said

MARGIN = 36
WIDTH = letter[0] - 2 * MARGIN
LARGE = ParagraphStyle("large", fontName="Helvetica-Bold", fontSize=15, leading=18)
PLAIN = ParagraphStyle("plain", fontName="Helvetica", fontSize=12, leading=14.5)
SMALL = ParagraphStyle("small", fontName="Helvetica", fontSize=10.5, leading=12.5)
HEAD = ParagraphStyle("head", parent=LARGE, fontSize=12, leading=15, textColor=white)
FOOT = (
    "Local codes, the equipment maker's ratings and licensed practice come before this sheet; a "
    "competent person on site decides. Forces are estimates, not measurements."
)


class Plain(Paragraph):
    """Plain text; what the sheets of a pack say again is read and broken into lines once."""

    def __init__(self, text: str, style: ParagraphStyle, bulletText=None, frags=None, **more):
        super().__init__(text, style, bulletText, frags or _read(text, style), **more)

    def breakLines(self, width):  # as the library names it
        """Return the lines of a width; a rest that was split off is broken by itself."""
        if self.text is None or width[0] != width[-1]:
            return super().breakLines(width)
        return _broken(self.text, self.style, width[0])


@lru_cache(maxsize=4096)
def _read(text: str, style: ParagraphStyle) -> list:
    return Paragraph(text, style).frags


@lru_cache(maxsize=16384)
def _broken(text: str, style: ParagraphStyle, width: float):
    return Paragraph(text, style, frags=_read(text, style)).breakLines([width, width])


def paragraph(text: str, style: ParagraphStyle = PLAIN) -> Paragraph:
    """Return a paragraph of plain text, in the language that is spoken."""
    return Plain(escape(said(text)), style)


def block(title: str) -> Table:
    """Return a heading, white on black, over the whole width."""
    bar = Table([[paragraph(title, HEAD)]], colWidths=["100%"], hAlign="LEFT")
    bar.setStyle(TableStyle([("BACKGROUND", (0, 0), (-1, -1), black), ("TOPPADDING", (0, 0),
                 (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 3)]))  # fmt: skip
    return bar


def facts(rows: Iterable[tuple[str, str]], columns: int = 2) -> Table:
    """Return names and values side by side, the values large."""
    cells = [[paragraph(name, SMALL), paragraph(value, LARGE)] for name, value in rows]
    while len(cells) % columns:
        cells.append(["", ""])
    lines = [sum(cells[n : n + columns], []) for n in range(0, len(cells), columns)]
    return _ruled(lines, [0.3 / columns, 0.7 / columns] * columns)


def rows_table(lines: Sequence[Sequence], widths: Sequence[float]) -> Table:
    """Return a ruled table; `widths` are shares of the page's width."""
    return _ruled(lines, widths)


def two_columns(sentences: Sequence[str]) -> Table:
    """Return sentences in two columns, read down the first and then down the second."""
    half = -(-len(sentences) // 2)
    cells = [[Plain(escape(f"• {said(sentence)}"), SMALL) for sentence in part]
             for part in (sentences[:half], sentences[half:])]  # fmt: skip
    table = Table([cells], colWidths=["50%", "50%"], hAlign="LEFT")
    table.setStyle(
        TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 3)])
    )
    return table


def _ruled(lines, shares: Sequence[float]) -> Table:
    """Return a table with lines below its rows; what is set smaller still fills the page."""
    table = Table(lines, colWidths=[f"{100 * share:g}%" for share in shares], hAlign="LEFT")
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.5, black),
                ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
                ("LEFTPADDING", (0, 0), (-1, -1), 3),
                ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )
    return table


class Box(Flowable):
    """A box to tick with a pencil in a gloved hand."""

    def __init__(self, size: float = 14):
        super().__init__()
        self.width = self.height = size

    def draw(self) -> None:
        """Draw the box."""
        self.canv.setLineWidth(1.4)
        self.canv.rect(0, 0, self.width, self.height)


def sign_off(names: Sequence[str]) -> Table:
    """Return boxes to sign: who, name, time."""
    cells = [[paragraph(name, SMALL) for name in names]]
    table = Table(
        cells, colWidths=[f"{100 / len(names):g}%"] * len(names), rowHeights=[38], hAlign="LEFT"
    )
    table.setStyle(
        TableStyle(
            [
                ("BOX", (0, 0), (-1, -1), 1, black),
                ("INNERGRID", (0, 0), (-1, -1), 1, black),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ]
        )  # fmt: skip
    )
    return table


def one_page(
    title: str,
    subtitle: str,
    build: Callable[[], list[Flowable]],
    printed_on,
    above: Sequence[Flowable] = (),
) -> bytes:
    """Return a PDF of one letter page; what would run over is set smaller, nothing is cut off.

    build : returns the page's blocks afresh, as often as they are tried at another size
    above : drawings that keep their size, under the title
    """
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=letter, invariant=1)
    title = said(title)
    canvas.setTitle(f"{title} {subtitle}")
    top = letter[1] - MARGIN
    canvas.setFont("Helvetica-Bold", 26)
    canvas.drawString(MARGIN, top - 20, title)
    canvas.setFont("Helvetica", 10)
    canvas.drawRightString(letter[0] - MARGIN, top - 12, said(f"printed on {day_told(printed_on)}"))
    canvas.setFont("Helvetica-Bold", 15)
    canvas.drawString(MARGIN, top - 42, subtitle)
    y = top - 52
    for drawn in above:
        y -= drawn.wrapOn(canvas, WIDTH, y)[1]
        drawn.drawOn(canvas, MARGIN, y)
    _set(canvas, build, y, y - MARGIN - 24)
    foot = paragraph(FOOT, SMALL)
    foot.wrapOn(canvas, WIDTH, 30)
    foot.drawOn(canvas, MARGIN, MARGIN - 14)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _set(canvas: Canvas, build: Callable[[], list[Flowable]], y: float, room: float) -> None:
    """Draw blocks below a height, as large as the room allows."""
    scale = 1.0
    while True:
        blocks = build()
        heights = [each.wrapOn(canvas, WIDTH / scale, room / scale)[1] for each in blocks]
        over = sum(heights) * scale / room
        if over <= 1 or scale < _LEAST:
            break
        # Text set smaller takes fewer lines as well: its height goes with the square of the scale.
        # Scales go by steps, so that the lines of one sheet are also those of the next.
        scale = floor(scale * min(0.97, 0.985 / over**0.5) / _STEP) * _STEP
    canvas.saveState()
    canvas.translate(MARGIN, y)
    canvas.scale(scale, scale)
    at = 0.0
    for each, height in zip(blocks, heights, strict=True):
        at -= height
        each.drawOn(canvas, 0, at)
    canvas.restoreState()


_LEAST, _STEP = 0.2, 0.02
