"""The finished files read again and every total counted a second time.

Nothing here shares code with what counted or wrote them, but the layout's names: the workbook
is opened as any reader would open it, and each total is recounted from its rows. The tests count
it a third time with openpyxl and pandas, which take too long for a freeze (`docs/performance.md`).
"""

import csv
import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from program.submissions.digest import WrittenFile, put_in_place, sha256_of, written
from program.submissions.layouts import STANDARD, Layout
from program.submissions.sheet_stream import UnreadableSheet, stream_rows, unpacked_size
from services_inventory.domain.reporting import Report

IN_MEMORY_MAX = 40_000_000  # bytes of sheet XML; beyond it the sheet is streamed
REPORT_EVERY = 20_000
CATEGORIES = ("LEAD", "GRR", "UNKNOWN", "NON_LEAD")


@dataclass(frozen=True)
class Check:
    """One figure as the submission says it and as counted again."""

    name: str
    said: object
    recounted: object

    @property
    def agrees(self) -> bool:
        """Say whether the two are equal."""
        return self.said == self.recounted


@dataclass(frozen=True)
class AuditReport:
    """Every check of one submission, and the SHA-256 of the workbook that was read."""

    workbook: str
    sha256: str
    checks: tuple[Check, ...]

    @property
    def agrees(self) -> bool:
        """Say whether every check agrees."""
        return all(check.agrees for check in self.checks)

    @property
    def differences(self) -> tuple[Check, ...]:
        """Return the checks that do not agree."""
        return tuple(check for check in self.checks if not check.agrees)

    def text(self) -> str:
        """Return the report as plain text, one check a line."""
        wrong = len(self.differences)
        verdict = f"{wrong} differ" if wrong else "all agree"
        lines = [
            f"Recount of {self.workbook}",
            f"SHA-256 {self.sha256}",
            f"{len(self.checks)} checks: {verdict}.",
            "",
        ]
        for check in self.checks:
            word = "agrees " if check.agrees else "DIFFERS"
            lines.append(f"{word}  {check.name}: said {check.said}, recounted {check.recounted}")
        return "\n".join(lines) + "\n"


def audit_workbook(
    path: Path, *, layout: Layout = STANDARD, report: Report | None = None
) -> AuditReport:
    """Recount every total of a finished workbook from its lists.

    Raises:
        UnreadableSheet: a sheet, a column or the summary is missing.

    """
    path = Path(path)
    book = _Workbook(path, layout, report)
    said = book.said()
    return AuditReport(path.name, sha256_of(path), tuple(_workbook_checks(book, said)))


def audit_submission(
    workbook: Path,
    *,
    csv_file: Path | None = None,
    lines_json: Path | None = None,
    json_file: Path | None = None,
    geopackage: Path | None = None,
    layout: Layout = STANDARD,
    report: Report | None = None,
    first: AuditReport | None = None,
    counted: Mapping[str, Counter] | None = None,
) -> AuditReport:
    """Recount the workbook, then hold every other file against its categories and totals.

    `first` is the workbook's recount and `counted` what `LINE_COUNTS` gave of each file, where
    they were made beside the writing already.

    Raises:
        UnreadableSheet: a sheet, a column or the summary is missing.

    """
    first = first or audit_workbook(workbook, layout=layout, report=report)
    said = _Workbook(Path(workbook), layout, None).said()
    expected = {category: said[f"A{n}"] for n, category in enumerate(CATEGORIES, start=1)}
    files = {"csv": csv_file, "lines_json": lines_json, "geopackage": geopackage}
    counted = counted or {
        kind: LINE_COUNTS[kind](path, layout) for kind, path in files.items() if path is not None
    }
    checks = list(first.checks)
    for kind, name in (("csv", "CSV"), ("lines_json", "JSON lines"), ("geopackage", "GeoPackage")):
        if kind in counted:
            found: Counter = Counter()
            for (category, *_), number in counted[kind].items():
                found[category] += number
            checks += [
                Check(f"{name}, {category} lines", expected.get(category, 0), found[category])
                for category in sorted({*expected, *found})
            ]
    if json_file is not None:
        checks += _json_checks(json_file, said)
        if "csv" in counted:
            checks += _basis_checks(counted["csv"], json_file, layout)
    return AuditReport(first.workbook, first.sha256, tuple(checks))


def write_audit(path: Path, report: AuditReport) -> WrittenFile:
    """Write the report as a text file that goes with the submission."""
    with put_in_place(path) as unfinished:
        unfinished.write_text(report.text(), encoding="utf-8", newline="\n")
    return written(path, {"checks": len(report.checks)})


class _Workbook:
    """A finished workbook, read through the layout's names."""

    def __init__(self, path: Path, layout: Layout, report: Report | None):
        from python_calamine import CalamineError, CalamineWorkbook

        self.path, self.layout, self.report = path, layout, report
        try:
            self.book = CalamineWorkbook.from_path(str(path))
        except (CalamineError, OSError) as error:
            raise UnreadableSheet(f"{path.name} cannot be opened: {error}.") from error

    def said(self) -> dict:
        """Return what the summary says: code -> number, fraction, or text."""
        if "Summary" not in self.book.sheet_names:
            raise UnreadableSheet(f"{self.path.name} has no sheet called 'Summary'.")
        said: dict = {"years": []}
        part = "about"
        for row in self.book.get_sheet_by_name("Summary").to_python():
            first, heading, value, top, bottom = [*row, "", "", "", ""][:5]
            if first in ("Code", "Year"):
                part = first
            elif part == "about" and heading == "Program year":
                said["program year"] = _year(value) or 0  # in words before the first
            elif part == "Code" and first:
                said[first] = _figure(value, top, bottom)
            elif part == "Year" and isinstance(first, float):
                said["years"].append((int(first), heading, int(value)))
        if "A5" not in said or "program year" not in said:
            raise UnreadableSheet(f"The summary of {self.path.name} lacks its totals.")
        return said

    def rows(self, sheet: str, *keys: str) -> Iterator[tuple]:
        """Yield the wanted columns of a list, over all its sheets, as the program's codes."""
        columns = {column.key: column for column in self.layout.columns(sheet)}
        headings = [columns[key].heading for key in keys]
        codes = [
            {word: code for code, word in self.layout.words(columns[key]).items()} for key in keys
        ]
        for name in self._parts(self.layout.sheet_name(sheet)):
            for row in self._read(name, headings):
                if any(value != "" for value in row):
                    yield tuple(
                        known.get(value, value) for known, value in zip(codes, row, strict=True)
                    )

    def has(self, sheet: str, key: str) -> bool:
        """Say whether the layout writes a column."""
        return any(column.key == key for column in self.layout.columns(sheet))

    def _parts(self, name: str) -> Iterator[str]:
        if name not in self.book.sheet_names:
            raise UnreadableSheet(f"{self.path.name} has no sheet called '{name}'.")
        number, part = 1, name
        while part in self.book.sheet_names:
            yield part
            number += 1
            part = f"{name} {number}"

    def _read(self, name: str, headings: list[str]) -> Iterator[tuple]:
        if unpacked_size(self.path, name) > IN_MEMORY_MAX:
            yield from stream_rows(self.path, name, headings)
            return
        rows = self.book.get_sheet_by_name(name).iter_rows()
        head = next(rows, [])
        for heading in headings:
            if heading not in head:
                raise UnreadableSheet(f"The sheet '{name}' has no column headed '{heading}'.")
        places = [head.index(heading) for heading in headings]
        for row in rows:
            yield tuple(row[place] for place in places)


def _figure(value: object, top: object, bottom: object):
    if top != "" and bottom != "":
        return Fraction(int(top), int(bottom))
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _workbook_checks(book: _Workbook, said: Mapping) -> Iterator[Check]:
    lines = _count_lines(book, said["A5"])
    yield from _line_checks(said, lines)
    full, partial = _count_work(book)
    yield from _work_checks(said, full, partial)
    yield from _connector_checks(book, said)
    if book.layout.sheet_name("filed_and_now") in book.book.sheet_names:
        yield from _ledger_checks(book, said)
    if "B9" in said or "B10" in said:
        yield from _report_checks(book, said, lines, full, partial)


@dataclass
class _Lines:
    """What the line list holds; `resting` is None where the layout leaves the column out."""

    rows: int
    distinct: int
    categories: Counter
    connectors: Counter
    resting: int | None


def _count_lines(book: _Workbook, expected: int) -> _Lines:
    seen, categories, connectors, count = set(), Counter(), Counter(), 0
    resting, rests = Counter(), book.has("lines", "rests_on_connectors")
    wanted = ("location_id", "category", "connector", *(("rests_on_connectors",) if rests else ()))
    for place, category, connector, *rest in book.rows("lines", *wanted):
        count += 1
        seen.add(place)
        categories[category] += 1
        connectors[connector] += 1
        resting.update(rest)
        if book.report and count % REPORT_EVERY == 0:
            book.report(count, expected)
    if book.report:
        book.report(count, expected)
    return _Lines(count, len(seen), categories, connectors, resting["YES"] if rests else None)


def _line_checks(said: Mapping, lines: _Lines) -> Iterator[Check]:
    for number, category in enumerate(CATEGORIES, start=1):
        yield Check(f"A{number} {category} lines", said[f"A{number}"], lines.categories[category])
    yield Check("A5 all lines", said["A5"], lines.rows)
    yield Check("A1 + A2 + A3 + A4 = A5", said["A5"], sum(said[f"A{n}"] for n in range(1, 5)))
    other = lines.rows - sum(lines.categories[category] for category in CATEGORIES)
    yield Check("Lines with no category or another word", 0, other)
    yield Check("Location ids that stand twice", 0, lines.rows - lines.distinct)
    yield Check("A6 lead connectors", said["A6"], lines.connectors["LEAD"])
    yield Check("A7 unknown connectors", said["A7"], lines.connectors["UNKNOWN"])
    if lines.resting is not None:
        yield Check("A12 resting on connectors not counting", said["A12"], lines.resting)


def _ledger_checks(book: _Workbook, said: Mapping) -> Iterator[Check]:
    """What was filed, with every line of the ledger, comes to what is said now."""
    filed = dict(book.rows("filed_and_now", "code", "filed"))
    moved = Counter()
    for row in book.rows(
        "corrections", "category_filed", "category_now", "connector_filed", "connector_now"
    ):
        for sign, (category, connector) in ((-1, row[::2]), (1, row[1::2])):
            moved[f"category {category}"] += sign
            moved[f"connector {connector}"] += sign
    named = [(f"A{n}", f"category {name}") for n, name in enumerate(CATEGORIES, start=1)]
    for code, name in (*named, ("A6", "connector LEAD"), ("A7", "connector UNKNOWN")):
        expected = int(filed[code]) + moved[name]
        yield Check(f"{code} as filed, and the ledger's corrections", said[code], expected)


def _count_work(book: _Workbook) -> tuple[Counter, Counter]:
    """Return full and partial replacements by (category before, program year)."""
    full = Counter(
        (before, _year(year))
        for before, year, counted in book.rows(
            "replacements", "category_before", "program_year", "counted"
        )
        if counted == "YES"
    )
    partial = Counter(
        (before, _year(year))
        for before, year in book.rows("partials", "category_before", "program_year")
    )
    return full, partial


def _work_checks(said: Mapping, full: Counter, partial: Counter) -> Iterator[Check]:
    year = said["program year"]
    for code, name, work, category in (
        ("A8", "full replacements", full, "LEAD"),
        ("A9", "full replacements", full, "GRR"),
        ("A10", "partial replacements", partial, "LEAD"),
        ("A11", "partial replacements", partial, "GRR"),
    ):
        yield Check(f"{code} {category} {name}", said[code], work[category, year])
        to_date = sum(count for (before, _), count in work.items() if before == category)
        yield Check(f"{code} to date", said[f"{code}_TO_DATE"], to_date)


def _connector_checks(book: _Workbook, said: Mapping) -> Iterator[Check]:
    wanted = ("connector_before", "connector_replaced", "program_year")
    counted: Counter = Counter()
    for sheet, code in (("replacements", "A13"), ("partials", "A15")):
        if not all(book.has(sheet, key) for key in wanted):
            continue  # this layout leaves them out
        for before, replaced, year in book.rows(sheet, *wanted):
            if replaced == "YES":
                codes = (code, "A14") if code == "A13" and before == "LEAD" else (code,)
                counted.update((one, when) for one in codes for when in ("ever", _year(year)))
        for one in (code, "A14") if code == "A13" else (code,):
            yield Check(f"{one} connectors", said[one], counted[one, said["program year"]])
            yield Check(f"{one} to date", said[f"{one}_TO_DATE"], counted[one, "ever"])


def _report_checks(
    book: _Workbook, said: Mapping, lines: _Lines, full: Counter, partial: Counter
) -> Iterator[Check]:
    year = said["program year"]
    yield Check("B4 full, lead", said["B4"], full["LEAD", year])
    yield Check("B5 full, GRR", said["B5"], full["GRR", year])
    for code, category in (("B6a", "LEAD"), ("B6b", "GRR"), ("B6c", "UNKNOWN")):
        yield Check(f"{code} {category} remaining", said[code], lines.categories[category])
    found = Counter(
        (before, after)
        for before, after, cause, when in book.rows(
            "changes", "from_category", "to_category", "cause", "program_year"
        )
        if cause == "FOUND" and _year(when) == year
    )
    yield Check("B7 unknown found non-lead", said["B7"], found["UNKNOWN", "NON_LEAD"])
    worse = found["NON_LEAD", "LEAD"] + found["NON_LEAD", "GRR"]
    yield Check("B8 non-lead found lead or GRR", said["B8"], worse)
    refused = sum(1 for _ in book.rows("refusals", "location_id"))
    yield Check("B13 no access or consent", said["B13"], refused)
    yield Check("B14 partials", said["B14"], partial["LEAD", year] + partial["GRR", year])
    yield from _rate_checks(said, full)


def _rate_checks(said: Mapping, full: Counter) -> Iterator[Check]:
    this_year = said["program year"]
    done = Counter()
    for (category, year), count in full.items():
        if category in ("LEAD", "GRR"):
            done[year] += count
    if pool := said.get("B9"):
        yield Check("B10 annual rate", said.get("B10"), Fraction(done[this_year], pool))
    rates = []
    for year, pool, replaced in said["years"]:
        yield Check(f"Replaced in program year {year}", replaced, done[year])
        if isinstance(pool, float) and pool > 0 and year <= this_year:
            rates.append(Fraction(done[year], int(pool)))
    if isinstance(said.get("B11"), Fraction):
        mean = sum(rates, Fraction(0)) / len(rates) if rates else "no rate"
        yield Check("B11 cumulative average rate", said["B11"], mean)


def _year(value: object) -> int | None:
    return int(value) if isinstance(value, int | float) else None


_BASES = ("system_basis", "customer_basis")


def _basis_checks(lines: Counter, json_file: Path, layout: Layout) -> Iterator[Check]:
    """What the non-lead lines rest on, counted again from the CSV; a layout may leave it out."""
    if not {*_BASES} <= {column.key for column in layout.columns("lines")}:
        return
    said = json.loads(json_file.read_text(encoding="utf-8"))["non_lead_bases"]
    counted = Counter(
        {tuple(bases): number for (category, *bases), number in lines.items()
         if category == "NON_LEAD"}
    )  # fmt: skip
    for row in said:
        system, customer = row.get("system_basis", ""), row.get("customer_basis", "")
        name = f"Non-lead by {system or 'nothing'} and {customer or 'nothing'}"
        yield Check(name, row["lines"], counted.pop((system, customer), 0))
    yield Check("Non-lead lines on another basis", 0, counted.total())


def _csv_lines(path: Path, layout: Layout) -> Counter:
    """Count the lines by category and, where the layout has both, what each side rests on."""
    columns = {column.key: column for column in layout.columns("lines")}
    codes = {word: code for code, word in layout.words(columns["category"]).items()}
    keys = ("category", *(_BASES if all(key in columns for key in _BASES) else ()))
    found = Counter(_csv_rows(path, [columns[key].heading for key in keys]))
    return Counter({(codes.get(word, word), *rest): n for (word, *rest), n in found.items()})


def _csv_rows(path: Path, headings: list[str]) -> Iterator[tuple]:
    """Yield the wanted columns of a CSV."""
    with open(path, encoding="utf-8", newline="") as file:
        rows = csv.reader(file)
        head = next(rows)
        places = [head.index(heading) for heading in headings]
        for row in rows:
            yield tuple(row[place] for place in places)


def _json_lines(path: Path, _layout: Layout) -> Counter:
    with open(path, encoding="utf-8") as file:
        return Counter((json.loads(line).get("category", "none"),) for line in file)


def _geopackage_lines(path: Path, _layout: Layout) -> Counter:
    # The file is an SQLite database: it is counted without the library that wrote it.
    counted = Counter()
    with closing(sqlite3.connect(f"{Path(path).absolute().as_uri()}?mode=ro", uri=True)) as base:
        layers = [name for (name,) in base.execute("SELECT table_name FROM gpkg_contents")]
        for layer in layers:
            quoted = layer.replace('"', '""')
            query = f'SELECT category, COUNT(*) FROM "{quoted}" GROUP BY category'
            for category, count in base.execute(query):
                counted[category or "none",] += count
    return counted


LINE_COUNTS: Mapping[str, Callable[[Path, Layout], Counter]] = {
    "csv": _csv_lines,
    "lines_json": _json_lines,
    "geopackage": _geopackage_lines,
}


def _json_checks(path: Path, said: Mapping) -> Iterator[Check]:
    document = json.loads(Path(path).read_text(encoding="utf-8"))
    for entry in document["summary"]:
        value = entry["value"]
        if isinstance(value, dict):
            value = Fraction(int(value["numerator"]), int(value["denominator"]))
        if isinstance(value, int | Fraction):
            yield Check(f"JSON, {entry['code']}", said.get(entry["code"]), value)
    full = [row for row in document["replacements"] if row["counted"] == "YES"]
    listed = sum(1 for row in full if row["category_before"] in ("LEAD", "GRR"))
    yield Check("JSON, replacements to date", said["A8_TO_DATE"] + said["A9_TO_DATE"], listed)
