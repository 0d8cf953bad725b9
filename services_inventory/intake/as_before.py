"""Rows that an earlier file had word for word, told before their cells are looked at.

A list that comes every month is mostly made of them. What such a row says went into the record
with that file, and is there still, unless somebody corrected its place, took a file back or
decided about matches since. So nothing of it is read but which line it is about, as another row
may name the same one. Any doubt, and it is read like every other row.
"""

from array import array
from collections.abc import Callable, Collection, Iterable
from datetime import datetime
from functools import cache
from hashlib import blake2b
from itertools import compress
from operator import itemgetter, not_
from pathlib import Path

from django.utils.timezone import localdate

from .. import bulk
from ..domain.words import FOLDER
from ..kept_files import local_path, sha256_of
from ..models import Batch, OwnWord, PremiseChange
from .checking import RowChecker
from .columns import FIELDS, ColumnMap, ValueKind
from .matching import LINE
from .reading import Piece, Row, Table, UnreadableFile, open_table
from .unchanged import CORRECTION, Mark

LATEST = 5  # files read alike, of which the longest is taken
MOST_APART = 5_000  # rows that were not plainly taken in, up to which they are kept by number
MOST_TOUCHED = 50_000
_READ_BY = (Path(__file__).parent, Path(__file__).parents[1] / "domain", FOLDER)


def reading_key(batch: Batch, table: Table, columns: ColumnMap, checker: RowChecker) -> str:
    """Return what is equal where equal cells are read alike: map, words, source and program."""
    own = sorted((where, sorted(words.items())) for where, words in checker.own.items())
    asked = [batch.parameters.get(name) for name in ("source", "true_since")]
    said = (table.header, columns.to_dict(), own, asked, _program())
    return blake2b(repr(said).encode(), digest_size=16).hexdigest()


@cache
def _program() -> str:
    """Return a digest of the modules and tables by which rows are read."""
    digest = blake2b(digest_size=16)
    for folder in _READ_BY:
        for path in sorted(folder.rglob("*")):
            if path.suffix in (".py", ".csv", ".toml"):
                digest.update(path.read_bytes())
    return digest.hexdigest()


class AsBefore:
    """The rows of a file that the record holds since an earlier one, and what they are about.

    Parameters
    ----------
    checker : reads the identifiers, and is told of them
    has : which rows of a piece the earlier file has; None: there is no such file
    touched : identifiers of the lines that were changed since
    """

    def __init__(
        self,
        checker: RowChecker,
        has: Callable[[Piece], list[bool]] | None = None,
        touched: frozenset[str] = frozenset(),
    ):
        self.rows = array("q")
        self._keys = array("q")
        self._checker, self._has, self._touched = checker, has, touched

    def others(self, piece: Piece) -> Piece:
        """Return the rows that have to be read, and note those that the record holds."""
        if self._has is None:
            return piece
        known = self._has(piece)
        if not any(known):
            return piece
        others: list[Row] = []
        if not all(known):
            others = list(compress(piece, map(not_, known)))
            piece = Piece(list(compress(piece, known)))
        names, numbers = self._checker.identifiers(piece), piece.numbers
        if not all(names) or not self._touched.isdisjoint(names):
            plain = [bool(name) and name not in self._touched for name in names]
            others += compress(piece, map(not_, plain))
            others.sort(key=itemgetter(0))
            names, numbers = list(compress(names, plain)), list(compress(numbers, plain))
        self._checker.note_locations(names, numbers)
        self.rows.extend(numbers)
        self._keys.extend(map(hash, names))
        return Piece(others)

    def count(self, leave_out: Collection[int]) -> int:
        """Count them without these."""
        return len(self.rows) - sum(row in leave_out for row in self.rows if leave_out)

    def rows_of(self, location_ids: Iterable[str]) -> dict[str, int]:
        """Return the row that is about each of these lines, if one is."""
        wanted = {hash(name): name for name in location_ids}
        pairs = zip(self._keys, self.rows, strict=True)
        return {wanted[key]: row for key, row in pairs if key in wanted}

    def names(self) -> frozenset[int]:
        """Return the lines that they are about, each by the hash of its identifier."""
        return frozenset(self._keys)


def as_before(
    key: str, mark: Mark, batch: Batch, table: Table, checker: RowChecker, recorded_at: datetime
) -> AsBefore:
    """Find the earlier file that was read alike, and what was touched since.

    Only text files with identifiers are looked at: their cells are equal where they are written
    alike. What "no" to an earlier lead pipe stands for is counted by row, so those are read.
    """
    kinds = {FIELDS[field].kind for field in checker.positions}
    if "location_id" not in checker.positions or not table.delimiter or ValueKind.WAS_LEAD in kinds:
        return AsBefore(checker)
    earlier = _earlier(key, mark, localdate(recorded_at))
    if earlier is None:
        return AsBefore(checker)
    read, touched = earlier.result["as_read"], _touched(Mark(*earlier.result["as_read"]["mark"]))
    apart = frozenset(read["apart"])
    if len(touched) > MOST_TOUCHED:
        return AsBefore(checker)
    if earlier.file_sha256 == batch.file_sha256:
        return AsBefore(checker, lambda some: [row not in apart for row in some.numbers], touched)
    try:
        old = open_table(local_path(earlier.file))  # held, as its reader ends with it
        words = {
            one
            for piece in old.pieces()
            for row, one in zip(piece.numbers, piece.hashes(), strict=True)
            if row not in apart
        }
    except UnreadableFile:  # its reader was ended; this file may be as good as any
        return AsBefore(checker)
    return AsBefore(checker, lambda some: list(map(words.__contains__, some.hashes())), touched)


def _earlier(key: str, mark: Mark, day) -> Batch | None:
    """Return the longest of the latest files that were read alike and still stand whole."""
    found = Batch.objects.filter(kind="INTAKE", state=Batch.State.APPLIED)
    found = found.filter(result__as_read__key=key).order_by("-id")[:LATEST]
    standing = [one for one in found if _stands(one, mark, day)]
    return max(standing, key=lambda one: one.counts["total"], default=None)


def _stands(batch: Batch, mark: Mark, day) -> bool:
    """Whether all that a file said is in the record, but for places that were corrected since."""
    then = Mark(*batch.result["as_read"]["mark"])
    own = batch.result.get("own_words", ())
    if OwnWord.objects.filter(pk__in=own, withdrawn_at__isnull=False).exists():
        return False
    if (then.withdrawn, then.decided) != (mark.withdrawn, mark.decided):
        return False
    before = f"SELECT count(*) FROM {CORRECTION} WHERE id <= {then.correction}"
    if bulk.number(before) != then.corrections:  # one was under way then
        return False
    if localdate(datetime.fromisoformat(batch.result["recorded_at"])) > day:
        return False
    try:
        return sha256_of(batch.file) == batch.file_sha256
    except OSError:
        return False


def _touched(then: Mark) -> frozenset[str]:
    """Return the identifiers of lines whose place was corrected since, or that are none now."""
    since = PremiseChange.objects.filter(id__gt=then.correction)
    renamed = since.filter(before__location_id__isnull=False)
    lines = bulk.stream(
        f"SELECT l.location_id FROM {CORRECTION} c CROSS JOIN {LINE} l "
        f"WHERE c.id > {then.correction} AND l.premise_id = c.premise_id "
        f"UNION SELECT location_id FROM {LINE} WHERE category IS NULL OR given_up"
    )
    return frozenset(
        [name for (name,) in lines] + list(renamed.values_list("before__location_id", flat=True))
    )
