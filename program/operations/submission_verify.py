"""Building a frozen submission again from the record as known at its freeze, and comparing."""

import json
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import zip_longest
from pathlib import Path
from typing import Any, NamedTuple

from program.models import Submission
from program.operations.submissions import (
    SubmissionError,
    files_write,
    submission_check_files,
    submission_folder,
)
from program.queries.amending import amend_preview
from program.queries.open_questions import many
from program.queries.submission_rows import notice_rows
from program.rules import rules_in_force
from program.submissions.digest import FIRST
from program.submissions.digest import sha256_of as rebuilt_sha256
from program.submissions.layouts import LayoutError, parse_layout
from program.submissions.rows import NoticeRow
from services_inventory.domain.certain import certain
from services_inventory.domain.reporting import Report
from services_inventory.kept_files import KeptFile, local_path, sha256_of
from services_inventory.progress import UNFINISHED

# Columns whose source keeps no history: a corrected address is no different record of the line.
PLACE_COLUMNS = frozenset(
    {
        "address", "neighborhood", "latitude", "longitude", "line_use", "installed_year",
        "size_in",
    }
)  # fmt: skip
SHOWN = 3


@dataclass
class Verification:
    """What the comparison found: what agrees, what moved in the record since, what was altered."""

    agreements: list[str] = field(default_factory=list)
    moved: list[str] = field(default_factory=list)
    differences: list[str] = field(default_factory=list)

    @property
    def agrees(self) -> bool:
        """Whether nothing differs that should be the same."""
        return not self.differences


def submission_verify(
    *, submission: Submission, at: datetime, report: Report | None = None, rebuild: bool = True
) -> Verification:
    """Check the frozen files, build them again from the record, and compare.

    Without `rebuild` only the files' hashes, the chain and what has moved since are looked at.

    Files are compared byte for byte. Where a rebuilt one differs, every list is compared cell for
    cell: what keeps no history (addresses, positions, neighborhoods) has only moved. Then what the
    record says now, `at`, of the same day is set beside what was filed, letters too.
    """
    found = Verification()
    faults = submission_check_files(submission)
    found.differences += faults
    if not faults:
        number = submission.files.count()
        found.agreements.append(f"All {number} files are the ones that were frozen.")
    _check_chain(submission, found)
    if any(fault.endswith("is missing.") for fault in faults):
        return found
    notices = _filed_notices(submission)
    if not rebuild or _built_again(submission, notices, report, found):
        found.moved += [*_lines_moved(submission, at), *_letters_moved(submission, notices, at)]
    return found


def _built_again(
    submission: Submission, notices: list[tuple], report: Report | None, found: Verification
) -> bool:
    """Build the files again and compare; return whether they could be built."""
    folder = submission_folder(submission).parent
    folder.mkdir(parents=True, exist_ok=True)  # the files may lie in a store
    with tempfile.TemporaryDirectory(dir=folder, prefix=UNFINISHED) as scratch:
        again = Path(scratch) / "again"
        kept = submission.facts | {"notices": notices}
        try:
            layout = parse_layout(kept["layout"], name="the filed layout")
            layout = layout.as_of_freeze(kept.get("lists"))
            files_write(again, submission.as_of, certain(submission.known_at), kept, layout, report)
        except (SubmissionError, LayoutError) as error:
            found.differences.append(f"It cannot be built again: {error}")
            return False
        _compare(submission, again, found)
    return True


def _lines_moved(submission: Submission, at: datetime) -> Iterator[str]:
    """Say which totals of the same day the record gives otherwise now."""
    now = amend_preview(submission, at)
    if now.number:
        yield f"{many(now.number, 'line is', 'lines are')} known otherwise now, of the same day."
    for code, heading, filed, known, _ in now.totals:
        yield f"{code} {heading}: filed {filed:,}, known now {known:,}."


def _letters_moved(submission: Submission, filed: list[tuple], at: datetime) -> Iterator[str]:
    """Say how many letters of the year came to the record, went or changed since."""
    before = Counter(map(_letter, filed))
    now = Counter(map(_letter, notice_rows(submission.as_of, rules_in_force(at))))
    came, gone = (now - before).total(), (before - now).total()
    if came or gone:
        yield (
            f"Letters of the year: {before.total():,} filed, {now.total():,} in the record now; "
            f"{came:,} are new or said otherwise, {gone:,} of those filed are not there as filed."
        )


def _letter(row: tuple) -> tuple:
    """A letter without its address: corrected since, it is no other letter."""
    place, _address, *rest = row
    return (place, *(value or "" for value in rest))


def _filed_notices(submission: Submission) -> list[tuple]:
    """Notices as they were filed: their delivery keeps no history to rebuild them from."""
    file = submission.files.get(kind="json")
    document = json.loads(local_path(KeptFile(file.path)).read_text(encoding="utf-8"))
    days = ("due_on", "sent_on")
    return [
        tuple(_day(row.get(key)) if key in days else row.get(key, "") for key in NoticeRow._fields)
        for row in document["notices"]
    ]


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _compare(submission: Submission, again: Path, found: Verification) -> None:
    """Compare with what was frozen, and where files differ what the JSON holds of every list."""
    files, differing = {}, []
    for file in submission.files.order_by("id"):
        files[file.kind], name = KeptFile(file.path), Path(file.path).name
        # A file that was altered since is told of by its hash.
        if rebuilt_sha256(again / name) != file.sha256:
            differing.append(name)
    if not differing:
        same = "every file is the same to the byte as when it was frozen."
        found.agreements.append(f"Built again from the record, {same}")
        return
    cells = _line_cells(*_both(files["lines_json"], again))
    cells |= _list_cells(*_both(files["json"], again))
    record = {cell: two for cell, two in cells.items() if cell.column not in PLACE_COLUMNS}
    places = Counter(cell.column for cell in cells if cell.column in PLACE_COLUMNS)
    if record:
        found.differences += _sentences(record)
    elif not cells:
        names = ", ".join(differing)
        found.differences.append(
            f"Built again from the record, these files differ: {names}. In no list a cell does: "
            "this version of the program words them otherwise; what was signed is what is filed."
        )
    if places:
        said = ", ".join(f"{key} in {number:,}" for key, number in sorted(places.items()))
        found.moved.append(
            f"Corrected in the record since the freeze, which keeps no history of it: {said} rows."
        )


def _both(filed: KeptFile, again: Path) -> tuple[Path, Path]:
    """Return a file as it was filed and as it was built again."""
    return local_path(filed), again / Path(filed.name).name


class _Cell(NamedTuple):
    """One cell: of which list, of which row, in which column."""

    sheet: str
    row: str
    column: str


def _line_cells(filed: Path, rebuilt: Path) -> dict[_Cell, tuple]:
    """Return the differing cells of the line lists; only lines that differ are read."""
    cells: dict[_Cell, tuple] = {}
    with open(filed, encoding="utf-8") as one, open(rebuilt, encoding="utf-8") as two:
        for old, new in zip_longest(one, two, fillvalue="{}"):
            if old != new:
                cells |= _row_cells("line list", json.loads(old), json.loads(new))
    return cells


def _list_cells(filed: Path, rebuilt: Path) -> dict[_Cell, tuple]:
    """Return the differing cells of the summary and of every other list."""
    one, two = (json.loads(path.read_text(encoding="utf-8")) for path in (filed, rebuilt))
    cells: dict[_Cell, tuple] = {}
    for key in one.keys() | two.keys() - {"files"}:
        old, new = one.get(key), two.get(key)
        if isinstance(old, list) and isinstance(new, list):
            pairs: Iterable[tuple[Any, Any]] = zip_longest(old, new, fillvalue={})
            for place, (before, after) in enumerate(pairs, start=1):
                if before != after:
                    cells |= _row_cells(key, _as_row(before), _as_row(after), str(place))
        elif old != new and key != "files":
            cells[_Cell("summary", key, key)] = (old, new)
    return cells


def _as_row(entry) -> dict:
    return entry if isinstance(entry, dict) else {"sentence": entry}


def _row_cells(sheet: str, old: dict, new: dict, place: str = "") -> dict[_Cell, tuple]:
    named = next((row[key] for row in (old, new) for key in _NAMES if row.get(key)), place)
    return {
        _Cell(sheet, str(named), key): (old.get(key, ""), new.get(key, ""))
        for key in dict.fromkeys((*old, *new))
        if old.get(key, "") != new.get(key, "")
    }


_NAMES = ("location_id", "code", "id", "heading")  # what a row of a list is called by


def _sentences(cells: dict[_Cell, tuple]) -> list[str]:
    shown = [
        f"{cell.row} ({cell.sheet}), {cell.column}: filed {_told(old)}, in the record {_told(new)}."
        for cell, (old, new) in list(cells.items())[:SHOWN]
    ]
    more = len(cells) - len(shown)
    return [*shown, f"{more:,} more cells differ."] if more > 0 else shown


def _told(value) -> str:
    return repr(value) if value not in ("", None) else "'empty'"


def _check_chain(submission: Submission, found: Verification) -> None:
    """Hold the digest to the manifest, and the chain to the submission frozen before."""
    manifest = KeptFile(submission.files.get(kind="manifest").path)
    with suppress(FileNotFoundError):  # told of already
        if sha256_of(manifest) != submission.digest:
            found.differences.append("The digest on record is not that of the manifest.")
    before = Submission.objects.filter(id__lt=submission.id).exclude(digest="").order_by("-id")
    expected = before.values_list("digest", flat=True).first() or FIRST
    if submission.previous_digest == expected:
        found.agreements.append("It is chained to the submission frozen before it.")
    else:
        found.differences.append(
            "It is not chained to the submission frozen before it: one of the two was altered."
        )
