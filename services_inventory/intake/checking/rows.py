"""The checker: a compiled plan of columns, applied to batches of rows."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from itertools import compress, islice

from services_inventory.domain.addresses import AddressKind, normalize
from services_inventory.domain.materials import read_unknown_label
from services_inventory.intake.checking import values
from services_inventory.intake.checking.batches import CheckedBatch, Findings
from services_inventory.intake.checking.coordinates import read_pairs, read_points
from services_inventory.intake.checking.own import (
    NO_WORDS,
    TWO_DIGIT_YEARS,
    YEARS,
    OwnWords,
    Tally,
    reader_of,
    with_century,
    word_key,
)
from services_inventory.intake.checking.problems import Bad, RowProblem
from services_inventory.intake.checking.repeats import RepeatFinder, Repeats, judged
from services_inventory.intake.checking.sides import check_order_of_days, shared_among_sides
from services_inventory.intake.checking.words import READERS
from services_inventory.intake.columns import (
    FIELDS,
    BadColumnMap,
    ColumnMap,
    ValueKind,
    made_of,
)
from services_inventory.intake.reading.pieces import ROWS_AT_ONCE, Few, Piece, mapped
from services_inventory.intake.reading.table import Row

LONGEST_SOURCE = 120
MOST_CACHED = 50_000
# A word that is not known in these columns stands for this code; the row is still taken in, and
# what was left out is counted. A source that is none of the known bases shows nothing by itself,
# so to take it as not stated can't make a line non-lead; its words are kept with the evidence.
NOT_HELD = {
    ValueKind.LINE_USE: "",
    ValueKind.PREMISE_KIND: "",
    ValueKind.PLUMBING: "",
    ValueKind.TREATMENT: "",
    ValueKind.SOLDER: "",
    ValueKind.CATEGORY: "",
    ValueKind.BASIS: "NOT_STATED",
}
NOTHING_TOLD = (
    "The row has no identifier, no address and no position: nothing in it says which premise it "
    "is about. Give one of them."
)
LABELED = (ValueKind.MATERIAL, ValueKind.CATEGORY)
OFTEN_UNIQUE = ("location_id", "notes")
PLACED_APART = ("latitude", "longitude", "geometry", "address", "unit")
NO_ADDRESS = normalize("")


class _Cache(dict):
    """Reads each distinct cell once; knows whether any was bad."""

    def __init__(self, read):
        super().__init__()
        self.read = read
        self.has_bad = False

    def __missing__(self, cell):
        value = self.read(cell)
        self.has_bad = self.has_bad or type(value) is Bad
        if len(self) < MOST_CACHED:
            self[cell] = value
        return value


class _Labeled(_Cache):
    """The same of a column that may say "unknown, could be lead": keeps what is supposed."""

    def __init__(self, read):
        super().__init__(read)
        self.labels: dict = {}

    def __missing__(self, cell):
        value = super().__missing__(cell)
        if value == "UNKNOWN" and (label := read_unknown_label(str(cell)).code):
            self.labels[cell] = label
        return value


class RowChecker:
    """Checks rows of one file.

    Parameters
    ----------
    columns : the column map
    header : the file's headings
    as_of : the day the file is taken in; nothing was seen or laid after it
    own : what people said that words in these columns stand for

    Raises `BadColumnMap` when the file lacks a mapped column, or nothing mapped says which
    premise a row is about.
    """

    def __init__(
        self,
        columns: ColumnMap,
        header: Sequence[str],
        *,
        as_of: date,
        own: OwnWords = NO_WORDS,
    ):
        self._made = made_of(columns, header)
        columns = self._made.columns
        self.header = self._made.header
        self.used = self._made.used  # the places of the file's own columns that are taken in
        self.own = own
        self.as_of = as_of
        self.crs = columns.crs
        self.positions = columns.positions(self.header)
        _refuse_lost_rows(self.positions)
        self._caches = {
            field: (_Labeled if FIELDS[field].kind in LABELED else _Cache)(
                self._reader(field, columns.date_order)
            )
            for field in self.positions
            if field not in PLACED_APART
        }
        self._sources = {
            field: _Cache(values.limited_text(LONGEST_SOURCE))
            for field in self.positions
            if FIELDS[field].kind is ValueKind.BASIS
        }
        self._texts = {f: values.limited_text(FIELDS[f].longest) for f in ("address", "unit")}
        self._finder = RepeatFinder()
        self.not_shown: Counter[str] = Counter()  # "No" to: was it ever lead before?
        self.unread = Tally(
            {self._heading(field): (field, FIELDS[field].kind) for field in self.positions}
        )

    def _reader(self, field: str, order: str):
        kind = FIELDS[field].kind
        if kind is ValueKind.IDENTIFIER:
            return values.identifier(FIELDS[field].longest)
        if kind in (ValueKind.TEXT, ValueKind.NOTES):
            return values.limited_text(FIELDS[field].longest)
        own = self.own.get((word_key(self._heading(field)), kind.value), {})
        if kind in READERS:
            return values.short(reader_of(READERS[kind], own))
        readers = {
            ValueKind.INSTALLED: lambda: values.installed(self.as_of, order),
            ValueKind.DATE: lambda: values.day(self.as_of, order),
            ValueKind.YEAR: lambda: values.year(self.as_of),
            ValueKind.DIAMETER: lambda: values.diameter_in,
            ValueKind.COUNT: lambda: values.count,
        }
        century = own.get(word_key(TWO_DIGIT_YEARS)) if kind in YEARS else None
        read = readers[kind]()
        return values.short(with_century(read, century) if century else read)

    def check_many(self, rows: Piece | Iterable[Row]) -> CheckedBatch:
        """Check a batch of rows; a thousand at a time are fastest."""
        rows = rows if isinstance(rows, Piece) else Piece(list(rows))
        batch = self._checked(rows)
        if batch.words:
            self.unread.add(batch.words, rows.rows)
        if batch.row_numbers:
            self.note_locations(_locations(batch), batch.row_numbers)
        return batch

    def note_locations(self, keys: Iterable[str], rows: Sequence[int]) -> None:
        """Note which location each of these rows is about, to find what repeats."""
        self._finder.add(keys, rows)

    def identifiers(self, rows: Piece) -> list[str]:
        """Return the identifiers in these rows, as checking reads them; "" for none."""
        at = self.positions["location_id"]
        cells: Sequence
        if rows.columns is None or self._made.added:
            cells = [one[at] for _, one in self._made.rows(rows.rows)]
        else:
            cells = rows.columns[at]
        found = self._plain("location_id", cells)
        if found is None:
            read = mapped(self._caches["location_id"].__getitem__, cells)
            found = [one if isinstance(one, str) else "" for one in read]
        return found

    def _checked(self, rows: Piece) -> CheckedBatch:
        numbers, by_position, misfits = self._by_position(rows)
        if not numbers:
            return CheckedBatch([], {}, misfits, [])
        findings = Findings(numbers, by_position)
        findings.problems += misfits
        columns = self._typed(by_position, findings)
        columns |= self._placed(by_position, findings)
        self._identified(columns, findings)
        check_order_of_days(columns, findings)
        return self._without_bad_rows(list(numbers), columns, findings)

    def repeats(self, read_again: Callable[[], Iterable[Row]]) -> Repeats:
        """Locations that occurred more than once among the good rows checked so far.

        Parameters
        ----------
        read_again : gives all rows anew; called only where a location occurred twice
        """
        groups = self._finder.groups()
        return judged(groups, self._contents(groups, read_again)) if groups else Repeats()

    def _contents(self, groups: list[list[int]], read_again) -> dict[int, int]:
        """What these rows say, each as one number, by row number."""
        wanted = {row for rows in groups for row in rows}
        rows = (row for row in read_again() if row[0] in wanted)
        found: dict[int, int] = {}
        while piece := list(islice(rows, ROWS_AT_ONCE)):
            batch = self._checked(Piece(piece))
            found.update(zip(batch.row_numbers, map(hash, _contents_of(batch)), strict=True))
        return found

    def repeat_problems(self, repeats: Repeats) -> list[RowProblem]:
        """Why rows of one location that say different things are all held."""
        problems = []
        for rows in repeats.different:
            for row in rows:
                others = ", ".join(str(other) for other in rows if other != row)
                why = (
                    f"The same location is in row {others} too, with different values. "
                    "Keep the right one."
                )
                column = self._heading("location_id") or self._heading("address")
                problems.append(RowProblem(row, column, "", why))
        return sorted(problems, key=lambda problem: problem.row_number)

    def _heading(self, field: str) -> str:
        return self.header[self.positions[field]] if field in self.positions else ""

    def _by_position(self, rows: Piece) -> tuple[Sequence[int], list[Sequence], list[RowProblem]]:
        """Row numbers and columns, those that are made behind the file's; misfits are told."""
        if rows.columns is not None and not self._made.added:
            return rows.numbers, rows.columns, []
        fitting, misfits = self._sorted_by_width(self._made.rows(rows.rows))
        numbers, cells = zip(*fitting, strict=True) if fitting else ((), ())
        return numbers, list(zip(*cells, strict=True)), misfits

    def _sorted_by_width(self, rows: list[Row]) -> tuple[list[Row], list[RowProblem]]:
        width = len(self.header)
        if {len(cells) for _, cells in rows} <= {width}:
            return rows, []
        fitting, misfits = [], []
        for number, cells in rows:
            if len(cells) == width:
                fitting.append((number, cells))
            else:
                made = self._made.added
                why = (
                    f"The row has {len(cells) - made:,} cells, the header has {width - made}. "
                    "Check the separators and quotation marks in it."
                )
                misfits.append(RowProblem(number, "", "", why))
        return fitting, misfits

    def _typed(self, by_position: list[Sequence], findings: Findings) -> dict[str, list]:
        columns: dict[str, list] = {}
        for field, cache in self._caches.items():
            at = self.positions[field]
            cells = by_position[at]
            if (plain := self._plain(field, cells)) is not None:
                columns[field] = plain
                continue
            columns[field] = mapped(cache.__getitem__, cells)
            if cache.has_bad:
                self._report(field, columns[field], findings)
            if isinstance(cache, _Labeled) and cache.labels:
                _add_labels(columns, map(cache.labels.get, cells))
            elif FIELDS[field].kind is ValueKind.WAS_LEAD:
                self.not_shown[self._heading(field)] += columns[field].count("NO")
            if field in self._sources:
                sources = self._sources[field]
                said = mapped(sources.__getitem__, cells)
                if sources.has_bad:
                    self._report_words(field, said, findings)
                columns[f"{field.removesuffix('_basis')}_words"] = said
        return shared_among_sides(columns)

    def _plain(self, field: str, cells: Sequence) -> list[str] | None:
        """Read a column of texts that are hardly ever equal, where none needs a closer look."""
        if field not in OFTEN_UNIQUE or not _are_plain(cells, FIELDS[field].longest):
            return None
        texts = mapped(str.strip, cells)
        return _known(texts) if field == "location_id" else texts

    def _report(self, field: str, column: list, findings: Findings) -> None:
        kind = FIELDS[field].kind
        empty = values.NOT_INSTALLED if kind is ValueKind.INSTALLED else None
        for place, value in enumerate(column):
            if type(value) is Bad:
                held = kind not in NOT_HELD or not value.word
                where = self.positions[field]
                heading = self._heading(field)
                findings.add(place, heading, where, value.why, held=held, word=value.word)
                column[place] = NOT_HELD.get(kind, empty)

    def _report_words(self, field: str, said: list, findings: Findings) -> None:
        """Hold rows whose words for a source can't be kept with the evidence."""
        for place, words in enumerate(said):
            if type(words) is Bad:
                said[place] = ""
                if place not in findings.bad_places:
                    where = self.positions[field]
                    findings.add(place, self._heading(field), where, words.why)

    def _placed(self, by_position: list[Sequence], findings: Findings) -> dict[str, list]:
        columns: dict[str, list] = {}
        if "latitude" in self.positions and "longitude" in self.positions:
            pair = (by_position[self.positions[name]] for name in ("latitude", "longitude"))
            found = read_pairs(*pair, self.crs)
            self._add_coordinates(columns, found, findings)
        elif "geometry" in self.positions:
            found = read_points(by_position[self.positions["geometry"]])
            self._add_coordinates(columns, found, findings)
        if "address" in self.positions:
            self._add_addresses(columns, by_position, findings)
        return columns

    def _add_coordinates(self, columns, found, findings: Findings) -> None:
        columns["latitude"], columns["longitude"], wrong = found
        for place, (field, bad) in wrong.items():
            findings.add(place, self._heading(field), self.positions[field], bad.why)

    def _add_addresses(self, columns, by_position, findings: Findings) -> None:
        addresses = self._text_column("address", by_position, findings)
        columns["address"] = addresses
        if "unit" in self.positions:
            units = self._text_column("unit", by_position, findings)
            columns["normal_address"] = list(map(normalize, addresses, units))
        else:
            columns["normal_address"] = list(map(normalize, addresses))

    def _text_column(self, field: str, by_position, findings: Findings) -> list[str]:
        cells = by_position[self.positions[field]]
        if _are_plain(cells, FIELDS[field].longest):
            return mapped(str.strip, cells)
        read = self._texts[field]
        texts = mapped(read, cells)
        for place, text in enumerate(texts):
            if type(text) is Bad:
                findings.add(place, self._heading(field), self.positions[field], text.why)
                texts[place] = ""
        return texts

    def _identified(self, columns: dict[str, list], findings: Findings) -> None:
        """Hold rows that nothing ties to a premise; say where only the address can't."""
        identifiers = columns.get("location_id")
        latitudes = columns.get("latitude")
        normal = columns.get("normal_address")
        if normal is None and identifiers is not None and all(identifiers):
            return
        places = range(len(findings.rows))
        if normal is not None:
            places = [
                at
                for at, found in enumerate(normal)
                if found.problems or found.kind is not AddressKind.STREET
            ]
        for at in places:
            address = normal[at] if normal is not None else NO_ADDRESS
            problem = " ".join(address.problems)
            tied = bool(identifiers and identifiers[at]) or bool(
                latitudes and latitudes[at] is not None
            )
            where = self.positions.get("address")
            if tied or address.is_place:
                if address.problems and address.key:
                    findings.add(at, self._heading("address"), where, problem, held=False)
            elif at not in findings.bad_places:
                why = f"{problem} Nothing else in the row says which premise it is."
                if not address.key:
                    why = NOTHING_TOLD
                findings.add(at, self._heading("address"), where, why)

    def _without_bad_rows(self, numbers, columns, findings: Findings) -> CheckedBatch:
        if findings.bad_places:
            good = [at not in findings.bad_places for at in range(len(numbers))]
            numbers = list(compress(numbers, good))
            columns = {name: list(compress(column, good)) for name, column in columns.items()}
        problems = sorted(findings.problems, key=lambda problem: problem.row_number)
        bad_rows = {problem.row_number for problem in problems}
        notes = [note for note in findings.notes if note.row_number not in bad_rows]
        words = [one for one in (*problems, *findings.notes) if one.word]
        return CheckedBatch(numbers, columns, problems, notes, words)


def _add_labels(columns: dict[str, list], found: Iterator[str | None]) -> None:
    """Keep what is supposed of each line; of two suppositions the more protective one."""
    known = columns.get("said_label")
    columns["said_label"] = (
        list(found)
        if known is None
        else [
            min(one or other, other or one) if one or other else None
            for one, other in zip(known, found, strict=True)
        ]
    )


def _known(identifiers: list[str]) -> list[str]:
    """Leave out words for "not known", of which most files have none."""
    if values.NOT_KNOWN.isdisjoint(map(str.casefold, identifiers)):
        return identifiers
    return ["" if text.casefold() in values.NOT_KNOWN else text for text in identifiers]


def _locations(batch: CheckedBatch) -> list[str]:
    """What says which location each row is about; the empty text where nothing does."""
    identifiers = batch.columns.get("location_id")
    if identifiers is not None and all(identifiers):
        return identifiers
    keys = _place_keys(batch)
    return _keys_of_places(batch.columns, identifiers, keys, len(batch.row_numbers))


def _place_keys(batch: CheckedBatch) -> list[str] | None:
    normal = batch.columns.get("normal_address")
    return [found.key if found.is_place else "" for found in normal] if normal else None


def _contents_of(batch: CheckedBatch) -> Iterator[tuple]:
    """All that each row says; an address by its key, however it is written."""
    contents = [c for n, c in batch.columns.items() if n not in ("address", "normal_address")]
    keys = _place_keys(batch)
    return zip(*contents, *([] if keys is None else [keys]), strict=True)


def _keys_of_places(columns, identifiers, keys, rows: int) -> list[str]:
    """The identifier, or else the address key with the use, as one premise may have two lines."""
    identifiers = identifiers or [""] * rows
    keys = keys or [""] * rows
    uses = columns.get("line_use") or [""] * rows
    return [
        identifier or (f"{key}|{use or 'DOMESTIC'}" if key else "")
        for identifier, key, use in zip(identifiers, keys, uses, strict=True)
    ]


def _are_plain(cells: Sequence, longest: int) -> bool:
    """Whether all cells are text that needs no closer look."""
    cells = cells.values if isinstance(cells, Few) else cells
    try:
        text = "  ".join(cells)
    except TypeError:
        return False
    return (
        text.isprintable()
        and "  =" not in text
        and "E+" not in text
        and "  '" not in text
        and "  #" not in text
        and not text.startswith(("=", "'", "#"))
        and max(map(len, cells)) <= longest
    )


def _refuse_lost_rows(positions: dict[str, int]) -> None:
    """Refuse a map by which no row could be tied to a premise."""
    if ("latitude" in positions) != ("longitude" in positions):
        raise BadColumnMap("Latitude and longitude go together. Map both or neither.")
    if not {"location_id", "address", "latitude", "geometry"} & positions.keys():
        raise BadColumnMap(
            "No column says which premise a row is about. "
            "Map a location identifier, an address, or latitude and longitude."
        )
