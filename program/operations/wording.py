"""The words of notices: what staff fill into the slots."""

from datetime import datetime

from program.models import NoticeSlot
from program.notices.printing import EVERY_KIND
from program.notices.templates_text import NoticeKind, NoticeRefused, SlotText, SlotTexts


def slot_fill(
    *, kind: str, slot: str, language: str, text: str, taken_from: str, by: str, at: datetime
) -> NoticeSlot:
    """Keep what staff filled into a slot, with where they took it from.

    Raises
    ------
    NoticeError: no notice has such a slot, or the text does not say where it was taken from.
    """
    SlotTexts((SlotText(slot, language, text, None if kind == EVERY_KIND else NoticeKind(kind)),))
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
