"""From the record to letters: who prints, what staff filled in, and to which addresses."""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

from django.conf import settings
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import QueryDict
from django.utils import translation
from django.utils.formats import date_format

from program.models import Notice, NoticeReturn, NoticeSlot, Utility
from program.notices.letter_page import Sender
from program.notices.letters import Letter
from program.notices.templates_text import NoticeError, NoticeKind, SlotText, SlotTexts, blocks
from services_inventory.filters import choose
from services_inventory.models import PremiseChange, ServiceLine

LANGUAGES = dict(settings.LANGUAGES)
CHUNK = 2_000
EVERY_KIND = "ALL"
DAYS = ("work_date", "found_date", "received_date", "sample_date", "until_date")
DAY_FORMATS = {"en": "F j, Y"}  # no month is cut short


class SenderIncomplete(NoticeError):
    """What every letter says of the utility is not filled in."""


def sender() -> Sender:
    """Return the utility as letters show it.

    Raises
    ------
    SenderIncomplete: something that every letter says is missing; the message names it.
    """
    utility = Utility.objects.order_by("id").first() or Utility()
    wanted = {
        "name": utility.name,
        "return address": utility.return_address,
        "telephone": utility.phone,
        "website": utility.website,
        "system number (PWSID)": utility.pwsid,
    }
    missing = [name for name, value in wanted.items() if not value.strip()]
    if missing:
        raise SenderIncomplete(
            f"The letters' sender lacks: {', '.join(missing)}. Fill it in under The utility."
        )
    return Sender(
        system_name=utility.name,
        pwsid=utility.pwsid,
        address=tuple(line for line in utility.return_address.splitlines() if line.strip()),
        phone=utility.phone,
        website=utility.website,
        email=utility.email,
    )


def slot_texts() -> SlotTexts:
    """Return what staff filled in; a block that no notice has any more is left out."""
    known = {block.id for block in blocks()}
    return SlotTexts(
        tuple(
            SlotText(
                block=slot.slot,
                language=slot.language,
                text=slot.text,
                kind=None if slot.kind == EVERY_KIND else NoticeKind(slot.kind),
                source=slot.taken_from,
            )
            for slot in NoticeSlot.objects.order_by("id")
            if slot.slot in known
        )
    )


_UNPRINTED = Q(notice_batch__isnull=True) | Q(returned_on__isnull=False)


def to_print(kind: NoticeKind, due_by, lines: str = "") -> QuerySet:
    """Return the open notices of a kind due by a day that are not in an envelope yet.

    Parameters
    ----------
    lines : the filters of the inventory list as an address writes them; empty for every line
    """
    waiting = Notice.objects.open().filter(_UNPRINTED)
    if lines:
        waiting = waiting_at(choose(QueryDict(lines)).condition())
    return waiting.filter(kind=kind.value, due_on__lte=due_by)


def came_back() -> QuerySet:
    """Return the returns after which nobody has put the address right or decided to send again."""
    moved = PremiseChange.objects.filter(
        premise=OuterRef("notice__line__premise"),
        recorded_at__gt=OuterRef("recorded_at"),
        after__has_any_keys=["address", "unit", "city", "postcode"],
    )
    standing = NoticeReturn.objects.filter(withdrawn_at__isnull=True, sent_again__isnull=True)
    return standing.filter(~Exists(moved))


def waiting_at(lines: Q) -> QuerySet:
    """Return the open notices to some lines that are not in an envelope yet."""
    own = ServiceLine.objects.filter(lines).order_by().values("id")
    return Notice.objects.open().filter(_UNPRINTED, line__in=own)


def languages_of(asked_in: str, languages: Sequence[str], ready: Iterable[str]) -> Sequence[str]:
    """Return the languages of one notice: the one its person asked in, if there are words for it.

    Else the ones chosen for the printing.
    """
    return (asked_in,) if asked_in in ready else languages


def letters_of(
    notices: QuerySet,
    languages: Sequence[str],
    dated: date,
    ready: Iterable[str] = (),
    *,
    together: bool = False,
) -> Iterator[Letter]:
    """Yield a letter for each notice and language, in order of postcode and address.

    ready : the languages in which no slot of this notice is empty
    together : one letter for each notice, all of its languages in one envelope
    """
    state = Utility.objects.order_by("id").values_list("state", flat=True).first() or ""
    rows = notices.select_related("line__premise").order_by(
        "line__premise__postcode", "line__premise__address_key", "id"
    )
    for notice in rows.iterator(chunk_size=CHUNK):
        spoken = languages_of(notice.language, languages, ready)
        letters = [_letter(notice, language, dated, state) for language in spoken]
        yield from [_in_one(letters)] if together else letters


def _in_one(letters: list[Letter]) -> Letter:
    """Return the first letter with the others enclosed, addressed in every language."""
    first, *others = letters
    addressed = [one.mail_to[0] for one in letters if one.mail_to]
    return replace(first, mail_to=(*addressed, *first.mail_to[1:]), enclosed=tuple(others))


def _letter(notice: Notice, language: str, dated: date, state: str) -> Letter:
    line, premise = notice.line, notice.line.premise
    street = premise.place
    town = " ".join(part for part in (premise.city, state, premise.postcode) if part)
    shown = street or line.location_id
    return Letter(
        reference=f"N-{notice.pk}",
        kind=NoticeKind(notice.kind),
        language=language,
        mail_to=tuple(part for part in (_addressed(language), street, town) if part)
        if street
        else (),
        location_id=line.location_id,
        service_address=shown,
        values={
            key: in_words(date.fromisoformat(value), language) if key in DAYS else value
            for key, value in notice.values.items()
        },
        dated=in_words(dated, language),
    )


@cache
def _addressed(language: str) -> str:
    with translation.override(language):
        return translation.gettext("To everyone served at")


@cache
def in_words(day: date, language: str) -> str:
    """Return a day as a letter in this language writes it."""
    with translation.override(language):
        return date_format(day, DAY_FORMATS.get(language, "DATE_FORMAT"))


def folder_of(batch_id: int) -> Path:
    """Return where the letters of a batch lie."""
    return Path(settings.DATA_DIR) / "letters" / str(batch_id)


def described(path: Path, pages: int = 0) -> dict:
    """Return a written file by name, size and SHA-256."""
    with open(path, "rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    return {"name": path.name, "bytes": path.stat().st_size, "sha256": digest}
