"""The page that is signed: who certifies what, in which words; every file with its SHA-256.

At most two Letter pages: the type is made smaller until it is so.
"""

from collections.abc import Iterator, Mapping
from io import BytesIO

from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.platypus import KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table

from program.paper import CELL, HEAD_CELL, HEADING, TEXT, TITLE, paged_canvas, register, ruled
from program.paper import paragraph as drawn
from program.submissions.figures import ROUNDING

PAGES = 2
SCALES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7)
EDGE = 0.7 * inch
WIDTH = letter[0] - 2 * EDGE
SENTENCES, FEW = 6, 2  # of the evidence of one answer, and when the type is small already
_FIGURE = ParagraphStyle("figure", parent=CELL, alignment=2)


def signing_sheet_pdf(said: Mapping) -> bytes:
    """Return the page as a PDF; `said` is what `queries/signing.sheet_said` makes."""
    register()
    for scale in SCALES:
        content, pages = _built(said, scale)
        if pages <= PAGES:
            break
    return content


def _built(said: Mapping, scale: float) -> tuple[bytes, int]:
    buffer = BytesIO()
    document = SimpleDocTemplate(
        buffer, pagesize=letter, leftMargin=EDGE, rightMargin=EDGE, topMargin=EDGE,
        bottomMargin=0.8 * inch, title=said["title"], author=said["system"], invariant=1,
    )  # fmt: skip
    foot = f"{said['system']} · {said['about']} · digest {said['digest'][:16]}…"
    document.build(list(_Sheet(said, scale).story()), canvasmaker=paged_canvas(foot, said["mark"]))
    return buffer.getvalue(), document.page


class _Sheet:
    """The sheet at one size of type."""

    def __init__(self, said: Mapping, scale: float):
        self.said, self.scale = said, scale

    def text(self, text: object, style: ParagraphStyle = CELL, breaks: bool = False) -> Paragraph:
        sized = ParagraphStyle(
            style.name, parent=style, fontSize=style.fontSize * self.scale,
            leading=style.leading * self.scale, spaceBefore=style.spaceBefore * self.scale * 0.6,
            spaceAfter=style.spaceAfter * self.scale * 0.6,
        )  # fmt: skip
        return drawn(text, sized, breaks)

    def story(self) -> Iterator:
        """Yield the sheet from top to bottom."""
        said = self.said
        yield self.text(said["title"], TITLE)
        yield self.text(said["sentence"], TEXT)
        yield self.text("Statement", HEADING)
        yield self.text(said["statement"], TEXT, breaks=True)
        yield self.signature()
        if said["answers"]:
            yield self.text(said["answers_heading"], HEADING)
            yield self.answers()
        yield KeepTogether([self.text("Totals", HEADING), self.totals(), self.text(ROUNDING)])
        yield KeepTogether([self.text("What is signed", HEADING), *self.files()])

    def signature(self) -> Table:
        """Name, title and day, and room to sign."""
        said = self.said
        cells = [
            [self.text(name, HEAD_CELL), self.text(said[key])]
            for name, key in (("Name", "name"), ("Title", "job"), ("Day", "day"))
        ]
        cells.append([self.text("Signature", HEAD_CELL), Spacer(1, 26)])
        return ruled(cells, [1.1 * inch, WIDTH - 1.1 * inch])

    def answers(self) -> Table:
        """Each question with what it was answered on."""
        rows = []
        for question, *evidence in self.said["answers"]:
            most = SENTENCES if self.scale > 0.85 else FEW
            more = len(evidence) - most
            shown = evidence[:most]
            shown += [f"And {more} more, in the workbook."] if more > 0 else []
            answer = self.said["answer"]
            rows.append(
                [
                    self.text(question, HEAD_CELL),
                    self.text(answer),
                    self.text("\n".join(shown), breaks=True),
                ]
            )
        first, second = 2.3 * inch, 0.6 * inch
        return ruled(rows, [first, second, WIDTH - first - second])

    def totals(self) -> Table:
        """All figures, in two columns side by side."""
        figures = self.said["figures"]
        half = (len(figures) + 1) // 2
        rows = []
        for number in range(half):
            row = []
            for place in (number, number + half):
                code, heading, text = figures[place] if place < len(figures) else ("", "", "")
                style = _FIGURE if len(text) < SHORT else CELL
                row += [self.text(code), self.text(heading), self.text(text, style)]
            rows.append(row)
        code, text = 0.62 * inch, 1.05 * inch
        heading = WIDTH / 2 - code - text
        return ruled(rows, [code, heading, text] * 2)

    def files(self) -> Iterator:
        """Digest and chain, then each file."""
        said = self.said
        rows = [
            [self.text(name, HEAD_CELL), self.text(value)]
            for name, value in (
                ("Digest", said["digest"]),
                ("Submission before it", said["previous"]),
                ("Record behind it, sealed", said["record"]),
                *said["files"],
            )
        ]
        yield ruled(rows, [2.6 * inch, WIDTH - 2.6 * inch])
        yield self.text("File names are followed by the SHA-256 of each file as it was frozen.")


SHORT = 24  # characters of a figure that stands to the right
