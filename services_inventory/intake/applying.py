"""What staged and matched rows change in the record, and the statements that change it."""

import json
from collections.abc import Iterator
from datetime import datetime, time, timedelta

from django.utils.timezone import localdate, make_aware

from .. import bulk
from ..domain.classification import Category
from ..domain.columns import OF_PREMISE
from ..domain.evidence import Basis, Portion
from ..domain.materials import Connector, Material
from ..models import Batch
from .matching import FILLS_ONLY, LINE, METERS_A_DEGREE, NEAR_M, OPEN, PREMISE
from .old_words import without_old_words
from .recording import COLUMNS, MADE, SAID_ALONE, SLOTS, Recorder
from .said import STATEMENT_COLUMNS
from .unchanged import EVIDENCE, living

CHANGE = "services_inventory_categorychange"
HELD = (("row", "KEY"), ("reason", "TEXT"))
PLACE = (
    "address", "address_key", "street_key", "house_number", "unit", "latitude", "longitude",
    *SAID_ALONE, "neighborhood_id",
)  # fmt: skip
OF_LINE = ("location_id", "use")
FOUND = (*PLACE, *OF_LINE)
POSITION = ("latitude", "longitude")


def stage_statements(recorder: Recorder) -> None:
    """Stage the distinct statements of the file as `intake_said`, if any row was staged."""
    rows = recorder.statements.rows(recorder.standings.fact_codes()) if recorder.rows else ()
    bulk.stage("intake_said", STATEMENT_COLUMNS, rows)
    bulk.index("intake_said")


def stage_rows(rows: Iterator[tuple]) -> int:
    """Stage checked rows as `intake_stage`."""
    return bulk.stage("intake_stage", COLUMNS, rows)


def find_changes(recorder: Recorder) -> None:
    """Fill `intake_fresh` (row, line, statement not yet recorded) and `intake_back` (revived)."""
    bulk.stage(
        "intake_fresh", (("row", "INTEGER"), ("line_id", "INTEGER"), ("said", "INTEGER")), ()
    )
    bulk.stage("intake_back", (("row", "KEY"), ("line_id", "INTEGER")), ())
    slots = _slots(recorder)
    if slots:
        known = f"{living()}{_counts_since(recorder)}"
        for pairs in (
            "intake_stage s CROSS JOIN intake_match m",
            "intake_also m CROSS JOIN intake_stage s",
        ):
            bulk.execute(
                "INSERT INTO intake_fresh (row, line_id, said) SELECT s.row, m.line_id, c.id "
                f"FROM {pairs} CROSS JOIN ({slots}) k "
                f"CROSS JOIN intake_said c WHERE m.row = s.row AND c.id = {_SAID} AND NOT EXISTS "
                f"(SELECT 1 FROM {EVIDENCE} e WHERE e.line_id = m.line_id "
                f"AND e.content_key = c.content_key{known})"
            )
    if not bulk.number(f"SELECT EXISTS (SELECT 1 FROM {LINE} WHERE category IS NULL)"):
        return
    bulk.execute(
        "INSERT INTO intake_back (row, line_id) SELECT m.row, m.line_id FROM intake_stage s "
        f"CROSS JOIN intake_match m CROSS JOIN {LINE} l "
        "WHERE m.row = s.row AND l.id = m.line_id AND l.category IS NULL"
    )


def _counts_since(recorder: Recorder) -> str:
    """Of a file that is true since a day, only what counts since then is known already.

    What a person took back stays taken back here, too.
    """
    since = recorder.statements.true_since
    if since is None:
        return ""
    next_day = make_aware(datetime.combine(since + timedelta(days=1), time.min))
    moment = bulk.typed(f"'{bulk.moment(next_day)}'", "timestamptz")
    return (
        f" AND (c.counts_from IS NULL OR e.counts_from <= c.counts_from OR e.recorded_at < {moment}"
        f" OR EXISTS (SELECT 1 FROM {EVIDENCE} w WHERE w.withdraws_id = e.id))"
    )


_SAID = f"CASE k.slot {' '.join(f'WHEN {n} THEN s.{slot}' for n, slot in enumerate(SLOTS))} END"
_ALL_SLOTS = ", ".join(f"COALESCE(s.{slot}, 0)" for slot in SLOTS)
_NOTED = f"COALESCE({', '.join(f's.{slot}' for slot in SLOTS)})"


def note_outcomes(recorder: Recorder) -> list[tuple[int, int]]:
    """Note and return the outcome of each staged row that no line of the record matches."""
    rows = list(bulk.stream(f"SELECT s.row, {_ALL_SLOTS} FROM intake_stage s WHERE {OPEN}"))
    found = list(recorder.standings.outcomes_of(rows))
    recorder.outlook.note([row for row, _ in found], [outcome for _, outcome in found])
    return found


def _among(codes) -> str:
    return f"NOT IN ({', '.join(repr(code.value) for code in codes)})"


def _slots(recorder: Recorder) -> str:
    used = [n for n, name in enumerate(SLOTS) if name in recorder.used]
    return " UNION ALL ".join(f"SELECT {n} AS slot" for n in used)


KINDS = {
    "latitude": "REAL", "longitude": "REAL", "house_number": "INTEGER",
    "neighborhood_id": "INTEGER", **SAID_ALONE,
}  # fmt: skip
# Whether a row says anything of its place: else nothing is looked up for it. Without a place it
# can only have been matched by its identifier, and so has no other to give.
_OF_A_PLACE = " OR ".join(
    f"s.{name} <> ''" if KINDS.get(name, "TEXT") == "TEXT" else f"s.{name} IS NOT NULL"
    for name in ("address", "address_key", "latitude", "use", *SAID_ALONE)
)
_SAYS_OTHERWISE = " OR ".join(
    f"(s.{name} <> '' AND p.{name} <> s.{name})"
    if kind == "TEXT"
    else f"(s.{name} IS NOT NULL AND p.{name} IS DISTINCT FROM s.{name})"
    for name, kind in SAID_ALONE.items()
)


ADDRESS = ("address", "address_key", "street_key", "house_number", "unit")


def corrections() -> Iterator[tuple[int, int, int, dict, dict]]:
    """Yield (row, line, premise, before, after) where a row corrects what is known of a place."""
    place = ", ".join(f"p.{name}, s.{name}" for name in PLACE)
    meters = NEAR_M / METERS_A_DEGREE
    rows = bulk.stream(
        "SELECT m.row, m.line_id, m.premise_id, m.sure, l.location_id, s.given_id, l.use, s.use, "
        f"{place} "
        f"FROM intake_stage s CROSS JOIN intake_match m CROSS JOIN {PREMISE} p CROSS JOIN {LINE} l "
        f"WHERE m.row = s.row AND ({_OF_A_PLACE}) AND p.id = m.premise_id "
        "AND l.id = m.line_id AND ("
        "(s.latitude IS NOT NULL AND (p.latitude IS NULL "
        f"OR abs(p.latitude - s.latitude) > {meters} "
        f"OR abs(p.longitude - s.longitude) > {meters})) "
        "OR (s.address_key <> '' AND p.address_key <> s.address_key) "
        "OR (s.address <> '' AND p.address = '') "
        f"OR {_SAYS_OTHERWISE} OR (s.use <> '' AND l.use <> s.use) "
        "OR (s.given_id <> '' AND l.location_id <> s.given_id "
        f"AND l.location_id LIKE '{MADE}%%'))"
    )
    for row, line_id, premise_id, sure, location_id, given_id, line_use, use, *values in rows:
        known = dict(zip(PLACE, values[::2], strict=True))
        given = dict(zip(PLACE, values[1::2], strict=True))
        if sure == FILLS_ONLY:
            given = {name: known[name] or value for name, value in given.items()}
        elif not sure and known["address_key"]:  # found by where it lies: a spelling corrects none
            given |= {name: known[name] for name in ADDRESS}
        before, after = _differences(known, given)
        if use and use != line_use:
            before |= {"use": line_use, "line": line_id}
            after |= {"use": use, "line": line_id}
        if given_id and given_id != location_id and location_id.startswith(MADE):
            before |= {"location_id": location_id, "line": line_id}
            after |= {"location_id": given_id, "line": line_id}
        if after:
            yield row, line_id, premise_id, before, after


def _differences(known: dict, given: dict) -> tuple[dict, dict]:
    """What the row says otherwise; an empty cell says nothing, and two cells go together."""
    names = [name for name in SAID_ALONE if given[name]]
    if given["latitude"] is not None and _moved(known, given):
        names += [*POSITION, "neighborhood_id"]
    if given["address_key"] and given["address_key"] != known["address_key"]:
        if not known["unit"] or given["unit"]:
            names += ADDRESS
    elif given["address"] and not known["address"]:
        names.append("address")
    names = [name for name in names if known[name] != given[name]]
    return {name: known[name] for name in names}, {name: given[name] for name in names}


def _moved(known: dict, given: dict) -> bool:
    """Whether two positions differ by more than surveys of one place do."""
    if known["latitude"] is None:
        return True
    reach = NEAR_M / METERS_A_DEGREE
    return any(abs(known[name] - given[name]) > reach for name in POSITION)


CORRECTED = (
    ("row", "KEY"),
    ("line_id", "INTEGER"),
    ("premise_id", "INTEGER"),
    ("before", "TEXT"),
    ("after", "TEXT"),
    *((name, KINDS.get(name, "TEXT")) for name in FOUND),
)


def stage_corrections(source: str, left_out: dict[str, list[int]]) -> int:
    """Stage what rows correct as `intake_correct`; return their number.

    See `without_old_words` for the source, and what is left out.
    """
    rows = (
        (row, line, premise, json.dumps(before), json.dumps(after), *map(after.get, FOUND))
        for row, line, premise, before, after in without_old_words(corrections(), source, left_out)
    )
    found = bulk.stage("intake_correct", CORRECTED, rows)
    bulk.index("intake_correct")
    return found


# What each of these columns of a correction is called; a position and an address are several.
CORRECTED_TOLD = {
    "address_key": "address", "latitude": "position", "use": "use of the line",
    "location_id": "identifier", **{field.premise: field.label for field in OF_PREMISE},
}  # fmt: skip


def corrected() -> list[tuple[str, int]]:
    """Return what of places is corrected, and by how many rows, the most first."""
    told = ", ".join(f"count({name})" for name in CORRECTED_TOLD)
    found = next(bulk.stream(f"SELECT {told} FROM intake_correct"))
    named = zip(CORRECTED_TOLD.values(), found, strict=True)
    return sorted(((name, rows) for name, rows in named if rows), key=lambda one: -one[1])


def counts(total: int, good: int, same: int, known: int) -> dict[str, int]:
    """Return {new, changed, unchanged, held, total}; the first four add up to the last.

    Parameters
    ----------
    total : rows of the file
    good : rows that were good by themselves
    same : rows that say exactly what an earlier row of the file says
    known : rows that say nothing new, besides those among the matches
    """
    matched = bulk.number("SELECT count(*) FROM intake_match") + known
    late_held = bulk.number("SELECT count(*) FROM intake_held")
    back = bulk.number("SELECT count(*) FROM intake_back")
    changed = bulk.number(
        "SELECT count(*) FROM (SELECT row FROM intake_fresh UNION "
        "SELECT row FROM intake_correct) t "
        "WHERE NOT EXISTS (SELECT 1 FROM intake_back b WHERE b.row = t.row)"
    )
    new = good - matched - late_held + back
    unchanged = matched - back - changed + same
    held = total - new - changed - unchanged
    return {"new": new, "changed": changed, "unchanged": unchanged, "held": held, "total": total}


def lines_changed() -> int:
    """Count known lines that rows change or bring back; several rows may speak of one line."""
    tables = ("intake_fresh", "intake_correct", "intake_back")
    lines = " UNION ".join(f"SELECT line_id FROM {table}" for table in tables)
    return bulk.number(f"SELECT count(*) FROM ({lines}) t")


class Writer:
    """Writes what the staged rows change, in the open transaction."""

    def __init__(self, batch: Batch, recorded_at: datetime, recorder: Recorder):
        self.batch_id = int(batch.pk)
        self.moment = bulk.moment(recorded_at)
        self.since = recorder.statements.true_since
        day = bulk.typed(f"'{(self.since or localdate(recorded_at)).isoformat()}'", "date")
        self.effective = f"CASE WHEN s.effective_on < {day} THEN s.effective_on ELSE {day} END"
        self.by = batch.requested_by
        self.recorder = recorder
        self.slots = _slots(recorder)
        self.first_line: int | None = None  # what the number of a row is added to for its line

    def check_codes(self) -> None:
        """Refuse to write a code that no table of the domain knows, or an impossible position.

        All rows take their codes from the few hundred staged outcomes and the staged
        statements, so each is looked at once and not a million times.
        """
        material, portion, basis = _among(Material), _among(Portion), _among(Basis)
        connector, category = _among(Connector), _among(Category)
        for table, wrong in (
            (
                "standing_outcome o",
                f"o.system_material {material} OR o.customer_material {material}",
            ),
            ("standing_outcome o", f"o.connector {connector} OR o.category {category}"),
            ("intake_said c", f"c.portion {portion} OR c.material {material} OR c.points_seen < 0"),
            ("intake_said c", f"c.basis {basis}"),
            ("intake_stage s", "s.line_key = ''"),
            ("intake_stage s", "abs(s.latitude) > 90 OR abs(s.longitude) > 180"),
        ):
            if bulk.number(f"SELECT count(*) FROM {table} WHERE {wrong}"):
                raise ValueError(f"A staged row breaks a rule of the record: {table} {wrong}")

    def stage_outcomes(self) -> None:
        """Find the outcome of each new line from its row, and stage the outcomes met."""
        standings = self.recorder.standings
        if not self.recorder.all_new:
            kinds = (("row", "KEY"), ("outcome", "INTEGER"))
            bulk.stage("intake_outcome", kinds, note_outcomes(self.recorder))
            bulk.execute(
                "UPDATE intake_stage SET outcome = o.outcome FROM intake_outcome o "
                "WHERE o.row = intake_stage.row"
            )
            bulk.drop("intake_outcome")
        standings.weigher.stage()

    def write_new(self, highest_row: int) -> None:
        """Write premises, lines, evidence and first categories of rows that no line matches."""
        premise, line = bulk.reserve(PREMISE, highest_row), bulk.reserve(LINE, highest_row)
        self.first_line = line
        self._share_premises(premise)
        not_shared = "NOT EXISTS (SELECT 1 FROM intake_shared h WHERE h.row = s.row)"
        names = ", ".join(PLACE)
        bulk.execute(
            f"INSERT INTO {PREMISE} (id, {names}, batch_id) SELECT {premise} + s.row, "
            f"{', '.join(f's.{name}' for name in PLACE)}, {self.batch_id} "
            f"FROM intake_stage s WHERE {OPEN} AND {not_shared} ORDER BY s.row"
        )
        self._write_lines(premise, line)
        if self.slots:
            self._write_evidence(
                f"{line} + s.row",
                f"intake_stage s CROSS JOIN ({self.slots}) k CROSS JOIN intake_said c",
                f"{OPEN} AND c.id = {_SAID}",
                "s.row, k.slot",
            )
        bulk.execute(
            f"INSERT INTO {CHANGE} (line_id, from_category, to_category, decision_id, "
            "effective_on, recorded_at, recorded_by, batch_id) "
            f"SELECT {line} + s.row, NULL, o.category, o.decision_id, {self.effective}, "
            f"{bulk.typed('%s', 'timestamptz')}, {bulk.typed('%s', 'text')}, {self.batch_id} "
            "FROM intake_stage s CROSS JOIN standing_outcome o "
            f"WHERE o.outcome = s.outcome AND {OPEN} ORDER BY s.row",
            [self.moment, self.by],
        )

    def _share_premises(self, premise: int) -> None:
        """Let new lines at one address share its premise, of the record or of this file."""
        pairs = self.recorder.shared_places()
        bulk.stage("intake_twins", [("row", "KEY"), ("first_row", "INTEGER")], pairs)
        bulk.execute(
            "INSERT INTO intake_shared (row, premise_id, first_row) "
            f"SELECT t.row, {premise} + t.first_row, t.first_row FROM intake_twins t "
            "JOIN intake_stage s ON s.row = t.row JOIN intake_stage f ON f.row = t.first_row "
            f"WHERE f.address_key = s.address_key AND {OPEN} AND {OPEN.replace('s.row', 'f.row')} "
            "AND NOT EXISTS (SELECT 1 FROM intake_shared h WHERE h.row IN (s.row, f.row))"
        )
        bulk.drop("intake_twins")

    def _write_lines(self, premise: int, line: int) -> None:
        bulk.execute(
            f"INSERT INTO {LINE} (id, location_id, premise_id, neighborhood_id, use, "
            "system_material, customer_material, connector, system_was_lead, system_below_lead, "
            "system_nominal_in, customer_nominal_in, installed_year, category, decision_id, "
            "category_since, validation, in_conflict, batch_id) "
            f"SELECT {line} + s.row, s.line_key, COALESCE(h.premise_id, {premise} + s.row), "
            "CASE WHEN h.row IS NULL THEN s.neighborhood_id "
            "ELSE COALESCE(s.neighborhood_id, p.neighborhood_id) END, "
            "CASE WHEN s.use = '' THEN 'DOMESTIC' ELSE s.use END, o.system_material, "
            "o.customer_material, o.connector, o.system_was_lead, o.system_below_lead, "
            "s.system_in, s.customer_in, s.installed_year, o.category, o.decision_id, "
            f"{self.effective}, o.validation, o.in_conflict, {self.batch_id} "
            "FROM intake_stage s CROSS JOIN standing_outcome o "
            "LEFT JOIN intake_shared h ON h.row = s.row "
            f"LEFT JOIN {PREMISE} p ON p.id = h.premise_id "
            f"WHERE o.outcome = s.outcome AND {OPEN} ORDER BY s.row"
        )

    def _write_evidence(self, line: str, source: str, where: str, order: str) -> None:
        note = f"CASE WHEN s.notes <> '' AND c.id = {_NOTED} THEN s.notes ELSE '' END"
        bulk.execute(
            f"INSERT INTO {EVIDENCE} (line_id, portion, material, basis, era, points_seen, "
            "observed_on, installed_on, installed_year, diameter_in, place, every_earlier_pipe, "
            "below_lead, resolves, source, note, recorded_at, recorded_by, batch_id, row_number, "
            f"content_key, fact_code, counts_from) SELECT {line}, c.portion, c.material, c.basis, "
            "c.era, c.points_seen, c.observed_on, c.installed_on, c.installed_year, "
            "c.diameter_in, '', FALSE, FALSE, "
            f"'', c.source, {note}, {bulk.typed('%s', 'timestamptz')}, "
            f"{bulk.typed('%s', 'text')}, {self.batch_id}, s.row, "
            "c.content_key, c.fact_code, c.counts_from "
            f"FROM {source} WHERE {where} ORDER BY {order}",
            [self.moment, self.by],
        )

    def write_changes(self) -> None:
        """Write fresh evidence and corrections of lines that are known."""
        self.write_fresh()
        self._correct_places()

    def write_fresh(self) -> None:
        """Write fresh evidence of lines that are known, and take up lines that came back."""
        bulk.execute(
            f"UPDATE {LINE} AS l SET batch_id = {self.batch_id}, given_up = FALSE "
            "FROM intake_back b WHERE b.line_id = l.id"
        )
        self._write_evidence(
            "f.line_id",
            "intake_fresh f CROSS JOIN intake_stage s CROSS JOIN intake_said c",
            "s.row = f.row AND c.id = f.said",
            "f.line_id, f.row, f.said",
        )
        measured = "COALESCE(s.system_in, s.customer_in, s.installed_year) IS NOT NULL"
        if not bulk.number(f"SELECT EXISTS (SELECT 1 FROM intake_stage s WHERE {measured})"):
            return
        bulk.execute(
            f"UPDATE {LINE} AS l SET system_nominal_in = COALESCE(s.system_in, "
            "l.system_nominal_in), customer_nominal_in = COALESCE(s.customer_in, "
            "l.customer_nominal_in), installed_year = COALESCE(s.installed_year, l.installed_year) "
            "FROM intake_fresh f JOIN intake_stage s ON s.row = f.row WHERE f.line_id = l.id "
            f"AND {measured}"
        )

    def _correct_places(self) -> None:
        bulk.execute(
            "INSERT INTO services_inventory_premisechange (premise_id, before, after, "
            "recorded_at, recorded_by, batch_id) SELECT c.premise_id, "
            f"{bulk.typed('c.before', 'jsonb')}, {bulk.typed('c.after', 'jsonb')}, "
            f"{bulk.typed('%s', 'timestamptz')}, {bulk.typed('%s', 'text')}, {self.batch_id} "
            "FROM intake_correct c ORDER BY c.row",
            [self.moment, self.by],
        )
        sets = ", ".join(f"{name} = COALESCE(c.{name}, p.{name})" for name in PLACE[:-1])
        moved = "CASE WHEN c.latitude IS NULL THEN {0}.neighborhood_id ELSE c.neighborhood_id END"
        bulk.execute(
            f"UPDATE {PREMISE} AS p SET {sets}, neighborhood_id = {moved.format('p')} "
            "FROM intake_correct c WHERE c.premise_id = p.id"
        )
        bulk.execute(
            f"UPDATE {LINE} AS l SET location_id = COALESCE(c.location_id, l.location_id), "
            "use = COALESCE(c.use, l.use) FROM intake_correct c WHERE c.line_id = l.id "
            "AND (c.location_id IS NOT NULL OR c.use IS NOT NULL)"
        )
        bulk.execute(
            f"UPDATE {LINE} AS l SET neighborhood_id = c.neighborhood_id FROM intake_correct c "
            "WHERE c.premise_id = l.premise_id AND c.latitude IS NOT NULL "
            "AND l.neighborhood_id IS DISTINCT FROM c.neighborhood_id"
        )

    def lines_to_derive(self) -> list[int]:
        """Return the known lines that have fresh evidence or came back.

        Where the file is true since a past day, its new lines as well: another rule may have been
        in force then.
        """
        new = f" UNION SELECT id FROM {LINE} WHERE batch_id = {self.batch_id}" if self.since else ""
        rows = bulk.stream(
            f"SELECT line_id FROM intake_fresh UNION SELECT line_id FROM intake_back{new}"
        )
        return [pk for (pk,) in rows]

    def evidence_range(self, before: int) -> tuple[int | None, int | None]:
        """Return the first and last id of the batch's evidence, given the highest id before it."""
        own = f"FROM {EVIDENCE} WHERE id > {before} AND batch_id = {self.batch_id} ORDER BY id"
        ends = (f"SELECT (SELECT id {own}{order} LIMIT 1)" for order in ("", " DESC"))
        first, last = (bulk.number(end) or None for end in ends)
        return first, last
