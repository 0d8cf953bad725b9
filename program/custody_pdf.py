"""Custody of one line on paper: the same rows as its page, with every digest whole."""

from datetime import date
from io import BytesIO
from xml.sax.saxutils import escape

from django.utils.timezone import localtime
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph, SimpleDocTemplate, Table, TableStyle

from services_inventory.domain.days import day_told

from .queries.custody import Step

# They come with the PDF library and hold the characters of Western Europe.
FONT, BOLD = "Vera", "VeraBd"
LONGEST = 400  # characters of what a step says
_INK, _RULE = HexColor("#16262b"), HexColor("#a39d8b")
_TEXT = ParagraphStyle("text", fontName=FONT, fontSize=7.5, leading=9.5, textColor=_INK)
_HEAD = ParagraphStyle("head", parent=_TEXT, fontName=BOLD)
_TITLE = ParagraphStyle("title", parent=_HEAD, fontSize=14, leading=18, spaceAfter=4)
_WIDTHS = [0.95 * inch, 2.6 * inch, 1.7 * inch, 2.15 * inch]


def custody_pdf(line, steps: list[Step], head: str, as_of: date, utility) -> bytes:
    """Return the paper; the same record gives the same bytes."""
    for name in (FONT, BOLD):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    title = f"Custody of line {line.location_id}"
    buffer = BytesIO()
    document = SimpleDocTemplate(
        buffer, pagesize=letter, leftMargin=0.55 * inch, rightMargin=0.55 * inch,
        topMargin=0.6 * inch, bottomMargin=0.7 * inch, title=title,
        author=utility.name if utility else "", invariant=1,
    )  # fmt: skip
    rows = [[_said(words, _HEAD) for words in ("Part", "What", "Who, when", "SHA-256, seal")]]
    rows += [[_said(cell) for cell in _cells(step)] for step in steps]
    table = Table(rows, colWidths=_WIDTHS, repeatRows=1)
    table.setStyle(
        TableStyle(
            [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE)]
        )
    )
    about = (
        f"{utility.name if utility else ''} · {line.premise.address} · "
        f"{line.get_category_display() or 'no category'} · printed on {day_told(as_of)}"
    )
    front = [_said(title, _TITLE), _said(about), _said(f"Head of the chain of seals: {head}")]
    document.build([*front, _said(" "), table], onFirstPage=_foot, onLaterPages=_foot)
    return buffer.getvalue()


def _cells(step: Step) -> tuple[str, str, str, str]:
    when = localtime(step.at)
    sealed = "a file" if step.file else f"seal {step.seal}" if step.seal else "not sealed yet"
    return (
        step.part,
        step.what if len(step.what) <= LONGEST else f"{step.what[:LONGEST]}…",
        f"{step.who}, {day_told(when.date())}, {when:%H:%M}",
        f"{step.sha256 or 'none'} · {sealed}",
    )


def _said(text: str, style: ParagraphStyle = _TEXT) -> Paragraph:
    return Paragraph(escape(text), style)


def _foot(canvas, document) -> None:
    canvas.setFont(FONT, 7)
    canvas.drawString(0.55 * inch, 0.4 * inch, "Each row's digest is of its sealed columns as CSV.")
    canvas.drawRightString(letter[0] - 0.55 * inch, 0.4 * inch, f"page {document.page}")
