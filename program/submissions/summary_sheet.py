"""The first sheet of the workbook: who, when, the totals, the years, what is still open."""

from program.submissions.facts import THE_YEAR, SubmissionFacts, SummaryLine, Total, summary_lines
from program.submissions.figures import ROUNDING, exact_parts
from program.submissions.layouts import Layout
from program.submissions.tables import Column

CERTIFIED_WHERE = (
    "The signing page (certification PDF) in the archive names who certified, and each file with "
    "its SHA-256. This workbook was frozen before it was signed."
)
TITLE_HEIGHT = 22  # points
EXACT_INTEGER_MAX = 10**15  # a cell's number is exact up to fifteen digits
WIDTHS = (13, 42, 16, 14, 14, 74)  # of the columns, in characters
LAST_COLUMN = len(WIDTHS) - 1


class SummarySheet:
    """The first sheet: who, when, the totals, the years, what is still open."""

    def __init__(self, book):
        self.book, self.facts = book, book.facts
        self.sheet, self.row = book.summary, 0

    def write(self) -> None:
        """Write the sheet from top to bottom."""
        self.about()
        self.totals()
        if self.facts.report:
            self.years()
        self.open_questions()

    def line(self, *values: object, form=None) -> None:
        """Write one row of text, numbers and dates, each as what it is; the last column wraps."""
        self.book.height(self.sheet, self.row, values[LAST_COLUMN:], WIDTHS[LAST_COLUMN:])
        for col, value in enumerate(values):
            self.cell(col, value, self.book.formats["wrapped"] if col == LAST_COLUMN else form)
        self.row += 1

    def cell(self, col: int, value: object, form=None) -> None:
        """Write one cell in its real type."""
        if isinstance(value, str):
            self.book.text(self.sheet, self.row, col, value, form)
        elif value is not None:
            self.book.figure(self.sheet, self.row, col, value, form)

    def sentence(self, *values: object) -> None:
        """Write a row whose last text runs over the columns beside it and wraps."""
        *before, text = values
        wrapped, first = self.book.formats["wrapped"], len(before)
        self.book.height(self.sheet, self.row, (text,), (sum(WIDTHS[first:]),))
        self.sheet.merge_range(self.row, first, self.row, LAST_COLUMN, "", wrapped)
        for col, value in enumerate(before):
            self.cell(col, value, wrapped)
        self.book.text(self.sheet, self.row, first, text, wrapped)
        self.row += 1

    def about(self) -> None:
        """Write the system, the day and the program year."""
        facts, formats = self.facts, self.book.formats
        self.sheet.set_row(self.row, TITLE_HEIGHT)
        self.line("Annual submission of the service line inventory", form=formats["title"])
        for heading, value in (
            ("PWSID", facts.pwsid),
            ("System", facts.system_name),
            ("Population served", facts.population),
            ("Service connections", facts.connections),
            ("As of", facts.as_of),
            ("Report date", facts.reported_on),
            ("Program year", facts.year_told or facts.program_year),
            ("Revision", facts.revision),
            ("Prepared by", facts.prepared_by or None),
            ("Amended because", facts.amended_because or None),
            ("Digest of the submission before", facts.previous_digest or None),
            ("Certified by", CERTIFIED_WHERE),
            ("Rates", ROUNDING),
        ):
            if isinstance(value, str) and len(value) > sum(WIDTHS[2:5]):
                self.sentence(None, heading, value)
            elif value is not None:
                self.line(None, heading, value)
        self.row += 1

    def totals(self) -> None:
        """Write sheet A and sheet B with how each total is counted, and name the cells."""
        heads = ("Code", "Total", "Value", "Numerator", "Denominator", "How it is counted")
        self.book.headings(self.sheet, self.row, heads)
        self.row += 1
        for line in summary_lines(self.facts):
            top, bottom = map(_exact, exact_parts(line.value))
            self.book.book.define_name(f"total_{line.code}", f"=Summary!$C${self.row + 1}")
            how = how_counted(self.book.layout, self.facts, line)
            if isinstance(line.value, str) and not how:
                self.sentence(line.code, line.heading, line.value)
            else:
                self.line(line.code, line.heading, line.value, top, bottom, how)
        self.row += 1

    def years(self) -> None:
        """Write one row for each program year that the rate is averaged over."""
        heads = ("Year", "Replacement pool at the start", "Replaced", "Annual", "Cumulative")
        self.book.headings(self.sheet, self.row, heads)
        self.row += 1
        for year in self.facts.report.years:
            self.line(*year)
        self.row += 1

    def open_questions(self) -> None:
        """Write the values nobody has confirmed and the questions left open."""
        open_values = [v for v in self.facts.values_used if not v.settled]
        said = [f"{v.id} = {v.value} {v.unit}".strip() + f" ({v.mark})" for v in open_values]
        self.line(None, "Values used that nobody has read in the rule's text", len(said))
        for sentence in said:
            self.sentence(None, None, sentence)
        self.line(None, "Questions left open", len(self.facts.open_questions))
        for sentence in self.facts.open_questions:
            self.sentence(None, None, sentence)
        self.sheet.print_area(0, 0, self.row, LAST_COLUMN)


def how_counted(layout: Layout, facts: SubmissionFacts, line: SummaryLine) -> str:
    """Return in one sentence how a person counts a total in this layout's sheets."""
    total = line.total
    if total is None:
        return line.how_counted
    name = layout.sheet_name(total.sheet)
    if not is_countable(layout, total):
        return f"This layout leaves a column of '{name}' out that it is counted from."
    ways = [
        " and ".join(
            f"'{column_of(layout, total.sheet, key).heading}' is "
            f"{shown(layout, facts, total, key, code)}"
            for key, code in where
        )
        for where in total.where
    ]
    if not ways[0]:
        return f"Rows of '{name}'."
    return f"Rows of '{name}' where {', or where '.join(ways)}."


def is_countable(layout: Layout, total: Total) -> bool:
    """Whether the layout writes every column that a total is counted from."""
    written = {column.key for column in layout.columns(total.sheet)}
    return all(key in written for where in total.where for key, _ in where)


def column_of(layout: Layout, sheet: str, key: str) -> Column:
    return next(column for column in layout.columns(sheet) if column.key == key)


def shown(layout: Layout, facts: SubmissionFacts, total: Total, key: str, code: str) -> str:
    if code == THE_YEAR:
        return str(facts.program_year)
    return layout.word(column_of(layout, total.sheet, key), code)


def _exact(number: int | None) -> int | str | None:
    return number if number is None or abs(number) < EXACT_INTEGER_MAX else str(number)
