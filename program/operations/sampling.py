"""Tap sampling: periods, a laboratory's file, results set aside, what was learned of a period."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import IO

from django.db import transaction
from django.utils.timezone import localtime

from program.domain.deadlines import SampleResult
from program.domain.sampling_tiers import TierVerdict
from program.laboratory import EARLIEST_YEAR, LaboratoryRefused, Reading, Result, doubts, results_in
from program.models import (
    Exceedance,
    Invalidation,
    Notice,
    ResultFile,
    SamplingPeriod,
    TapResult,
)
from program.notices.templates_text import NoticeKind
from program.queries.sampling import METALS, ranked, standing_results
from program.queries.sampling_sites import verdicts_of
from program.rules import rules_in_force
from services_inventory.domain.addresses import normalize
from services_inventory.domain.days import day_told
from services_inventory.intake.checking.problems import RowProblem
from services_inventory.intake.reading import UnreadableFile, open_table
from services_inventory.models import Document, ServiceLine
from services_inventory.operations.documents import document_store
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused

LONGEST_PERIOD_DAYS = 9 * 366  # the longest reduced monitoring that anybody asks for
YEARS_AHEAD = 10  # of a period that is recorded; proposed here
PLACES_AT_ONCE = 5_000
FILE_KINDS = ("text/csv", "application/zip")
FILE_LIMIT_BYTES = 10 * 1024**2


class RowsRefused(Refused):
    """Rows of a file can't be taken in; `problems` names each."""

    def __init__(self, problems: list[RowProblem]):
        self.problems = problems
        number = len({problem.row_number for problem in problems})
        many = "1 row" if number == 1 else f"{number:,} rows"
        super().__init__(f"Nothing was taken in: {many} can't be. Mend the file and send it again.")


class Doubtful(Refused):
    """What a file says looks like a slip; a person may confirm it."""


@transaction.atomic
def period_record(
    *, first_day: date, last_day: date, required: int, reduced: bool, by: str, at: datetime
) -> SamplingPeriod:
    """Record a tap monitoring period.

    Raises
    ------
    Refused: its days are the wrong way round or too many, or overlap another's.
    """
    if last_day < first_day:
        raise Refused("The last day lies before the first.")
    if not EARLIEST_YEAR <= first_day.year <= localtime(at).year + YEARS_AHEAD:
        raise Refused(f"{day_told(first_day)} can't be right. Look at the year.")
    if (last_day - first_day).days > LONGEST_PERIOD_DAYS:
        raise Refused("A period of more than nine years can't be right. Look at the years.")
    if not 0 < required <= 10_000:
        raise Refused("Give the number of sites, from 1 to 10,000.")
    standing = SamplingPeriod.objects.standing()
    other = standing.filter(first_day__lte=last_day, last_day__gte=first_day).first()
    if other:
        raise Refused(
            f"It overlaps the period from {day_told(other.first_day)} to "
            f"{day_told(other.last_day)}. Take that back first if it is wrong."
        )
    made = SamplingPeriod.objects.create(
        first_day=first_day, last_day=last_day, required=required, reduced=reduced,
        recorded_by=by, recorded_at=at,
    )  # fmt: skip
    exceedances_look(period=made, by=by, at=at)
    return made


@transaction.atomic
def period_withdraw(*, period: SamplingPeriod, reason: str, by: str, at: datetime) -> None:
    """Take a period back; its results stay, and count again in a period of their days.

    Raises
    ------
    Refused: no reason is given, it was taken back, or an exceedance stands on it.
    """
    if Exceedance.objects.standing().filter(period=period).exists():
        raise Refused("An exceedance stands on this period. Take that back first.")
    take_back(row=period, reason=reason, by=by, at=at)


def laboratory_read(*, path: Path, unit: str, purpose: str, as_of: date) -> Reading:
    """Read a laboratory's file.

    Raises
    ------
    Refused: it is no table, or lacks a column that results need.
    """
    try:
        table = open_table(path)
        return results_in(table.header, table.rows(), unit=unit, purpose=purpose, as_of=as_of)
    except (LaboratoryRefused, UnreadableFile) as error:
        raise Refused(str(error)) from error


@transaction.atomic
def results_take_in(
    *, reading: Reading, file: IO, name: str, received_on: date, confirmed: bool, by: str,
    at: datetime, today: date,
) -> ResultFile:  # fmt: skip
    """Record all results of a file, owe the letters to the households, look at the percentile.

    file : open, as it was read; it is kept
    received_on : the day on which the system learned of them
    confirmed : somebody looked at what seems to be a slip of the unit, and it is right

    Raises
    ------
    Refused: the file was taken in before, or the day lies ahead or before a sample's.
    RowsRefused: rows can't be read, or name no line, or are on record already.
    Doubtful: what it says looks like a slip, and nobody confirmed it.
    DocumentRefused: the file is too large to be kept, or of another kind than it says.
    """
    document = document_store(
        file=file, name=name, kind="LABORATORY", by=by, at=at, allowed=FILE_KINDS,
        limit_bytes=FILE_LIMIT_BYTES,
    )  # fmt: skip
    _refuse_file(document, reading, received_on, today)
    lines = _lines_named(reading.results)
    problems = [*reading.faults, *_unplaced(reading.results, lines), *_repeats(reading, lines)]
    if problems:
        raise RowsRefused(sorted(problems, key=lambda one: one.row_number))
    if (asked := doubts(reading.results)) and not confirmed:
        raise Doubtful(" ".join(asked))
    kept = ResultFile.objects.create(
        document=document, received_on=received_on,
        rows=len({result.row for result in reading.results}), notes=_notes(reading),
        recorded_by=by, recorded_at=at,
    )  # fmt: skip
    made = _keep(kept, reading.results, lines, today)
    Notice.objects.bulk_create(_letters(kept, made, by), batch_size=2_000)
    _look([row.sampled_on for row in made], by, at)
    return kept


def _refuse_file(document: Document, reading: Reading, received_on: date, today: date) -> None:
    if standing := ResultFile.objects.standing().filter(document=document).first():
        raise Refused(
            f"This file was taken in already, received on {day_told(standing.received_on)}."
        )
    if received_on > today:
        raise Refused(f"{day_told(received_on)} lies ahead; give the day it arrived.")
    last = max((result.sampled_on for result in reading.results), default=received_on)
    if last > received_on:
        raise Refused(
            f"A sample was taken on {day_told(last)}, after the results arrived on "
            f"{day_told(received_on)}. Look at both days."
        )
    if not reading.results and not reading.faults:
        raise Refused("The file holds no result of lead or copper.")


def _notes(reading: Reading) -> list[str]:
    """Return what was passed over in a file, a sentence each."""
    found = []
    if reading.left_out:
        found.append(f"Columns that nothing was taken from: {', '.join(reading.left_out)}.")
    if reading.other_analytes:
        found.append(f"Rows of other analytes than lead and copper: {reading.other_analytes:,}.")
    return found


Named = Mapping[tuple[str, str], tuple[ServiceLine | None, str]]


def _lines_named(results: Iterable[Result]) -> Named:
    """Return {(location, address): (line, why there is none)} of what a file names."""
    named = {(result.place, result.address) for result in results}
    places = _by("location_id", {place for place, _ in named if place})
    keys = {address: normalize(address).key for place, address in named if not place}
    at_address = _by("premise__address_key", set(keys.values()) - {""})
    return {
        (place, address): _named(place, address, places, at_address.get(keys.get(address, ""), []))
        for place, address in named
    }


def _by(field: str, values: set[str]) -> dict[str, list[ServiceLine]]:
    found: dict[str, list[ServiceLine]] = {}
    listed = sorted(values)
    for start in range(0, len(listed), PLACES_AT_ONCE):
        some = {f"{field}__in": listed[start : start + PLACES_AT_ONCE]}
        lines = ServiceLine.objects.filter(**some).select_related("premise").order_by("id")
        for line in lines:
            key = line.location_id if field == "location_id" else line.premise.address_key
            found.setdefault(key, []).append(line)
    return found


def _named(place: str, address: str, places: dict, there: list) -> tuple[ServiceLine | None, str]:
    if not place:
        if len(there) > 1:
            return None, f"{address!r} has {len(there)} lines. Give the location identifier."
        return (there[0], "") if there else (None, f"No line is at {address!r}.")
    if place not in places:
        return None, f"No line has the location identifier {place!r}."
    line = places[place][0]
    said, known = normalize(address).number, normalize(line.premise.address).number
    if said and known and said != known:
        return None, (
            f"{place!r} is at {line.premise.address}, but the row says {address}. Which is it?"
        )
    return line, ""


def _unplaced(results: Iterable[Result], lines: Named) -> list[RowProblem]:
    found = {}
    for result in results:
        line, why = lines[result.place, result.address]
        if line is None:
            found[result.row] = RowProblem(result.row, "", result.place or result.address, why)
    return list(found.values())


def _repeats(reading: Reading, lines: Named) -> list[RowProblem]:
    """Return rows that say again what another row, or a file on record, says."""
    keyed: dict[tuple, Result] = {}
    problems = []
    for result in reading.results:
        line, _ = lines[result.place, result.address]
        if line is None:
            continue
        key = (line.pk, result.sampled_on, result.liter, result.metal)
        if key in keyed:
            why = f"Row {keyed[key].row} has the same site, day, liter and metal. Leave one out."
            problems.append(RowProblem(result.row, "", result.written, why))
        keyed.setdefault(key, result)
    days = [day for _, day, *_ in keyed]
    if not days:
        return problems
    standing = standing_results().filter(sampled_on__range=(min(days), max(days)))
    wanted = ("line", "sampled_on", "liter", "metal", "file__received_on")
    for *key, received in standing.values_list(*wanted):
        if found := keyed.get(tuple(key)):
            why = f"It is on record already, from the file received on {day_told(received)}."
            problems.append(RowProblem(found.row, "", found.written, why))
    return problems


def _keep(
    file: ResultFile, results: Iterable[Result], lines: Named, today: date
) -> list[TapResult]:
    rules = rules_in_force()
    placed = [
        (result, line) for result in results if (line := lines[result.place, result.address][0])
    ]
    tiers = _tiers(placed, today, rules)
    rows = [
        TapResult(
            file=file, line=line, row=result.row, sampled_on=result.sampled_on,
            purpose=result.purpose, tier=tiers[line.pk, result.sampled_on].tier,
            tier_reason=tiers[line.pk, result.sampled_on].reason[:200], liter=result.liter,
            metal=result.metal, written=result.written[:60],
            micrograms=_decimal(result.micrograms), below=result.below, number=result.number[:60],
        )
        for result, line in placed
    ]  # fmt: skip
    return TapResult.objects.bulk_create(rows, batch_size=2_000)


def _tiers(placed: list, today: date, rules) -> dict:
    """Return the verdict by line and day; lines sampled on several days are asked for each."""
    rest = {(line.pk, result.sampled_on) for result, line in placed}
    found: dict[tuple[int, date], TierVerdict] = {}
    while rest:
        some = dict(sorted(rest))
        verdicts = verdicts_of(some, today, rules)
        found |= {(pk, day): verdicts[pk] for pk, day in some.items()}
        rest -= set(some.items())
    return found


def _decimal(micrograms: Fraction) -> Decimal:
    return Decimal(micrograms.numerator) / Decimal(micrograms.denominator)


def _letters(file: ResultFile, made: list[TapResult], by: str) -> list[Notice]:
    """Return what households are owed: one letter a site and day, lead first."""
    rules = rules_in_force()
    by_site: dict[tuple, list[TapResult]] = {}
    for row in made:
        by_site.setdefault((row.line_id, row.sampled_on, row.purpose), []).append(row)
    letters = []
    for (line_id, day, purpose), rows in by_site.items():
        if not any(row.metal == "LEAD" for row in rows):
            continue
        fact = SampleResult("", str(line_id), file.received_on, follow_up=purpose == "FOLLOW_UP")
        due = fact.dues(file.received_on, rules)[0]
        letters.append(
            Notice(
                line_id=line_id, kind=NoticeKind.SAMPLE_RESULT.value, due_on=due.due_on,
                rule_id=due.rule_id, how_computed=due.how_computed,
                subject=f"result-{file.pk}-{day}-{purpose[0]}", recorded_by=by,
                values={"sample_date": day.isoformat(), "result": result_told(rows)},
            )
        )  # fmt: skip
    return letters


def result_told(rows: Iterable[TapResult]) -> str:
    """Return a site's results as a letter names them, in no language: symbols and numbers."""
    words = []
    for metal, symbol in (("LEAD", "Pb"), ("COPPER", "Cu")):
        some = sorted((row for row in rows if row.metal == metal), key=lambda row: row.liter)
        if some:
            words.append(f"{symbol} {' / '.join(map(_amount, some))} µg/L")
    return "; ".join(words)


def _amount(row: TapResult) -> str:
    if row.below:
        return f"<{row.micrograms.normalize():f}" if row.micrograms else "<1"
    return f"{row.micrograms.normalize():f}"


@transaction.atomic
def results_withdraw(*, file: ResultFile, reason: str, by: str, at: datetime) -> int:
    """Take a file back with all its results; call off letters that nobody got yet.

    Returns how many letters went out before, whose households should hear of it.

    Raises
    ------
    Refused: no reason is given, or it was taken back before.
    """
    take_back(row=file, reason=reason, by=by, at=at)
    letters = Notice.objects.filter(subject__startswith=f"result-{file.pk}-")
    on = localtime(at).date()
    letters.open().update(withdrawn_on=on, withdrawn_why="The laboratory's file was taken back.")
    return letters.filter(delivered_on__isnull=False).count()


@transaction.atomic
def result_invalidate(
    *, result: TapResult, ground: str, decided_on: date, decision: str, by: str, at: datetime,
    today: date,
) -> Invalidation:  # fmt: skip
    """Set a result aside, so that it no longer counts; it stays readable.

    decision : who decided it and where that stands, such as the State's letter

    Raises
    ------
    Refused: the day can't be, nothing says who decided, or it is set aside already.
    """
    if not decision.strip():
        raise Refused("Say who decided it and where that stands.")
    if not result.sampled_on <= decided_on <= today:
        raise Refused(
            f"The sample was taken on {day_told(result.sampled_on)}; give a day from then to today."
        )
    if result.file.withdrawn_at or result.invalidations.standing().exists():
        raise Refused("This result does not count any more.")
    made = Invalidation.objects.create(
        result=result, ground=ground, decided_on=decided_on, decision=decision.strip()[:300],
        recorded_by=by, recorded_at=at,
    )  # fmt: skip
    _look([result.sampled_on], by, at)
    return made


@transaction.atomic
def invalidation_withdraw(*, aside: Invalidation, reason: str, by: str, at: datetime) -> None:
    """Let a result count again.

    Raises
    ------
    Refused: no reason is given, or it counts already.
    """
    take_back(row=aside, reason=reason, by=by, at=at)
    _look([aside.result.sampled_on], by, at)


def _look(days: list[date], by: str, at: datetime) -> None:
    """Look at the percentile of every period that days may fall in."""
    if days:
        touched = SamplingPeriod.objects.standing()
        for period in touched.filter(first_day__lte=max(days), last_day__gte=min(days)):
            exceedances_look(period=period, by=by, at=at)


def exceedances_look(*, period: SamplingPeriod, by: str, at: datetime) -> None:
    """Start the clocks where a period's results are all in, or it is over, and a metal is above.

    What somebody took back is not recorded by itself again: then it is a person's to record.
    """
    known = set(period.exceedances.values_list("metal", flat=True))
    over = localtime(at).date() > period.last_day
    for metal in METALS.keys() - known:
        found = ranked(period, metal, rules_in_force())
        if found.exceeded and (over or not found.missing):
            exceedance_record(period=period, metal=metal, learned_at=at, by=by, at=at)


@transaction.atomic
def exceedance_record(
    *, period: SamplingPeriod, learned_at: datetime, by: str, at: datetime, metal: str = "LEAD"
) -> Exceedance:
    """Record that the system learned of an exceedance, with the hour from which clocks run.

    Raises
    ------
    Refused: the hour lies ahead or before the period, the results show none, or one
        stands.
    """
    if learned_at > at + timedelta(minutes=1):
        raise Refused("That hour lies ahead; give the hour at which it was learned.")
    if localtime(learned_at).date() < period.first_day:
        raise Refused(
            f"The period begins on {day_told(period.first_day)}; it can't be learned before."
        )
    if period.withdrawn_at or period.exceedances.standing().filter(metal=metal).exists():
        raise Refused("An exceedance of this period is on record already.")
    found = ranked(period, metal, rules_in_force())
    if not found.exceeded:
        raise Refused("By the results on record there is no exceedance in this period.")
    words = f"90th percentile {found.value:g} µg/L of {len(found.samples)}, level {found.level}"
    return Exceedance.objects.create(
        period=period, metal=metal, learned_at=learned_at, found=words, recorded_by=by,
        recorded_at=at,
    )  # fmt: skip
