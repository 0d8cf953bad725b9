"""Building a frozen submission again from the record as known at its freeze, and comparing."""

import csv
import json
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path

from django.conf import settings

from program.models import Submission
from program.operations.submissions import (
    SubmissionError,
    files_write,
    submission_check_files,
    submission_folder,
)
from program.submissions.digest import sha256_of
from program.submissions.layouts import Layout, parse_layout

Report = Callable[[int, int], None]
# Columns whose source keeps no history: a corrected address is no different record of the line.
PLACE_COLUMNS = frozenset(
    {
        "address", "neighbourhood", "latitude", "longitude", "line_use", "installed_year",
        "size_in",
    }
)  # fmt: skip
SHOWN = 3


@dataclass
class Verification:
    """What the comparison found; remarks name what was corrected since and may differ."""

    agreements: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    differences: list[str] = field(default_factory=list)

    @property
    def agrees(self) -> bool:
        """Whether nothing differs that should be the same."""
        return not self.differences


def submission_verify(*, submission: Submission, report: Report | None = None) -> Verification:
    """Check the frozen files, build them again from the record, and compare.

    Files are compared byte for byte. Where a rebuilt one differs, the line list is compared
    cell for cell: what keeps no history (addresses, positions, neighbourhoods) is a remark.
    """
    found = Verification()
    faults = submission_check_files(submission)
    found.differences += faults
    if not faults:
        number = submission.files.count()
        found.agreements.append(f"All {number} files are the ones that were frozen.")
    with tempfile.TemporaryDirectory(dir=submission_folder(submission).parent) as scratch:
        again = Path(scratch) / "again"
        layout = parse_layout(submission.facts["layout"], name="the filed layout")
        kept = submission.facts | {"notices": _filed_notices(submission)}
        try:
            files_write(again, submission.as_of, submission.known_at, kept, layout, report)
        except SubmissionError as error:
            found.differences.append(f"It cannot be built again: {error}")
            return found
        _compare(submission, again, layout, found)
    return found


def _filed_notices(submission: Submission) -> list[tuple]:
    """Notices as they were filed: their delivery keeps no history to rebuild them from."""
    from program.submissions.rows import NoticeRow

    file = submission.files.get(kind="json")
    document = json.loads((Path(settings.DATA_DIR) / file.path).read_text(encoding="utf-8"))
    days = ("due_on", "sent_on")
    return [
        tuple(_day(row.get(key)) if key in days else row.get(key, "") for key in NoticeRow._fields)
        for row in document["notices"]
    ]


def _day(text: str | None):
    from datetime import date

    return date.fromisoformat(text) if text else None


def _compare(submission: Submission, again: Path, layout: Layout, found: Verification) -> None:
    same = []
    differing = []
    for file in submission.files.order_by("id"):
        rebuilt = again / Path(file.path).name
        (same if sha256_of(rebuilt) == file.sha256 else differing).append(file)
    if not differing:
        found.agreements.append("Built again from the record, every file is the same to the byte.")
        return
    cells = _cells(submission, again, layout)
    record = {key: number for key, number in cells.items() if key[0] not in PLACE_COLUMNS}
    places = Counter(key for key, _ in cells if key in PLACE_COLUMNS)
    if record:
        found.differences += _sentences(record)
    elif not cells:
        names = ", ".join(Path(file.path).name for file in differing)
        found.differences.append(f"Built again from the record, these files differ: {names}.")
    if places:
        said = ", ".join(f"{key} of {number:,}" for key, number in sorted(places.items()))
        found.remarks.append(
            f"Corrected in the record since the freeze, which keeps no history of it: {said} lines."
        )


def _cells(submission: Submission, again: Path, layout: Layout) -> dict[tuple[str, str], tuple]:
    """Return {(column, location id): (filed, rebuilt)} of the line list's differing cells."""
    name = Path(submission.files.get(kind="csv").path).name
    keys = [column.key for column in layout.columns("lines")]
    at = keys.index("location_id")
    found = {}
    with (
        open(submission_folder(submission) / name, encoding="utf-8", newline="") as filed,
        open(again / name, encoding="utf-8", newline="") as rebuilt,
    ):
        rows = zip_longest(csv.reader(filed), csv.reader(rebuilt), fillvalue=[])
        for one, two in rows:
            if one != two:
                place = (one or two)[at]
                for key, old, new in zip_longest(keys, one, two, fillvalue=""):
                    if old != new:
                        found[key, place] = (old, new)
    return found


def _sentences(cells: dict[tuple[str, str], tuple]) -> list[str]:
    shown = [
        f"{place}, {key}: filed {old or 'empty'!r}, in the record {new or 'empty'!r}."
        for (key, place), (old, new) in list(cells.items())[:SHOWN]
    ]
    more = len(cells) - len(shown)
    return [*shown, f"{more:,} more cells differ."] if more > 0 else shown
