"""The lists that the files of a submission are written from."""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from program.submissions.facts import SubmissionFacts


class Rows(Protocol):
    """Rows of one list, to be gone through as often as there are files to write."""

    def __len__(self) -> int: ...

    def __iter__(self) -> Iterator[Any]: ...


@dataclass(frozen=True, kw_only=True)
class Lists:
    """The lists of a submission; `lines()` starts the line list anew, in the same order."""

    lines: Callable[[], Iterable[Any]]
    spooled: Path | None = None  # the file of a `RowSpool` that holds the line list
    pool: ProcessPoolExecutor | None = None  # has read it, and so writes it without a new start
    replacements: Rows = ()
    partials: Rows = ()
    refusals: Rows = ()
    changes: Rows = ()
    notices: Rows = ()
    non_lead_bases: Rows = ()
    set_aside: Rows = ()
    corrections: Rows = ()

    def by_sheet(self, facts: SubmissionFacts, sheets: Iterable[str]) -> dict[str, Rows]:
        """Return those of `sheets`, in the order written; the line list is not among them."""
        every = {
            "replacements": self.replacements,
            "partials": self.partials,
            "refusals": self.refusals,
            "changes": self.changes,
            "notices": self.notices,
            "non_lead_bases": self.non_lead_bases,
            "set_aside": self.set_aside,
            "corrections": self.corrections,
            "filed_and_now": facts.totals_moved,
            "values": facts.values_used,
        }
        return {sheet: rows for sheet, rows in every.items() if sheet in sheets}
