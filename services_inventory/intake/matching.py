"""Which line of the record each staged row speaks of: set-wise, and a question where unsure.

In order: the location identifier; the address with its unit; a line within a few meters with
the same house number; else a question with scored candidates, unless nothing in the record
resembles the row, and then the line is new. What a person once decided is applied again.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from hashlib import blake2b

from django.conf import settings

from .. import bulk
from ..models import MatchDecision, MatchQuestion, MatchUse, ServiceLine
from .recording import MADE

NEAR_M = 5.0
METERS_A_DEGREE = 111_195.0  # of latitude: mean Earth radius 6,371,008.8 m
STREETS_ALIKE = 85.0
MOST_QUESTIONS = 20_000
MOST_CANDIDATES = 8
MOST_IN_RANGE = 40
ELSEWHERE = "is in the record already, under another identifier"
FILLS_ONLY = 2  # how sure a match is that a person made: what is known of the place stays
LINE = "services_inventory_serviceline"
PREMISE = "services_inventory_premise"
OPEN = (
    "NOT EXISTS (SELECT 1 FROM intake_match m WHERE m.row = s.row) "
    "AND NOT EXISTS (SELECT 1 FROM intake_held h WHERE h.row = s.row)"
)


@dataclass
class Question:
    """A row that a person decides about, with the lines that it may belong to."""

    row: int
    given: dict
    reason: str
    candidates: dict[int, dict] = field(default_factory=dict)
    taken_id: bool = False
    is_range: bool = False

    @property
    def given_key(self) -> str:
        """What a decision is remembered by."""
        return given_key(self.given)


def given_key(given: dict) -> str:
    """Return what names a row in every file: its identifier and address, or its position."""
    parts = [given["location_id"], given["address_key"] or given["address"]]
    if not given["address_key"] and given["latitude"] is not None:
        parts.append(f"{given['latitude']:.5f} {given['longitude']:.5f}")
    text = "|".join(parts)
    if len(text) <= 200:
        return text
    return f"{text[:180]}|{blake2b(text.encode(), digest_size=8).hexdigest()}"


def match(
    known: Iterable[tuple],
    *,
    record_is_empty: bool,
    uses: list[tuple[int, int]],
    rows_of: Callable[[Iterable[str]], dict[str, int]],
) -> list[Question]:
    """Fill `intake_match` (row, line, premise), and return the rows that a person decides.

    Decided rows are matched, or stay new; undecided ones are held in `intake_held`.

    Parameters
    ----------
    known : (row, line, premise, 1) of rows that were not staged, as they say nothing new
    uses : takes up (row, decision) of the rows that were matched as a person decided
    rows_of : tells which row that is in none of these names a line, by its identifier
    """
    bulk.stage("intake_match", _MATCH, ())
    bulk.stage("intake_shared", _SHARED, ())
    bulk.stage("intake_also", _ALSO, ())
    if record_is_empty:
        return []
    bulk.execute(
        "INSERT INTO intake_match (row, line_id, premise_id, sure) "
        f"SELECT s.row, l.id, l.premise_id, 1 FROM intake_stage s CROSS JOIN {LINE} l "
        "WHERE l.location_id = s.line_key "
        "AND NOT EXISTS (SELECT 1 FROM intake_held h WHERE h.row = s.row)"
    )
    _forget_given_up()
    bulk.index("intake_match")
    questions = {question.row: question for question in _reused_identifiers()}
    matched = bulk.number("SELECT count(*) FROM intake_match")
    bulk.fill("intake_match", [name for name, _ in _MATCH], known)
    if matched < bulk.number("SELECT count(*) FROM intake_stage"):
        _match_others(questions, rows_of)
    return _decided(list(questions.values()), uses)


_MATCH = (("row", "KEY"), ("line_id", "INTEGER"), ("premise_id", "INTEGER"), ("sure", "INTEGER"))
_ALSO = (("row", "INTEGER"), ("line_id", "INTEGER"))
_SHARED = (("row", "KEY"), ("premise_id", "INTEGER"), ("first_row", "INTEGER"))


def _match_others(questions: dict[int, Question], rows_of: Callable) -> None:
    """Match rows whose identifier is not in the record, or that have none."""
    _by_address()
    for question in (*_several_at_the_address(), *_near(), *_like_addresses()):
        known = questions.setdefault(question.row, question)
        known.candidates.update(question.candidates)
    _hold_lines_named_twice(rows_of)


_GIVEN = (
    "s.row, s.given_id, s.address, s.address_key, s.latitude, s.longitude, l.id, l.location_id, "
    "p.address, p.address_key, p.latitude, p.longitude"
)


def _questions(rows: Iterable[tuple], reason: str, **more) -> Iterator[Question]:
    """Make one question a row out of (row, candidate) pairs in the order of `_GIVEN`."""
    found: dict[int, Question] = {}
    for values in rows:
        row, location_id, address, key, latitude, longitude, *line = values
        if row not in found:
            given = {
                "location_id": location_id, "address": address, "address_key": key,
                "latitude": latitude, "longitude": longitude,
            }  # fmt: skip
            found[row] = Question(row, given, reason.format(*values), **more)
        found[row].candidates[line[0]] = _candidate(found[row].given, line)
    yield from found.values()


def _candidate(given: dict, line: list) -> dict:
    from rapidfuzz import fuzz

    line_id, location_id, address, key, latitude, longitude = line
    meters = None
    if None not in (latitude, longitude, given["latitude"], given["longitude"]):
        meters = _meters(given["latitude"], given["longitude"], latitude, longitude)
    alike = fuzz.ratio(given["address_key"], key) if given["address_key"] and key else 0.0
    nearness = 0.0 if meters is None else max(0.0, 100.0 - meters)
    return {
        "line_id": line_id,
        "location_id": location_id,
        "address": address,
        "score": round(max(alike, nearness if not given["address_key"] else 0.0), 1),
        "meters": None if meters is None else round(meters, 1),
    }


def _meters(south: float, west: float, north: float, east: float) -> float:
    across = (east - west) * math.cos(math.radians((south + north) / 2))
    return math.hypot(north - south, across) * METERS_A_DEGREE


def _reused_identifiers() -> list[Question]:
    """Rows whose identifier belongs to another address in the record."""
    rows = bulk.stream(
        f"SELECT {_GIVEN} FROM intake_match m JOIN intake_stage s ON s.row = m.row "
        f"JOIN {PREMISE} p ON p.id = m.premise_id JOIN {LINE} l ON l.id = m.line_id "
        "WHERE s.address_key <> '' AND p.address_key <> '' AND s.address_key <> p.address_key "
        "AND NOT (s.street_key = p.street_key AND s.house_number = p.house_number "
        "AND (p.unit = '' OR s.unit = '') AND s.range_to IS NULL)"
    )
    reason = (
        "The identifier {1} stands for {8} in the record, but this row gives it to {2}. "
        "Correct the identifier, or decide in the match queue."
    )
    found = list(_questions(list(rows), reason, taken_id=True))
    _forget_match(question.row for question in found)
    return found


def _forget_given_up() -> None:
    """Let a row whose identifier stood for what was no line of its own be matched otherwise."""
    rows = bulk.stream(
        f"SELECT m.row FROM {LINE} l CROSS JOIN intake_match m "
        "WHERE l.given_up AND m.line_id = l.id"
    )
    _forget_match([row for (row,) in rows])


def _forget_match(rows: Iterable[int]) -> None:
    rows = list(rows)
    if not rows:
        return
    bulk.stage("intake_undone", [("row", "KEY")], ((row,) for row in rows))
    bulk.execute("DELETE FROM intake_match WHERE row IN (SELECT row FROM intake_undone)")
    bulk.drop("intake_undone")


def _by_address() -> None:
    """Match by address and unit where that leaves one line, and its identifier doesn't differ."""
    bulk.execute(
        "INSERT INTO intake_match (row, line_id, premise_id, sure) "
        f"SELECT s.row, min(l.id), min(p.id), 0 FROM intake_stage s CROSS JOIN {PREMISE} p "
        f"CROSS JOIN {LINE} l WHERE {OPEN} AND s.address_key <> '' "
        "AND p.address_key = s.address_key AND l.premise_id = p.id AND l.category IS NOT NULL "
        f"AND (s.given_id = '' OR l.location_id LIKE '{MADE}%%') "
        "AND (s.use = '' OR s.use = l.use) GROUP BY s.row HAVING count(*) = 1"
    )


def _several_at_the_address() -> list[Question]:
    """Rows at an address of the record where it is not clear which line they mean."""
    bulk.execute(
        "INSERT INTO intake_shared (row, premise_id) "
        f"SELECT s.row, min(p.id) FROM intake_stage s CROSS JOIN {PREMISE} p "
        f"CROSS JOIN {LINE} l WHERE {OPEN} AND s.address_key <> '' "
        "AND p.address_key = s.address_key AND l.premise_id = p.id GROUP BY s.row"
    )
    rows = bulk.stream(
        f"SELECT {_GIVEN} FROM intake_stage s CROSS JOIN {PREMISE} p CROSS JOIN {LINE} l "
        f"WHERE {OPEN} AND s.address_key <> '' AND p.address_key = s.address_key "
        "AND l.premise_id = p.id AND l.category IS NOT NULL AND (s.use = '' OR s.use = l.use)"
    )
    reason = (
        f"{{8}} {ELSEWHERE} or with several lines. "
        "Decide in the match queue whether this row means one of them."
    )
    return list(_questions(list(rows), reason))


def _near() -> list[Question]:
    """Match rows without identifier to the one line near by with their house number."""
    reach = getattr(settings, "INTAKE_NEAR_M", NEAR_M)
    degrees = reach / METERS_A_DEGREE
    across = f"{degrees} / 0.3"  # as far as 72 degrees north; the distance is judged below
    rows = list(
        bulk.stream(
            f"SELECT {_GIVEN}, p.id, s.house_number, p.house_number FROM intake_stage s "
            f"CROSS JOIN {PREMISE} p CROSS JOIN {LINE} l WHERE {OPEN} "
            "AND s.given_id = '' AND s.latitude IS NOT NULL "
            f"AND p.latitude BETWEEN s.latitude - {degrees} AND s.latitude + {degrees} "
            f"AND p.longitude BETWEEN s.longitude - {across} AND s.longitude + {across} "
            "AND l.premise_id = p.id AND l.category IS NOT NULL "
            "AND (s.use = '' OR s.use = l.use)"
        )
    )
    near: dict[int, list[tuple]] = {}
    for row in rows:
        if _meters(row[4], row[5], row[10], row[11]) <= reach:
            near.setdefault(row[0], []).append(row)
    sure, unsure = [], []
    for number, found in near.items():
        alike = [row for row in found if row[13] is not None and row[13] == row[14]]
        if len(alike) == 1:
            sure.append((number, alike[0][6], alike[0][12], 0))
        elif alike or not found[0][3]:
            unsure += [row[:12] for row in alike or found]
    bulk.fill("intake_match", [name for name, _ in _MATCH], sure)
    return list(
        _questions(
            unsure,
            "There is a line of the record within a few meters, and nothing else in the row says "
            "whether it means that line. Decide in the match queue.",
        )
    )


def _like_addresses() -> list[Question]:
    """Rows without identifier whose address is nearly one of the record's, or a range over it."""
    streets = list(_streets_alike())
    bulk.stage("intake_streets", [("given", "TEXT"), ("known", "TEXT")], streets)
    bulk.index("intake_streets", "given")
    candidates = (
        f"SELECT {_GIVEN} FROM intake_stage s CROSS JOIN intake_streets k CROSS JOIN {PREMISE} p "
        f"CROSS JOIN {LINE} l WHERE {OPEN} AND s.given_id = '' AND k.given = s.street_key "
        "AND p.street_key = k.known AND l.premise_id = p.id AND l.category IS NOT NULL "
    )
    same_number = bulk.stream(
        candidates + "AND k.given <> k.known AND p.house_number = s.house_number"
    )
    like = (
        "{2} is not in the record, but {8} is. Correct the spelling, or decide in the match "
        "queue whether they are the same."
    )
    questions = list(_questions(list(same_number), like))
    covered = bulk.stream(
        candidates + "AND s.range_to IS NOT NULL AND k.given = k.known "
        "AND p.house_number BETWEEN s.house_number AND s.range_to"
    )
    several = (
        "{2} is a range of house numbers, and {8} of it is in the record. Decide in the match "
        "queue which lines it means."
    )
    questions += _questions(list(covered), several, is_range=True)
    bulk.drop("intake_streets")
    return questions


def _streets_alike() -> Iterator[tuple[str, str]]:
    """Yield (street of the file, street of the record) that are the same or nearly so."""
    from rapidfuzz import fuzz, process

    given = {
        street
        for (street,) in bulk.stream(
            f"SELECT DISTINCT s.street_key FROM intake_stage s WHERE {OPEN} "
            "AND s.given_id = '' AND s.street_key <> ''"
        )
    }
    if not given:
        return
    known = [street for (street,) in bulk.stream(f"SELECT DISTINCT street_key FROM {PREMISE}")]
    there = set(known)
    for street in sorted(given):
        if street in there:
            yield street, street
            continue
        alike = process.extract(
            street, known, scorer=fuzz.ratio, score_cutoff=STREETS_ALIKE, limit=3
        )
        for other, _, _ in alike:
            yield street, other


def _hold_lines_named_twice(rows_of: Callable) -> None:
    """Hold rows that were matched to one line by different ways: nobody knows which is right."""
    found = list(
        bulk.stream(
            f"SELECT l.location_id, l.id, l.premise_id FROM intake_match m CROSS JOIN {LINE} l "
            "WHERE m.sure = 0 AND l.id = m.line_id"
        )
    )
    if not found:
        return
    by_name = {name: (line, premise) for name, line, premise in found}
    also = [(row, *by_name[name], 1) for name, row in rows_of(by_name).items()]
    bulk.fill("intake_match", [name for name, _ in _MATCH], also)
    bulk.index("intake_match", "line_id")
    twice = bulk.stream(
        "SELECT m.row, o.row FROM intake_match m CROSS JOIN intake_match o "
        "WHERE m.sure = 0 AND o.line_id = m.line_id AND o.row <> m.row"
    )
    held: dict[int, int] = {}
    for row, other in list(twice):
        held.setdefault(row, other)
        held.setdefault(other, row)
    hold(
        (row, f"The same line is in row {other} too, written otherwise. Keep the right one.")
        for row, other in held.items()
    )
    _forget_match(held)


def hold(rows: Iterable[tuple[int, str]]) -> None:
    """Hold rows (number, reason), besides those that are held already."""
    bulk.stage("intake_more_held", [("row", "INTEGER"), ("reason", "TEXT")], rows)
    bulk.execute(
        "INSERT INTO intake_held (row, reason) SELECT row, min(reason) FROM intake_more_held n "
        "WHERE NOT EXISTS (SELECT 1 FROM intake_held h WHERE h.row = n.row) GROUP BY row"
    )
    bulk.drop("intake_more_held")


def _decided(questions: list[Question], uses: list[tuple[int, int]]) -> list[Question]:
    """Apply what was decided before, hold the rest, and return what is still open.

    Which decision was used for which row goes into `uses`. A range may mean several lines; the
    first is matched, and the others hear what the row says by `intake_also`.
    """
    decisions = _decisions() if questions else {}
    open_questions, held = [], []
    answers: list[tuple[Question, MatchDecision, list]] = []
    for question in questions:
        decision = decisions.get(question.given_key)
        if decision is None:
            open_questions.append(question)
            held.append((question.row, question.reason))
        elif (lines := list(decision.lines.all())) or not question.taken_id:
            answers.append((question, decision, lines))
        else:
            held.append((question.row, question.reason))
    hold(held)
    _answer(answers, uses)
    _settle_given_up(uses)
    return open_questions


def _answer(answers: list[tuple[Question, MatchDecision, list]], uses: list) -> None:
    """Match rows to the lines that a person said; without any, the row is a line of its own."""
    matched, also, used = [], [], set(uses)
    for question, decision, lines in answers:
        if (question.row, decision.pk) not in used:
            uses.append((question.row, decision.pk))
        if lines:
            fills_only = 1 if question.taken_id or question.given["location_id"] else FILLS_ONLY
            matched.append((question.row, lines[0].pk, lines[0].premise_id, fills_only))
            also += [(question.row, line.pk) for line in lines[1:]]
    bulk.fill("intake_match", [name for name, _ in _MATCH], matched)
    bulk.fill("intake_also", [name for name, _ in _ALSO], also)


def _settle_given_up(uses: list[tuple[int, int]]) -> None:
    """Match rows whose identifier stood for what was no line of its own, or hold them.

    They are what a person said since: another line, or a line of their own after all, which
    comes back then.
    """
    rows = bulk.stream(
        "SELECT s.row, s.given_id, s.address, s.address_key, s.latitude, s.longitude, l.id "
        f"FROM {LINE} l CROSS JOIN intake_stage s "
        f"WHERE l.given_up AND s.line_key = l.location_id AND {OPEN}"
    )
    names = ("location_id", "address", "address_key", "latitude", "longitude")
    found = [(Question(row, dict(zip(names, given, strict=True)), ""), line)
             for row, *given, line in list(rows)]  # fmt: skip
    decisions = _decisions() if found else {}
    own = ServiceLine.objects.in_bulk([line for _, line in found])
    held, answers = [], []
    for question, line in found:
        decision = decisions.get(question.given_key)
        if decision is None:
            held.append((question.row, _GIVEN_UP.format(own[line].location_id)))
        else:
            answers.append((question, decision, list(decision.lines.all()) or [own[line]]))
    hold(held)
    _answer(answers, uses)


_GIVEN_UP = (
    "A person said that {} is no line of its own. Give the row the identifier of the line that it "
    "means, or say in the match queue which it is."
)


def _decisions() -> dict[str, MatchDecision]:
    """The decision that stands about each row, by what it is remembered by."""
    decided = MatchQuestion.objects.filter(decision__isnull=False).select_related("decision")
    decided = decided.prefetch_related("decision__lines").order_by("decision_id")
    return {question.given_key: question.decision for question in decided}


def uses_write(batch, uses: list[tuple[int, int]]) -> None:
    """Keep which rows were taken in as a person decided, so that they can follow another answer."""
    MatchUse.objects.bulk_create(
        (MatchUse(decision_id=pk, batch=batch, row_number=row) for row, pk in uses),
        batch_size=2000,
    )


def questions_write(batch, questions: list[Question]) -> int:
    """Put open questions into the match queue, each once until it is decided."""
    asked = set(MatchQuestion.objects.waiting().values_list("given_key", flat=True))
    fresh = {q.given_key: q for q in reversed(questions) if q.given_key not in asked}
    in_order = sorted(fresh.values(), key=lambda question: question.row)
    asking = (_asked(batch, question) for question in in_order[:MOST_QUESTIONS])
    MatchQuestion.objects.bulk_create(asking, batch_size=2000)
    return len(fresh)


def _asked(batch, question: Question) -> MatchQuestion:
    """Return the question as it is kept: the best candidates first, those of a range in order."""
    found = sorted(
        question.candidates.values(),
        key=lambda candidate: (-candidate["score"], candidate["meters"] or 0.0),
    )
    scores = [candidate["score"] for candidate in found] + [0.0]
    kept = found[: MOST_IN_RANGE if question.is_range else MOST_CANDIDATES]
    return MatchQuestion(
        batch=batch,
        row_number=question.row,
        given_key=question.given_key,
        given={
            **question.given,
            "reason": question.reason,
            "is_range": question.is_range,
            "left_out": len(found) - len(kept),
        },
        candidates=kept,
        score=scores[0],
        clear=not question.is_range and scores[0] > scores[1],
    )
