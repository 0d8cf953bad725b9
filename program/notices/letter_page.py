"""One letter's page: where the address shows in a window envelope, and how the text is drawn.

Text is drawn, never interpreted: there is no mark-up for an address to break out of.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from program.notices.templates_text import NoticeError, Passage, fill, has_placeholder
from program.submissions.cell_text import Notes, clean

INCH = 72.0
PAGE_WIDTH, PAGE_HEIGHT = 8.5 * INCH, 11 * INCH
LEFT, RIGHT, BOTTOM = 1.0 * INCH, 7.5 * INCH, 0.8 * INCH
TOP = 0.75 * INCH
BODY_SIZE, HEADING_SIZE, ADDRESS_SIZE, SMALL_SIZE = 9.5, 10.5, 9.0, 8.0
LEADING, ADDRESS_LEADING = 12.5, 10.5
MAIL_LINES_MAX = 4
# Code 128 (ISO/IEC 15417) asks for ten narrow bars of blank paper on either side [memory]. Narrow
# bars of 10 and 7.5 mil are common practice, no source: scanners and phones read both.
BARS, QUIET, BARS_HIGH = (0.72, 0.54), 10, 0.3 * INCH


@dataclass(frozen=True)
class WindowEnvelope:
    """A single-window envelope in inches; the sheet is folded in three and may slide in it."""

    width: float
    height: float
    window_left: float
    window_bottom: float
    window_width: float
    window_height: float
    clear_sides: float
    clear_ends: float

    @property
    def panel(self) -> float:
        """Height of a folded letter sheet, in inches."""
        return PAGE_HEIGHT / INCH / 3

    def address_box(self) -> tuple[float, float, float, float]:
        """Return (left, top, right, bottom) in points from the sheet's upper left corner.

        What stands in this box shows in the window wherever the sheet slides.
        """
        slack_x, slack_y = self.width - PAGE_WIDTH / INCH, self.height - self.panel
        top = self.panel - self.window_bottom - self.window_height
        left = self.window_left + self.clear_sides
        right = self.window_left + self.window_width - slack_x - self.clear_sides
        upper, lower = top + slack_y + self.clear_ends, top + self.window_height - self.clear_ends
        return left * INCH, upper * INCH, right * INCH, lower * INCH

    def swept_box(self) -> tuple[float, float, float, float]:
        """Return the box, likewise, where anything at all may come to show in the window."""
        slack_x, slack_y = self.width - PAGE_WIDTH / INCH, self.height - self.panel
        top = self.panel - self.window_bottom - self.window_height
        left, right = self.window_left - slack_x, self.window_left + self.window_width
        return left * INCH, top * INCH, right * INCH, (top + self.window_height + slack_y) * INCH


# Common practice, no source: US #10 envelope 9 1/2 x 4 1/8 in., window 4 1/2 x 1 1/8 in.,
# 7/8 in. from the left edge and 1/2 in. from the bottom; clearances from the edges of the window.
NUMBER_10 = WindowEnvelope(9.5, 4.125, 0.875, 0.5, 4.5, 1.125, 0.125, 0.04)


@dataclass(frozen=True)
class Fonts:
    """Two TrueType files; the default ones come with the PDF library (Western Europe)."""

    regular: str = "Vera.ttf"
    bold: str = "VeraBd.ttf"


SHIPPED_FONTS = Fonts()


@dataclass(frozen=True, kw_only=True)
class Sender:
    """The water system, as it stands at the head and in the text of every letter."""

    system_name: str
    pwsid: str
    address: tuple[str, ...]
    phone: str
    website: str
    email: str = ""


class UnprintableText(NoticeError):
    """The font lacks a character, or the script needs more than placing glyphs in a row."""


class DoesNotFit(NoticeError):
    """An address does not fit the window."""


@dataclass(frozen=True)
class _Line:
    """One line of the body: its text, and whether it is a heading or a gap before one."""

    text: str
    heading: bool = False


class Pen:
    """Breaks text into lines and draws them, in one pair of fonts on one kind of sheet."""

    def __init__(self, fonts: Fonts, envelope: WindowEnvelope):
        self.regular, self.bold = _registered(fonts.regular), _registered(fonts.bold)
        self.glyphs = _glyphs(self.regular) & _glyphs(self.bold)
        self.box = envelope.address_box()
        self.body_top = PAGE_HEIGHT - envelope.swept_box()[3] - 0.3 * INCH
        self.margin_x = max(envelope.swept_box()[2] + 0.1 * INCH, 5.5 * INCH)
        self.fixed: dict[str, tuple[str, ...]] = {}

    def checked(self, text: str) -> str:
        """Return the text, composed (NFC) and on one line.

        Raises:
            UnprintableText: naming the characters.

        """
        text = unicodedata.normalize("NFC", clean(text, Notes(), ""))
        missing = sorted({c for c in text if c not in self.glyphs})
        if not missing:
            return text
        shown = ", ".join(f"{c} (U+{ord(c):04X})" for c in missing[:5])
        if any(_needs_shaping(c) for c in missing):
            raise UnprintableText(
                f"'{text[:60]}' holds {shown}, from a script that these letters cannot be set in: "
                "use the mail-merge list with a word processor."
            )
        raise UnprintableText(
            f"'{text[:60]}' holds {shown}, which the letters' font lacks: choose a font file that "
            "has it, or correct the text."
        )

    def address(self, lines: Iterable[str]) -> list[str]:
        """Return the address block's lines.

        Raises:
            DoesNotFit: too many lines for the window, or one too long.

        """
        lines = [self.checked(line) for line in lines if line.strip()]
        if not 1 < len(lines) <= MAIL_LINES_MAX:
            raise DoesNotFit(
                f"The address has {len(lines)} lines; the window shows 2 to {MAIL_LINES_MAX}."
            )
        left, _top, right, _bottom = self.box
        for line in lines:
            if self._width(line) > right - left:
                raise DoesNotFit(
                    f"The address line '{line[:60]}' is too long for the window: shorten it or "
                    "split it in two."
                )
        return lines

    def lay_out(self, passages: Iterable[Passage], values: Mapping[str, str]) -> list[_Line]:
        """Return the body's lines; text that is the same in every letter is broken once."""
        body = []
        for passage in passages:
            if passage.heading:
                body.append(_Line(self.checked(passage.heading), heading=True))
            if has_placeholder(passage.text):
                lines = self.broken(fill(passage.text, values))
            else:
                if passage.text not in self.fixed:
                    self.fixed[passage.text] = self.broken(passage.text)
                lines = self.fixed[passage.text]
            body += [_Line(line) for line in lines]
        return body

    def broken(self, text: str) -> tuple[str, ...]:
        """Return a text broken into lines of the page's width; an empty line parts paragraphs."""
        from reportlab.lib.utils import simpleSplit

        width, out = RIGHT - LEFT, []
        for paragraph in text.splitlines():
            lines = simpleSplit(self.checked(paragraph), self.regular, BODY_SIZE, width)
            out += [piece for line in lines or [""] for piece in self._cut(line, width)]
        return tuple(out)

    def _cut(self, line: str, width: float) -> Iterator[str]:
        from reportlab.pdfbase.pdfmetrics import stringWidth

        while stringWidth(line, self.regular, BODY_SIZE) > width and len(line) > 1:
            fits = len(line)
            while fits > 1 and stringWidth(line[:fits], self.regular, BODY_SIZE) > width:
                fits -= 1
            yield line[:fits]
            line = line[fits:]
        yield line

    def draw(self, canvas, sender: Sender, dated: str, reference: str, mail_to, bodies) -> int:
        """Draw one letter, each body from a new page on, and return the number of pages."""
        self._head(canvas, sender, dated, reference)
        left, top, right, bottom = self.box
        block = canvas.beginText(left, PAGE_HEIGHT - top - ADDRESS_SIZE)
        block.setFont(self.regular, ADDRESS_SIZE, ADDRESS_LEADING)
        for line in mail_to:
            block.textLine(line)
        canvas.drawText(block)
        widest = max(self._width(line) for line in mail_to)
        _bars(canvas, reference, left + widest, right, PAGE_HEIGHT - bottom)
        starts = (self.body_top, *[PAGE_HEIGHT - TOP] * (len(bodies) - 1))
        pages = [
            page
            for start, body in zip(starts, bodies, strict=True)
            for page in self._pages(body, start)
        ]
        for number, (top, lines) in enumerate(pages, start=1):
            self._body(canvas, lines, top)
            canvas.setFont(self.regular, SMALL_SIZE)
            foot = f"{reference}   {number} / {len(pages)}"
            canvas.drawRightString(RIGHT, BOTTOM - 2 * LEADING, foot)
            canvas.showPage()
        return len(pages)

    def _head(self, canvas, sender: Sender, dated: str, reference: str) -> None:
        head = canvas.beginText(LEFT, PAGE_HEIGHT - TOP)
        head.setFont(self.bold, HEADING_SIZE, LEADING)
        head.textLine(self.checked(sender.system_name))
        head.setFont(self.regular, SMALL_SIZE, LEADING - 2)
        for line in sender.address:
            head.textLine(self.checked(line))
        canvas.drawText(head)
        side = canvas.beginText(self.margin_x, PAGE_HEIGHT - TOP)
        side.setFont(self.regular, SMALL_SIZE, LEADING - 2)
        side.textLine(dated)
        side.textLine(reference)
        canvas.drawText(side)
        low = PAGE_HEIGHT - TOP - LEADING - BARS_HIGH
        _bars(canvas, reference, self.margin_x, RIGHT, low)

    def _width(self, line: str) -> float:
        from reportlab.pdfbase.pdfmetrics import stringWidth

        return stringWidth(line, self.regular, ADDRESS_SIZE)

    def _pages(self, body: list[_Line], top: float) -> Iterator[tuple[float, list[_Line]]]:
        """Yield (top, lines) for each page; a heading stays with the two lines below it."""
        y, page = top, []
        for index, line in enumerate(body):
            gap = LEADING * 0.6 if line.heading and page else 0
            # Its own line, and for a heading two of its text.
            follows = min(2, len(body) - index - 1) if line.heading else 0
            if page and y - gap - LEADING * follows < BOTTOM:
                yield top, page
                top, y, page, gap = PAGE_HEIGHT - TOP, PAGE_HEIGHT - TOP, [], 0
            page.append(line)
            y -= gap + LEADING
        yield top, page

    def _body(self, canvas, lines: list[_Line], top: float) -> None:
        text = canvas.beginText(LEFT, top)
        text.setFont(self.regular, BODY_SIZE, LEADING)
        for number, line in enumerate(lines):
            if line.heading:
                if number:
                    text.moveCursor(0, LEADING * 0.6)
                text.setFont(self.bold, HEADING_SIZE, LEADING)
                text.textLine(line.text)
                text.setFont(self.regular, BODY_SIZE, LEADING)
            else:
                text.textLine(line.text)
        canvas.drawText(text)


def _bars(canvas, reference: str, left: float, right: float, bottom: float) -> None:
    """Draw the reference as a bar code against the right edge, if it can be read at that width."""
    from reportlab.graphics.barcode.code128 import Code128

    for bar in BARS:
        quiet = QUIET * bar
        code = Code128(
            reference, barWidth=bar, barHeight=BARS_HIGH, quiet=True, lquiet=quiet, rquiet=quiet
        )
        if code.width <= right - left:
            code.drawOn(canvas, right - code.width, bottom)
            return


def _needs_shaping(character: str) -> bool:
    return (
        unicodedata.bidirectional(character) in ("R", "AL", "AN", "NSM")
        or unicodedata.category(character) in ("Mn", "Mc")
        or 0x0900 <= ord(character) <= 0x109F
    )


def _registered(file: str) -> str:
    """Return the name under which a TrueType file is known to the PDF library.

    Raises:
        NoticeError: the file is not there or is not a TrueType font.

    """
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFError, TTFont

    if file not in pdfmetrics.getRegisteredFontNames():
        try:
            pdfmetrics.registerFont(TTFont(file, file))
        except (TTFError, OSError) as error:
            raise NoticeError(
                f"The font '{Path(file).name}' cannot be used: give the path of a TrueType (.ttf) "
                "file."
            ) from error
    return file


def _glyphs(name: str) -> frozenset[str]:
    from reportlab.pdfbase import pdfmetrics

    return frozenset(map(chr, pdfmetrics.getFont(name).face.charToGlyph))
