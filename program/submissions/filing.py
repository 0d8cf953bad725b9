"""One call that writes every file of a submission, audits them and seals them in a manifest."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path

from program.submissions import audit, digest, flat_files
from program.submissions.digest import WrittenFile
from program.submissions.facts import SubmissionFacts, file_stem
from program.submissions.geopackage import write_geopackage
from program.submissions.layouts import STANDARD, Layout, layout_text
from program.submissions.lists import Lists
from program.submissions.row_spool import RowSpool
from program.submissions.rows import LineRow
from program.two_processes import FROM_LINES, pool_of_two
from services_inventory.domain.reporting import Report

PASSES = 5  # the line list is gone through once for each file that holds it, and once to audit


class AuditDiffers(ValueError):
    """The recount found figures that do not agree; the message names them."""


@dataclass(frozen=True)
class Filing:
    """What was filed: files by what they are, the audit, the manifest and its digest."""

    files: Mapping[str, WrittenFile]
    audit: audit.AuditReport
    manifest: Mapping
    digest: str
    notes: tuple[str, ...] = field(default=())


def write_submission(
    folder: Path,
    facts: SubmissionFacts,
    lists: Lists,
    *,
    layout: Layout = STANDARD,
    report: Report | None = None,
) -> Filing:
    """Write the workbook, CSV, JSON and GeoPackage, recount them, and chain the manifest.

    `layout` shapes the workbook and the CSV. `report(done, total)` counts lines over all passes.

    Raises:
        AuditDiffers: the recount does not agree with what the facts say; the files stay for
            reading, but there is no manifest, so they are not a submission.
        LayoutError: a row holds a code that the layout has no word for.

    """
    from program.submissions.workbook import write_workbook  # loaded when a file is written

    stem, folder = file_stem(facts), Path(folder)
    said = _Progress(report, facts.totals["A5"])
    with _line_files(folder, stem, facts, lists, layout, said) as others:
        book = write_workbook(
            folder / f"{stem}.xlsx", facts, lists, layout=layout, report=said.part(0)
        )
        checked = audit.audit_workbook(book.path, layout=layout, report=said.part(1))
        made = others()
        said.whole()
    counted = {kind: counts for kind, (_, counts) in made.items()}
    files = {"xlsx": book, **{kind: file for kind, (file, _) in made.items()}}
    files |= {
        "dictionary": flat_files.write_dictionary(folder / f"{stem}-columns.csv", layout),
        "layout": _text_file(folder / f"{stem}-layout.toml", layout_text(layout)),
    }
    if facts.is_amendment:
        for key, rows in (
            ("corrections", lists.corrections),
            ("filed_and_now", facts.totals_moved),
        ):
            name = f"{stem}-{key.replace('_', '-')}.csv"
            files[key] = flat_files.write_list(folder / name, key, rows, layout=layout)
    files["json"] = flat_files.write_json(
        folder / f"{stem}.json", facts, lists, layout=layout, files=dict(files)
    )
    checked = audit.audit_submission(
        book.path, json_file=files["json"].path, layout=layout, first=checked, counted=counted
    )
    files["audit"] = audit.write_audit(folder / f"{stem}-audit.txt", checked)
    if not checked.agrees:
        raise AuditDiffers(
            "The recount does not agree with the summary: "
            + " ".join(f"{c.name}: {c.said} against {c.recounted}." for c in checked.differences)
        )
    about = {
        "pwsid": facts.pwsid,
        "as_of": facts.as_of.isoformat(),
        "program_year": facts.program_year,
        "revision": facts.revision,
        "layout": layout.id,
        "record_head": facts.record_head,
    }
    content = digest.manifest(files.values(), previous=facts.previous_digest, about=about)
    files["manifest"] = digest.write_manifest(folder / f"{stem}-manifest.json", content)
    notes = tuple(note for file in files.values() for note in file.notes)
    return Filing(files, checked, content, digest.digest(content), notes)


LINE_FILES: Mapping[str, tuple[str, Callable[..., WrittenFile]]] = {
    "csv": ("-lines.csv", flat_files.write_csv),
    "lines_json": ("-lines.jsonl", flat_files.write_lines_json),
    "geopackage": (".gpkg", write_geopackage),
}


@contextmanager
def _line_files(folder, stem, facts, lists: Lists, layout, said) -> Iterator[Callable[[], dict]]:
    """Write the files that hold the line list alone, beside the workbook where it is long.

    Yields what returns each with the recount of its lines, to be called last.
    """
    if lists.spooled is None or facts.totals["A5"] < FROM_LINES:
        yield lambda: {
            kind: _line_file(
                kind, folder / f"{stem}{end}", facts, lists.lines(), layout, said.part(number)
            )
            for number, (kind, (end, _)) in enumerate(LINE_FILES.items(), start=2)
        }
        return
    about = replace(facts, totals_moved=())  # the ledger's rows do not concern the line list
    with nullcontext(lists.pool) if lists.pool else pool_of_two() as pool:
        waiting = {
            kind: pool.submit(
                _line_file, kind, folder / f"{stem}{end}", about, lists.spooled, layout
            )
            for kind, (end, _) in LINE_FILES.items()
        }
        yield lambda: {kind: each.result() for kind, each in waiting.items()}


def _line_file(
    kind: str, path: Path, facts, lines, layout: Layout, report: Report | None = None
) -> tuple[WrittenFile, Counter]:
    """Write one file, read it again and count its lines; `lines` may be the file of a spool."""
    lines = RowSpool(lines, LineRow) if isinstance(lines, Path) else lines
    file = LINE_FILES[kind][1](path, facts, lines, layout=layout, report=report)
    return file, audit.LINE_COUNTS[kind](path, layout)


def _text_file(path: Path, text: str) -> WrittenFile:
    with digest.put_in_place(path) as unfinished:
        unfinished.write_text(text, encoding="utf-8", newline="\n")
    return digest.written(path, {})


class _Progress:
    """Progress over several passes of the same list, told as one."""

    def __init__(self, report: Report | None, lines: int):
        self.report, self.lines = report, lines

    def part(self, number: int) -> Report | None:
        """Return what one pass reports to."""
        if self.report is None:
            return None
        return lambda done, _total: self.report(number * self.lines + done, PASSES * self.lines)

    def whole(self) -> None:
        """Tell that every pass is through, those of other processes too."""
        if self.report:
            self.report(PASSES * self.lines, PASSES * self.lines)
