"""What a notice says: its blocks, our own words, and the slots that staff fill.

Wording that the rule prescribes is never written by the program. It stands in a slot that staff
fill from their primacy agency's current text, and a letter with an empty slot is not printed.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import StrEnum
from functools import cache

from django.conf import settings

from services_inventory.domain.reference import toml_of
from services_inventory.refused import Refused

_PLACEHOLDER = re.compile(r"\{([a-z_]+)\}")


class NoticeKind(StrEnum):
    """Which notice a letter is."""

    LEAD = "LEAD"
    GRR = "GRR"
    UNKNOWN = "UNKNOWN"
    REPLACEMENT = "REPLACEMENT"
    PARTIAL = "PARTIAL"
    DISTURBANCE = "DISTURBANCE"
    VALIDATION_FINDING = "VALIDATION_FINDING"
    DISPUTE_REPLY = "DISPUTE_REPLY"
    SAMPLE_RESULT = "SAMPLE_RESULT"
    SAMPLE_INVITATION = "SAMPLE_INVITATION"


KIND_LABELS = {
    NoticeKind.LEAD: "Lead service line",
    NoticeKind.GRR: "Galvanized requiring replacement",
    NoticeKind.UNKNOWN: "Lead status unknown",
    NoticeKind.REPLACEMENT: "Replacement",
    NoticeKind.PARTIAL: "Partial replacement",
    NoticeKind.DISTURBANCE: "Disturbance",
    NoticeKind.VALIDATION_FINDING: "Validation finding",
    NoticeKind.DISPUTE_REPLY: "Reply to an inquiry",
    NoticeKind.SAMPLE_RESULT: "Sample result",
    NoticeKind.SAMPLE_INVITATION: "Invitation to a sample after a replacement",
}


class Wording(StrEnum):
    """Whose words a block holds."""

    PRESCRIBED = "PRESCRIBED"
    PARTLY = "PARTLY"
    OWN = "OWN"
    OPTIONAL = "OPTIONAL"


class NoticeError(Refused):
    """A notice cannot be printed; the message is fit to show."""


class EmptySlot(NoticeError):
    """A slot that a notice cannot do without holds no text."""

    def __init__(self, block: "Block", kind: NoticeKind, language: str):
        self.block, self.kind, self.language = block, kind, language
        if block.is_slot:
            why = (
                f"{block.citation} prescribes it. Fill it with the current text of your "
                "primacy agency; the program does not write it."
            )
        else:
            why = "There are no words of our own in that language. Fill it with a translation."
        tongue = dict(settings.LANGUAGES).get(language, language)
        super().__init__(
            f"A passage of the notice “{KIND_LABELS[kind]}” has no words in {tongue} yet: "
            f"{block.summary.rstrip('.')}. {why}"
        )


class NoticeRefused(NoticeError):
    """What was asked contradicts the record; the message says what to do."""


class UnknownPlaceholder(NoticeError):
    """A text asks for something that the letter does not hold."""


@dataclass(frozen=True)
class Block:
    """One block of a notice, with the paragraph that asks for it and how surely that is known."""

    id: str
    wording: Wording
    citation: str
    mark: str
    kinds: tuple[NoticeKind, ...]
    summary: str
    headings: Mapping[str, str]
    source: str = ""

    @property
    def name(self) -> str:
        """What pages call it."""
        return self.headings["en"]

    @property
    def is_slot(self) -> bool:
        """Say whether the rule prescribes the words, in whole or in part."""
        return self.wording in (Wording.PRESCRIBED, Wording.PARTLY)


@dataclass(frozen=True)
class SlotText:
    """What staff filled into one slot in one language; `kind` None serves every notice."""

    block: str
    language: str
    text: str
    kind: NoticeKind | None = None
    heading: str = ""
    source: str = ""


@dataclass(frozen=True)
class Passage:
    """One block as it will be printed, placeholders not yet filled."""

    block: str
    heading: str
    text: str


@dataclass(frozen=True)
class SlotTexts:
    """All that staff filled in; asked for a block, it answers with theirs or our own words."""

    filled: tuple[SlotText, ...] = ()
    _index: dict = field(init=False, repr=False, compare=False)

    def __post_init__(self):
        """Index the texts; refuse text for a block that no notice has.

        Raises:
            NoticeError: names the block, and the nearest known ones.

        """
        known = {block.id: block for block in blocks()}
        for slot in self.filled:
            if slot.block not in known:
                near = get_close_matches(slot.block, known) or list(known)
                raise NoticeError(f"No notice has a block '{slot.block}': try {', '.join(near)}.")
        index = {(s.block, s.kind, s.language): s for s in self.filled if s.text.strip()}
        object.__setattr__(self, "_index", index)

    def passages(
        self, kind: NoticeKind, language: str, leave_out: Iterable[str] = ()
    ) -> tuple[Passage, ...]:
        """Return a notice's blocks in their order.

        Raises:
            EmptySlot: a block has no text in that language.
            NoticeError: a block that may not be left out is left out.

        """
        out = []
        for block in blocks_of(kind):
            if block.id in leave_out:
                if block.is_slot:
                    raise NoticeError(
                        f"The block '{block.id}' cannot be left out of the {kind} notice: "
                        f"{block.citation} prescribes it."
                    )
                continue
            passage = self._passage(block, kind, language)
            if passage is None and block.wording is not Wording.OPTIONAL:
                raise EmptySlot(block, kind, language)
            if passage:
                out.append(passage)
        return tuple(out)

    def _passage(self, block: Block, kind: NoticeKind, language: str) -> Passage | None:
        slot = self._index.get((block.id, kind, language))
        slot = slot or self._index.get((block.id, None, language))
        heading = block.headings.get(language, "")
        if slot:
            return Passage(block.id, slot.heading or heading, slot.text.strip())
        own = own_words().get((block.id, kind, language)) or own_words().get(
            (block.id, None, language)
        )
        return Passage(block.id, heading, own) if own and not block.is_slot else None


@cache
def blocks() -> tuple[Block, ...]:
    """Return every block, in the order in which it is printed."""
    return tuple(
        Block(
            id=row["id"],
            wording=Wording(row["wording"]),
            citation=row["citation"],
            mark=row["mark"],
            kinds=tuple(NoticeKind(kind) for kind in row["kinds"]),
            summary=row["summary"],
            headings=row["heading"],
            source=row.get("source", ""),
        )
        for row in _content()["block"]
    )


def blocks_of(kind: NoticeKind) -> tuple[Block, ...]:
    """Return the blocks of one notice."""
    return tuple(block for block in blocks() if kind in block.kinds)


@cache
def own_words() -> Mapping[tuple[str, NoticeKind | None, str], str]:
    """Return our own words by (block, notice or None for all, language)."""
    words = {}
    for row in _content()["own_words"]:
        kind = NoticeKind(row["kind"]) if "kind" in row else None
        for language, text in row.items():
            if language not in ("block", "kind"):
                words[row["block"], kind, language] = text
    return words


def _content() -> dict:
    return toml_of("program", "notice_blocks.toml")


def empty_slots(
    texts: SlotTexts, kinds: Iterable[NoticeKind], languages: Iterable[str]
) -> list[EmptySlot]:
    """Return every empty slot of these notices, so that staff see them all at once."""
    languages = tuple(languages)
    return [
        EmptySlot(block, kind, language)
        for kind in kinds
        for block in blocks_of(kind)
        for language in languages
        if block.wording is not Wording.OPTIONAL and texts._passage(block, kind, language) is None
    ]


def fill(text: str, values: Mapping[str, str]) -> str:
    """Return the text with each {placeholder} replaced by its value.

    Values are put in as they are: a value that looks like a placeholder is not looked at again.

    Raises:
        UnknownPlaceholder: the letter has no such value, or an empty one.

    """

    def value(found: re.Match) -> str:
        name = found[1]
        if not str(values.get(name, "")).strip():
            known = ", ".join(sorted(key for key, held in values.items() if held))
            raise UnknownPlaceholder(
                f"The text asks for {{{name}}}, which the letter does not hold. It holds {known}."
            )
        return str(values[name])

    return _PLACEHOLDER.sub(value, text)


def has_placeholder(text: str) -> bool:
    """Say whether a text differs from letter to letter."""
    return bool(_PLACEHOLDER.search(text))
