"""The words of notices and of the yearly report: what staff fill into the slots."""

from datetime import datetime

from program.models import NoticeSlot
from program.notices.printing import EVERY_KIND, LANGUAGES
from program.notices.templates_text import NoticeKind, NoticeRefused, SlotText, SlotTexts
from program.queries.yearly_report import KIND as REPORT
from program.queries.yearly_report import prescribed_blocks


def slot_fill(
    *, kind: str, slot: str, language: str, text: str, taken_from: str, by: str, at: datetime
) -> NoticeSlot:
    """Keep what staff filled into a slot, with where they took it from.

    Raises
    ------
    NoticeError: no notice has such a slot, or the text does not say where it was taken from.
    """
    SlotTexts((SlotText(slot, language, text, None if kind == EVERY_KIND else NoticeKind(kind)),))
    return _kept(kind, slot, language, text, taken_from, by, at)


def report_slot_fill(
    *, slot: str, language: str, text: str, taken_from: str, by: str, at: datetime
) -> NoticeSlot:
    """Keep the prescribed words of a block of the consumer confidence report; empty: none.

    Raises
    ------
    NoticeRefused: it has no such slot, or the text does not say where it was taken from.
    """
    if slot not in prescribed_blocks() or language not in LANGUAGES:
        raise NoticeRefused("The report has no such slot.")
    return _kept(REPORT, slot, language, text, taken_from, by, at)


def _kept(kind, slot, language, text: str, taken_from: str, by: str, at: datetime) -> NoticeSlot:
    if text.strip() and not taken_from.strip():
        raise NoticeRefused(
            "Say where the text was taken from: the agency's document, its date and page."
        )
    found, _ = NoticeSlot.objects.update_or_create(
        kind=kind,
        slot=slot,
        language=language,
        defaults={
            "text": text.strip(),
            "taken_from": taken_from.strip(),
            "filled_by": by,
            "filled_at": at,
        },
    )
    return found
