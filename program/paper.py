"""What the printed papers have in common: page, type, tables, page numbers.

The same facts give the same bytes. Text is drawn, never interpreted.
"""

from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor, white
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph, Table, TableStyle

INK, SOFT, RULE, STOP = HexColor("#16262b"), HexColor("#4a5c61"), HexColor("#a39d8b"), "#9b1c31"
SHADE, STOP_SHADE = HexColor("#eef1ec"), HexColor("#f7dfe1")
MARGIN, FOOT = 0.9 * inch, 0.55 * inch
WIDTH = letter[0] - 2 * MARGIN
# They come with the PDF library and hold the characters of Western Europe.
FONT, BOLD, ITALIC = "Vera", "VeraBd", "VeraIt"

TEXT = ParagraphStyle("text", fontName=FONT, fontSize=9, leading=12.5, textColor=INK, spaceAfter=5)
SMALL = ParagraphStyle("small", parent=TEXT, fontSize=7.5, leading=10, spaceAfter=3)
SOFT_TEXT = ParagraphStyle("soft", parent=SMALL, textColor=SOFT)
CELL = ParagraphStyle("cell", parent=SMALL, spaceAfter=0)
HEAD_CELL = ParagraphStyle("head cell", parent=CELL, fontName=BOLD)
TITLE = ParagraphStyle("title", parent=TEXT, fontName=BOLD, fontSize=18, leading=23, spaceAfter=6)
HEADING = ParagraphStyle(
    "heading", parent=TEXT, fontName=BOLD, fontSize=12.5, leading=16, spaceBefore=14
)


def unprintable(text: str) -> list[str]:
    """Return the characters of a text that the document's font does not have."""
    register()
    has = pdfmetrics.getFont(FONT).face.charToGlyph
    return sorted({c for c in text if c not in "\n\r\t" and ord(c) not in has})


def register() -> None:
    """Have the fonts at hand."""
    for name in (FONT, BOLD, ITALIC):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))


def ruled(rows: list, widths: list[float], headed: bool = False) -> Table:
    """Return a table with a rule beneath each row, and its head on every page."""
    made = Table(rows, colWidths=widths, repeatRows=2 if headed else 0, hAlign="LEFT")
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ("LEFTPADDING", (0, 0), (-1, -1), 3),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ]
    if headed:
        style += [("SPAN", (0, 0), (-1, 0)), ("LINEBELOW", (0, 0), (-1, 0), 0, white)]
        style.append(("BACKGROUND", (0, 1), (-1, 1), SHADE))
    made.setStyle(TableStyle(style))
    return made


def paragraph(text: object, style: ParagraphStyle, breaks: bool = False) -> Paragraph:
    """Return text as a paragraph, drawn as it is."""
    plain = fit(str(text))
    safe = escape(plain)
    return Paragraph(safe.replace("\n", "<br/>") if breaks else safe, style)


def fit(text: str) -> str:
    """Return the text with a box where the font has no glyph, so that the gap is seen."""
    gone = set(unprintable(text))
    return "".join("\u25a1" if c in gone else c for c in text) if gone else text


def paged_canvas(foot: str, mark: str = ""):
    """Return a canvas that knows the number of pages; `mark` stands at the head of each."""

    class Numbered(Canvas):
        """Keeps each page until the number of pages is known."""

        def __init__(self, *args, **kwargs):
            super().__init__(*args, **kwargs)
            self.kept: list[dict] = []

        def showPage(self):  # noqa: N802, the library's name
            self.kept.append(dict(self.__dict__))
            self._startPage()

        def save(self):
            for page, state in enumerate(self.kept, start=1):
                self.__dict__.update(state)
                self._edges(page, len(self.kept))
                super().showPage()
            super().save()

        def _edges(self, page: int, pages: int) -> None:
            self.setFont(FONT, 7)
            self.setFillColor(SOFT)
            self.drawString(MARGIN, FOOT, fit(foot)[:100])
            self.drawRightString(letter[0] - MARGIN, FOOT, f"{page} / {pages}")
            if mark:
                self.setFillColor(HexColor(STOP))
                self.rect(0, letter[1] - 0.42 * inch, letter[0], 0.24 * inch, stroke=0, fill=1)
                self.setFillColor(white)
                self.setFont(BOLD, 8)
                self.drawCentredString(letter[0] / 2, letter[1] - 0.33 * inch, mark)

    return Numbered
