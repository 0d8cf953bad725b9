"""Keeping what the utility's words stand for, and taking such an answer back."""

from collections.abc import Iterator, Mapping
from datetime import datetime

from django.db import transaction

from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused

from ..intake.checking.own import has_word, word_key
from ..intake.columns import ColumnMap, made_of
from ..intake.reading import UnreadableFile
from ..models import Batch, Evidence, OwnWord
from ..models.evidence import PORTIONS
from ..queries.batches import table_of
from ..queries.own_words import CHOICES, words_asked
from .batches import batch_open_again, batch_queue
from .evidence import evidence_misread, first_day_counted
from .said_categories import said_take_back
from .standings import standings_derive

CHUNK = 2_000
_OF_EVIDENCE = (
    "MATERIAL", "CONNECTOR", "BASIS", "INSTALLED", "DATE", "WAS_LEAD", "LEAD_CONN", "HAS_CONN",
)  # fmt: skip


@transaction.atomic
def words_answer(
    *, batch: Batch, answers: Mapping[int, str], reason: str, by: str, at: datetime
) -> Batch:
    """Keep what words of a checked file stand for, and have the file checked with them.

    Parameters
    ----------
    answers : {place in `words_asked`: code}; words without an answer stay asked

    Returns
    -------
    Batch
        The one that is checked: the same, or another of the same file where that was taken in.

    Raises
    ------
    Refused: nothing is answered, an answer is none of the choices, or the file was checked anew.
    """
    asked = {one["place"]: one for one in words_asked(batch)}
    if not answers:
        raise Refused("Say of at least one word what it stands for.")
    for place, code in answers.items():
        if place not in asked or code not in dict(CHOICES[asked[place]["kind"]]):
            raise Refused("The file was checked anew meanwhile; look at its words again.")
    for place, code in answers.items():
        one = asked[place]
        said = {
            "heading": one["heading"][:200], "word": one["word"][:200], "code": code,
            "reason": reason.strip()[:300], "file_name": batch.file_name, "said_by": by,
            "said_at": at,
        }  # fmt: skip
        key = {
            "heading_key": word_key(one["heading"])[:200], "kind": one["kind"],
            "word_key": word_key(one["word"])[:200],
        }  # fmt: skip
        if not OwnWord.objects.get_or_create(withdrawn_at=None, **key, defaults=said)[1]:
            raise Refused(
                f"Somebody said meanwhile what “{one['word']}” stands for. Check the file again."
            )
    return file_check_again(batch=batch, by=by, at=at)


def file_check_again(*, batch: Batch, by: str, at: datetime) -> Batch:
    """Have a file checked with the words as they stand now; one that was taken in, as another.

    Raises
    ------
    Refused: it is being read, or is no file of lines.
    """
    if batch.kind != "INTAKE" or batch.is_running:
        raise Refused("This file can't be checked now; see how far it is.")
    before = {"before": batch.counts, "before_words": len(batch.result.get("words", ()))}
    if batch.state in (Batch.State.CHECKED, Batch.State.STOPPED):
        batch.parameters = {**batch.parameters, **before}
        batch.save(update_fields=["parameters"])
    else:
        parameters = {**batch.parameters, **before, "step": ""}
        batch = batch_open_again(batch=batch, parameters=parameters, by=by, at=at)
    batch_queue(batch=batch, step="CHECK")
    return batch


@transaction.atomic
def word_withdraw(*, word: OwnWord, reason: str, by: str, at: datetime) -> dict[str, int]:
    """Take an answer back as never true, with every statement that rested on it.

    Returns
    -------
    dict
        `files` that were read by it, and how many statements were `taken_back`. What such a word
        told of a place, not of a pipe, stays until a file says otherwise. Files that wait to be
        taken in are checked again.

    Raises
    ------
    Refused: no reason is given, or it was taken back before.
    """
    take_back(row=word, reason=reason, by=by, at=at)
    read_by_it = [
        batch
        for batch in Batch.objects.filter(
            kind="INTAKE", state__in=("APPLIED", "CHECKED"), withdrawn_by=None
        )
        if word.pk in batch.result.get("own_words", ())
    ]
    batches = [batch for batch in read_by_it if batch.state == Batch.State.APPLIED]
    rested = [row for batch in batches for row in _rested(word, batch)]
    if word.kind == "CATEGORY":
        for batch in batches:
            said_take_back(batch, _rows_with(word, batch)[0])
    note = f"“{word.word}” in {word.heading} stands for something else: {reason.strip()}"
    evidence_misread(rows=rested, why=note, by=by, at=at)
    if rested:
        since = min(map(first_day_counted, rested))
        standings_derive(
            line_ids={row.line_id for row in rested}, recorded_at=at, by=by, since=since
        )
    for batch in read_by_it:
        if batch.state == Batch.State.CHECKED:  # what it shows is no longer what it would make
            file_check_again(batch=batch, by=by, at=at)
    done = {"files": len(batches), "taken_back": len(rested)}
    OwnWord.objects.filter(pk=word.pk).update(followed=done)
    return done


def _rested(word: OwnWord, batch: Batch) -> Iterator[Evidence]:
    """Yield what a file recorded of the portions that the word speaks of, where it stands."""
    if word.kind not in _OF_EVIDENCE or batch.first_evidence_id is None:
        return
    rows, portions = _rows_with(word, batch)
    recorded = Evidence.objects.filter(
        pk__range=(batch.first_evidence_id, batch.last_evidence_id), batch=batch,
        portion__in=portions, withdraws=None, withdrawn_by=None,
    )  # fmt: skip
    yield from (row for row in recorded.order_by("id").iterator(CHUNK) if row.row_number in rows)


def _rows_with(word: OwnWord, batch: Batch) -> tuple[set[int], set[str]]:
    """Return the rows of a file that hold the word, and the portions that its column speaks of."""
    try:
        table = table_of(batch)
    except (UnreadableFile, OSError, ValueError) as error:
        raise Refused(
            f"The file of batch {batch.pk} can't be read any more, so nobody can tell what rested "
            f"on the word. Withdraw that batch instead. {error}"
        ) from error
    made = made_of(ColumnMap.from_dict(batch.result["columns"]), table.header)
    places = {
        at: field
        for field, at in made.columns.positions(made.header).items()
        if word_key(made.header[at]) == word.heading_key
    }
    rows = {
        number
        for row in table.rows()
        for number, cells in made.rows([row])
        if any(at < len(cells) and has_word(cells[at], word.word_key) for at in places)
    }
    sides = {name for name, _ in PORTIONS}
    named = {name for name in sides for field in places.values() if name.lower() in field}
    return rows, named or sides
