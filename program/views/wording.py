"""The slots of the notices: prescribed wording that staff fill."""

from django.http import Http404
from django.utils.functional import cached_property
from django.views.generic import TemplateView

from program.models import NoticeSlot
from program.notices.forms import SlotForm
from program.notices.printing import EVERY_KIND, LANGUAGES, slot_texts
from program.notices.templates_text import (
    KIND_LABELS,
    NoticeKind,
    Wording,
    blocks,
    empty_slots,
    own_words,
)
from program.operations.wording import slot_fill
from services_inventory.views.acts import PageAct

from .notices import NoticeView


class WordingView(NoticeView, TemplateView):
    """Every slot with its state in each language."""

    template_name = "program/notice_wording.html"

    def get_context_data(self, **kwargs):
        """Give the slots and the notices that cannot be printed yet."""
        kept = {(s.slot, s.kind, s.language): s for s in NoticeSlot.objects.all()}
        return super().get_context_data(
            slots=[_shown(block, kept) for block in blocks()],
            languages=LANGUAGES,
            lacking=_lacking(),
            **kwargs,
        )


def _shown(block, kept: dict) -> dict:
    cells = []
    for language in LANGUAGES:
        filled = kept.get((block.id, EVERY_KIND, language))
        own = any(key[0] == block.id and key[2] == language for key in own_words())
        state = "filled" if filled and filled.text else "own" if own and not block.is_slot else ""
        cells.append({"language": language, "state": state, "slot": filled})
    kinds = [KIND_LABELS[kind] for kind in block.kinds]
    special = [key[1] for key, slot in kept.items() if key[0] == block.id and slot.text]
    special = list(dict.fromkeys(KIND_LABELS[kind] for kind in special if kind != EVERY_KIND))
    return {"block": block, "cells": cells, "kinds": kinds, "special": special}


def _lacking() -> list[dict]:
    """Return, for each notice and language, what it cannot be printed without."""
    texts, found = slot_texts(), []
    for kind in NoticeKind:
        for language, name in LANGUAGES.items():
            empty = empty_slots(texts, [kind], [language])
            row = {"label": KIND_LABELS[kind], "language": name}
            found.append({**row, "empty": [one.block.name for one in empty]})
    return found


class SlotView(NoticeView, PageAct, TemplateView):
    """One slot in one language, for all notices or for one."""

    template_name = "program/notice_slot.html"
    form_class, form = SlotForm, None

    @cached_property
    def block(self):
        """The block that the address names, if there is one."""
        return next((one for one in blocks() if one.id == self.kwargs["slot"]), None)

    @property
    def kind(self) -> str:
        """The notice whose words they are."""
        return self.request.GET.get("kind", EVERY_KIND)

    def get_context_data(self, slot, language, **kwargs):
        if self.block is None or language not in LANGUAGES or self.kind not in self._kinds():
            raise Http404
        kept = NoticeSlot.objects.filter(kind=self.kind, slot=slot, language=language).first()
        return super().get_context_data(
            one={"block": self.block},
            language=language,
            language_name=LANGUAGES[language],
            kept=kept,
            kind=self.kind,
            kinds=self._kinds(),
            own=self._own(language),
            form=self.form or SlotForm(initial=_initial(kept)),
            is_prescribed=self.block.wording in (Wording.PRESCRIBED, Wording.PARTLY),
            **kwargs,
        )

    def _kinds(self) -> dict[str, str]:
        kinds = {kind.value: label for kind, label in KIND_LABELS.items()}
        own = {kind: label for kind, label in kinds.items() if NoticeKind(kind) in self.block.kinds}
        return {EVERY_KIND: "Every notice that has it", **own}

    def _own(self, language: str) -> list[tuple[str, str]]:
        if self.block.is_slot:
            return []
        return [
            (KIND_LABELS[key[1]] if key[1] else "Every notice", words)
            for key, words in own_words().items()
            if key[0] == self.block.id and key[2] == language
        ]

    def thing(self, slot, language):
        """Find nothing where the page would find nothing."""
        self.get_context_data(slot=slot, language=language)

    def keep(self, thing, given):
        slot_fill(kind=self.kind, **self.kwargs, **given, **self.signed())
        told = f"The passage was kept: {self.block.summary.rstrip('.')}."
        return self.done(told, "notice_wording")

    def field_of(self, error):
        return "taken_from"


def _initial(kept: NoticeSlot | None) -> dict:
    return {"text": kept.text, "taken_from": kept.taken_from} if kept else {}
