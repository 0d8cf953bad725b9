"""The submission as plain files: the line list as CSV and JSON lines, the rest as one JSON.

All stream. The JSON follows what `schema.build_schema` builds (JSON Schema 2020-12),
whose `$defs/line` also describes each line of the JSON lines file.
"""

import csv
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from fractions import Fraction
from pathlib import Path

from program.submissions.cell_text import APOSTROPHE_NOTE, Notes, clean
from program.submissions.digest import WrittenFile, put_in_place, written
from program.submissions.facts import SubmissionFacts, SummaryLine, summary_lines
from program.submissions.figures import ROUNDING, figure_text
from program.submissions.layouts import STANDARD, Layout, LayoutError
from program.submissions.lists import Lists
from program.submissions.rows import (
    LineRow,
)
from program.submissions.schema import SCHEMA_ID
from program.submissions.tables import DATES, SHEETS
from services_inventory.domain.formulas import without_formula
from services_inventory.domain.reporting import Report

REPORT_EVERY = 5_000

NAMES = {"set_aside": "findings_set_aside", "values": "values_used"}  # where JSON has another
Plan = list[tuple[str, int]]


def write_csv(
    path: Path,
    facts: SubmissionFacts,
    lines: Iterable[LineRow],
    *,
    layout: Layout = STANDARD,
    report: Report | None = None,
) -> WrittenFile:
    """Write the line list as CSV: UTF-8, CRLF, one heading row, an apostrophe before formulas.

    Raises:
        LayoutError: a row holds a code that the layout has no word for.

    """
    total = facts.totals["A5"]
    return write_list(
        path, "lines", lines, layout=layout, report=report and (lambda done: report(done, total))
    )


def write_list(
    path: Path,
    key: str,
    rows: Iterable[tuple],
    *,
    layout: Layout = STANDARD,
    report: Callable[[int], None] | None = None,
) -> WrittenFile:
    """Write one list as CSV, in the layout's columns and words.

    Raises:
        LayoutError: a row holds a code that the layout has no word for.

    """
    columns, notes, count = layout.columns(key), Notes(), 0
    with put_in_place(path) as unfinished:
        with open(unfinished, "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([without_formula(column.heading) for column in columns])
            for count, row in enumerate(_csv_rows(layout, key, rows, notes), start=1):
                writer.writerow(row)
                if report and count % REPORT_EVERY == 0:
                    report(count)
    if report:
        report(count)
    return written(path, {key: count}, notes.lines())


def _csv_rows(layout: Layout, key: str, lines: Iterable[tuple], notes: Notes) -> Iterator[list]:
    date_format = DATES[layout.dates][1]
    plan = tuple(
        (place, column.kind, layout.words(column), column.heading)
        for place, column in zip(layout.positions(key), layout.columns(key), strict=True)
    )
    for at, line in enumerate(layout.shaped(key, lines), start=2):
        out = []
        for place, kind, words, heading in plan:
            value = line[place]
            if value and kind == "text":
                value = _csv_text(value, words, notes, f"CSV row {at}, {heading}")
            elif value and kind == "date":
                value = value.strftime(date_format)
            elif kind == "figure":
                value = value if isinstance(value, int) else _csv_figure(value)
            out.append(value)
        yield out


def _csv_figure(value: object) -> str:
    return without_formula(figure_text(value)) if value is not None else ""


def _csv_text(value: str, words: Mapping[str, str], notes: Notes, where: str) -> str:
    if words:
        if value not in words:
            raise LayoutError(f"{where}: the layout has no word for the code {value!r}.")
        value = words[value]
    if not value.isprintable():
        # The guard is judged on the text as recorded: cleaning turns a leading tab into a space.
        guarded = value[:1] in ("\t", "\r")
        value = clean(value, notes, where)
        return "'" + value if guarded else without_formula(value)
    return value if value[0].isalnum() else without_formula(value)


def write_dictionary(path: Path, layout: Layout = STANDARD) -> WrittenFile:
    """Write the data dictionary that goes with the CSV: one row for each of its columns."""
    columns = layout.columns("lines")
    with put_in_place(path) as unfinished:
        with open(unfinished, "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(("heading", "column", "type", "meaning", "words used"))
            for column in columns:
                said = (column.heading, column.key, column.kind, column.comment)
                said = (*said, layout.words_used(column))
                writer.writerow([without_formula(value) for value in said])
            writer.writerow(("", "", "", APOSTROPHE_NOTE, ""))
    return written(path, {"columns": len(columns)})


def write_lines_json(
    path: Path,
    facts: SubmissionFacts,
    lines: Iterable[LineRow],
    *,
    layout: Layout = STANDARD,
    report: Report | None = None,
) -> WrittenFile:
    """Write the line list as JSON lines: one object a line, empty columns left out."""
    count, notes, plan = 0, Notes(), _plan(layout, "lines")
    with put_in_place(path) as unfinished:
        with open(unfinished, "w", encoding="utf-8", newline="\n") as file:
            for count, line in enumerate(lines, start=1):
                file.write(_json(_object(line, plan, notes, f"JSON line {count}")) + "\n")
                if report and count % REPORT_EVERY == 0:
                    report(count, facts.totals["A5"])
    if report:
        report(count, facts.totals["A5"])
    return written(path, {"lines": count}, notes.lines())


def write_json(
    path: Path,
    facts: SubmissionFacts,
    lists: Lists,
    *,
    layout: Layout = STANDARD,
    files: Mapping[str, WrittenFile] | None = None,
) -> WrittenFile:
    """Write the summary and every list but the line list as one JSON document.

    `files` are the submission's other files, named with their SHA-256.
    """
    short = lists.by_sheet(facts, layout.lists(of_an_amendment=True))
    rows, notes = {}, Notes()
    with put_in_place(path) as unfinished:
        with open(unfinished, "w", encoding="utf-8", newline="\n") as file:
            file.write("{\n")
            for key, value in _head(facts, files or {}).items():
                file.write(f"{_json(key)}: {_json(value)},\n")
            for number, (sheet, some) in enumerate(short.items(), start=1):
                key = NAMES.get(sheet, sheet)
                file.write(f"{_json(key)}: [")
                rows[key] = _write_array(file, some, _plan(layout, sheet), notes, key)
                file.write("]\n" if number == len(short) else "],\n")
            file.write("}\n")
    return written(path, rows, notes.lines())


def _write_array(file, rows: Iterable[tuple], plan: Plan, notes: Notes, key: str) -> int:
    count = 0
    for count, row in enumerate(rows, start=1):
        file.write(",\n" if count > 1 else "\n")
        file.write(_json(_object(row, plan, notes, f"JSON {key} {count}")))
    return count


def _head(facts: SubmissionFacts, files: Mapping[str, WrittenFile]) -> dict:
    head = {
        "schema": SCHEMA_ID,
        "pwsid": facts.pwsid,
        "system_name": facts.system_name,
        "population": facts.population,
        "connections": facts.connections,
        "as_of": facts.as_of,
        "reported_on": facts.reported_on,
        "program_year": facts.program_year,
        "revision": facts.revision,
        "prepared_by": facts.prepared_by,
        "rounding": ROUNDING,
        "amended_because": facts.amended_because,
        "previous_digest": facts.previous_digest,
        "summary": [_summary_entry(line) for line in summary_lines(facts)],
        "years": [year._asdict() for year in facts.report.years] if facts.report else [],
        "validation": [fact._asdict() for fact in facts.validation],
        "deferral": [fact._asdict() for fact in facts.deferral],
        "open_questions": list(facts.open_questions),
        "files": {
            key: {"name": f.path.name, "sha256": f.sha256, "bytes": f.size}
            for key, f in files.items()
        },
    }
    return _cleaned(head, Notes())


def _summary_entry(line: SummaryLine) -> dict:
    entry = {"code": line.code, "heading": line.heading, "value": line.value}
    entry["text"] = figure_text(line.value)
    if line.total:
        entry["counted_from"] = {
            "list": line.total.sheet,
            "where": [[list(pair) for pair in where] for where in line.total.where],
        }
    elif line.how_counted:
        entry["how_counted"] = line.how_counted
    return entry


def _plan(layout: Layout, sheet: str) -> Plan:
    """Return the keys of a list's columns, each with its place in a row."""
    fields = SHEETS[sheet].row._fields
    return [(column.key, fields.index(column.key)) for column in layout.full_columns(sheet)]


def _object(row: tuple, plan: Plan, notes: Notes, where: str) -> dict:
    out = {}
    for key, place in plan:
        value = row[place]
        if value is None or value == "":
            continue
        if value.__class__ is str and not value.isprintable():
            value = clean(value, notes, f"{where}, {key}")
        out[key] = value
    return out


def _cleaned(value, notes: Notes):
    if isinstance(value, str):
        return clean(value, notes, "JSON")
    if isinstance(value, dict):
        return {key: _cleaned(item, notes) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_cleaned(item, notes) for item in value]
    return value


def _plain_json(value):
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Fraction):
        # Digits as text: an exact fraction outgrows the numbers most JSON readers hold.
        return {
            "numerator": str(value.numerator),
            "denominator": str(value.denominator),
            "percent": float(figure_text(value)[:-1]),
            "text": figure_text(value),
        }
    raise TypeError(f"{value!r} has no JSON form.")


_json = json.JSONEncoder(ensure_ascii=False, allow_nan=False, default=_plain_json).encode


def results(facts: SubmissionFacts, files: Mapping[str, WrittenFile]) -> dict:
    """Return what the command prints for machines: counts by category and file names."""
    category = {"LEAD": "A1", "GRR": "A2", "UNKNOWN": "A3", "NON_LEAD": "A4", "total": "A5"}
    return {
        "counts": {name: facts.totals[code] for name, code in category.items()},
        "totals": dict(facts.totals),
        "files": {key: str(file.path) for key, file in files.items()},
        "sha256": {key: file.sha256 for key, file in files.items()},
    }
