"""The replacement plan document as a PDF: what is missing first, then element by element.

The same facts give the same bytes. Text is drawn, never interpreted.
"""

from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.pdfbase import pdfmetrics
from reportlab.platypus import (
    CondPageBreak,
    KeepTogether,
    ListFlowable,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from program.paper import (
    BOLD,
    CELL,
    HEAD_CELL,
    HEADING,
    ITALIC,
    MARGIN,
    SMALL,
    SOFT,
    SOFT_TEXT,
    STOP,
    STOP_SHADE,
    TEXT,
    TITLE,
    WIDTH,
    paged_canvas,
    paragraph,
    register,
    ruled,
)
from program.plan_document.elements import OWN_WORDS, blocking

LONGEST_CELL = 600  # characters; a row must fit on one page
_PADDING = 8
ASKS = ParagraphStyle("asks", parent=TEXT, fontName=ITALIC, textColor=SOFT)


_DRAFT = ParagraphStyle("draft", parent=HEADING, textColor=HexColor(STOP))
_LABEL = ParagraphStyle(
    "label", parent=SMALL, fontName=BOLD, textColor=SOFT, spaceBefore=4, keepWithNext=1
)
_MISSING = ParagraphStyle("missing", parent=TEXT, textColor=HexColor(STOP), spaceAfter=2)


def plan_document_pdf(facts: dict, number: int | None, previous_sha256: str = "") -> bytes:
    """Return the document as a PDF; `number` is None for a print that is not frozen."""
    register()
    buffer = BytesIO()
    title = f"Service line replacement plan, {facts['utility']['name']}"
    document = SimpleDocTemplate(
        buffer,
        pagesize=letter,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=title,
        author=facts["utility"]["name"],
        invariant=1,
    )
    document.build(_story(facts, number, previous_sha256), canvasmaker=_canvas_of(facts, number))
    return buffer.getvalue()


def _story(facts: dict, number: int | None, previous: str) -> list:
    story = [*_front(facts, number, previous), *_missing_list(facts["missing"])]
    story += [*_heading("The system and its lines"), *_known(facts["inventory"])]
    for section in facts["sections"]:
        story += _section(section)
    if facts["appendix"]["tables"]:
        story += _heading("Appendix: work areas in their order")
        story += _known(facts["appendix"])
    return [*story, *_values(facts["values"]), *_marks(facts)]


def _front(facts: dict, number: int | None, previous: str) -> list:
    utility = facts["utility"]
    about = [
        ("Water system", f"{utility['name']}, PWSID {utility['pwsid'] or 'not recorded'}"),
        (
            "People served",
            f"{utility['population']:,}" if utility["population"] else "not recorded",
        ),
        (
            "Service connections",
            f"{utility['connections']:,}" if utility["connections"] else "not recorded",
        ),
        ("Contact", ", ".join(filter(None, (utility[k] for k in _CONTACT))) or "not recorded"),
        ("As of", facts["as_of"]),
        ("Document", f"number {number}, frozen" if number else "not frozen: a print to work on"),
        ("Document before it, SHA-256", previous or "none"),
    ]
    rows = [[paragraph(name, HEAD_CELL), paragraph(value, CELL)] for name, value in about]
    return [
        paragraph("Service line replacement plan", TITLE),
        paragraph(
            "Elements of 40 CFR 141.84(c), in an order of our own. Figures are the record's "
            "on the day named; words are those that staff wrote, with their author. What is "
            "missing is named and never made up.",
            TEXT,
        ),
        ruled(rows, [1.9 * inch, WIDTH - 1.9 * inch]),
        Spacer(1, 8),
    ]


_CONTACT = ("contact", "phone", "email", "website")


def _missing_list(missing: list[dict]) -> list:
    if not missing:
        return [paragraph("Nothing that the program asks for is missing.", TEXT)]
    draft = blocking(missing)
    title = f"DRAFT: {draft} missing" if draft else "To be settled"
    rows = [[one["part"], one["what"], one["who"], _waits(one)] for one in missing]
    headings = ["Part", "What", "Supplied by", "The document"]
    table = {"caption": "What is missing, and who must supply it", "headings": headings}
    return [*_heading(title, _DRAFT if draft else HEADING), *_table(table | {"rows": rows})]


def _waits(one: dict) -> str:
    return "waits for it" if one["blocks"] else "is whole without it"


def _section(section: dict) -> list:
    head = [
        paragraph(f"{section['number']}. {section['heading']}", HEADING),
        paragraph(
            f"{section['summary']} [{section['citation']}; {section['mark_in_words']}]", ASKS
        ),
    ]
    if not section["applies"]:
        return [KeepTogether([*head, paragraph("Does not apply now.", TEXT)]), *_known(section)]
    words = _words(section) if section["text"] else [_words_missing(section), Spacer(1, 5)]
    together = [KeepTogether([*head, words[0]]), *words[1:]]
    return [*together, *_known(section), *_gaps(section["missing"])]


def _words_missing(section: dict) -> Table:
    asks = [paragraph(question, _MISSING) for question in section["asks"]]
    said = (
        f"MISSING: the utility's own words. To be supplied by: {section['supplied_by']}. They "
        "should answer:"
    )
    bullets = ListFlowable(asks, bulletType="bullet", bulletFontSize=6, leftIndent=12)
    return _boxed([paragraph(said, _MISSING), bullets])


def _words(section: dict) -> list:
    text = section["text"]
    source = f", taken from {text['taken_from']}" if text["taken_from"] else ""
    author = f"version {text['version']}, {text['by']}, {text['on']}{source}"
    paragraphs = [p for p in text["text"].replace("\r\n", "\n").split("\n\n") if p.strip()]
    return [
        paragraph(f"The utility's words ({author})", _LABEL),
        *(paragraph(p.strip(), TEXT, breaks=True) for p in paragraphs),
    ]


def _known(known: dict) -> list:
    said = []
    if known["sentences"] or known["tables"]:
        said.append(paragraph("From the record", _LABEL))
    said += [paragraph(sentence, TEXT) for sentence in known["sentences"]]
    for table in known["tables"]:
        said += _table(table)
    return said


def _gaps(missing: list[dict]) -> list:
    return [
        paragraph(
            f"{'MISSING' if one['blocks'] else 'To be settled'}: {one['what']}. To be supplied by: "
            f"{one['who']}.",
            _MISSING if one["blocks"] else TEXT,
        )
        for one in missing
        if one["what"] != OWN_WORDS
    ]


def _values(rows: list[list[str]]) -> list:
    headings = ["Value and where it was read", "Used", "Paragraph", "Mark", "Read by"]
    body = [
        [f"{name}\n{source}", _with_unit(value, unit), citation, mark, reader]
        for name, value, unit, citation, source, mark, reader in rows
    ]
    table = {"caption": "Values of the rule that were used", "headings": headings, "rows": body}
    return [*_heading("Values used"), *_table(table)]


def _with_unit(value: str, unit: str) -> str:
    plain = not value[:1].isdigit() or unit in ("date", "fraction", "month-day")
    return value.replace("_", " ") if plain else f"{value} {unit}"


def _marks(facts: dict) -> list:
    open_values = [row[0] for row in facts["values"] if row[5] != "seen" and not row[6]]
    said = (
        "seen: read in the source named. memory: from general knowledge of the rule, not yet read "
        "in its text. derived: worked out from the others."
    )
    if open_values:
        said += f" Nobody has yet read in the rule's own text: {', '.join(open_values)}."
    return [Spacer(1, 4), paragraph(said, SOFT_TEXT)]


def _table(table: dict) -> list:
    """Return a table whose caption and headings stand on every page that it runs over."""
    caption = [paragraph(table["caption"], HEAD_CELL)]
    head = [paragraph(heading, HEAD_CELL) for heading in table["headings"]]
    body = [
        [paragraph(cell[:LONGEST_CELL], CELL, breaks=True) for cell in row] for row in table["rows"]
    ]
    caption += [""] * (len(head) - 1)
    made = ruled([caption, head, *body], _widths(table), headed=True)
    return [CondPageBreak(1.1 * inch), made, Spacer(1, 7)]


def _widths(table: dict) -> list[float]:
    """Give each column what it needs; where that is too much, break no word if it can be helped."""
    least, most = [], []
    for heading, *cells in zip(table["headings"], *table["rows"], strict=True):
        words = [_wide(word, HEAD_CELL) for word in heading.split()]
        words += [_wide(word, CELL) for cell in cells for word in cell.split()]
        least.append(min(max(words, default=0), WIDTH / 2) + _PADDING)
        lines = [_wide(line, CELL) for cell in cells for line in cell.split("\n")]
        lines.append(min(_wide(heading, HEAD_CELL), WIDTH / 5))
        most.append(max(least[-1], max(lines) + _PADDING))
    if sum(most) <= WIDTH:
        return [one * max(1.0, 0.6 * WIDTH / sum(most)) for one in most]
    room = max(0.0, WIDTH - sum(least))
    wish = [high - low for low, high in zip(least, most, strict=True)]
    return [low + room * one / sum(wish) for low, one in zip(least, wish, strict=True)]


def _wide(text: str, style: ParagraphStyle) -> float:
    return pdfmetrics.stringWidth(text, style.fontName, style.fontSize)


def _boxed(flowables: list) -> Table:
    made = Table([[flowables]], colWidths=[WIDTH], hAlign="LEFT")
    made.setStyle(
        TableStyle(
            [
                ("BACKGROUND", (0, 0), (-1, -1), STOP_SHADE),
                ("LINEBEFORE", (0, 0), (0, -1), 3, HexColor(STOP)),
                ("LEFTPADDING", (0, 0), (-1, -1), 8),
            ]
        )
    )
    return made


def _heading(text: str, style: ParagraphStyle = HEADING) -> list:
    return [CondPageBreak(1.4 * inch), paragraph(text, style)]


def _canvas_of(facts: dict, number: int | None):
    """Return the canvas that numbers the pages and marks every one of a draft."""
    draft = blocking(facts["missing"])
    mark = f"DRAFT: {draft} missing" if draft else ""
    name = f"Plan document {number}" if number else "Not frozen"
    foot = f"{facts['utility']['name']} · {name} · as of {facts['as_of']}"
    return paged_canvas(foot, mark or ("" if number else "NOT FROZEN"))
