"""Pages of words: those a file asks for, the utility's dictionary, and the words known anyhow."""

from django.shortcuts import get_object_or_404, redirect
from django.template.defaultfilters import pluralize
from django.views import View
from django.views.generic import TemplateView

from ..models import OwnWord
from ..operations.own_words import word_withdraw, words_answer
from ..queries.own_words import HEADER, KINDS, known_words, own_words_found, word_rows, words_asked
from ..sending import csv_streamed
from ..today import today
from .acts import Act
from .batches import IntakeView

SHOWN = 40


class WordsAskedView(Act, IntakeView, TemplateView):
    """The words of one file that nobody has told of, each with a choice."""

    template_name = "services_inventory/words_asked.html"
    page = "words_asked"

    def get_context_data(self, **kwargs):
        asked, fills = words_asked(self.batch), "proposed" in self.request.GET
        proposes = any(one["guess"] for one in asked)
        return super().get_context_data(
            batch=self.batch, asked=asked, fills=fills, proposes=proposes, **kwargs
        )

    def thing(self, pk):
        return self.batch

    def keep(self, batch, given):
        """Keep the answers, and have the file checked with them."""
        post = self.request.POST
        answers = {
            int(name[5:]): code
            for name, code in post.items()
            if name.startswith("word-") and name[5:].isdecimal() and code
        }
        reason = post.get("reason", "")
        checked = words_answer(batch=batch, answers=answers, reason=reason, **self.signed())
        told = "Kept for every file with that column. Being checked again."
        return self.done(told, "batch", checked.pk)


class WordListView(IntakeView, TemplateView):
    """The utility's own words, and the words that are known anyhow."""

    template_name = "services_inventory/word_list.html"

    def get_context_data(self, **kwargs):
        """Give both lists, with a word or a kind if asked for."""
        text, kind = self.request.GET.get("q", "").strip(), self.request.GET.get("kind", "")
        known = known_words(text, kind)
        return super().get_context_data(
            own=own_words_found(text), known=known[:SHOWN], number=len(known), q=text, kind=kind,
            kinds=[(key, what) for key, (what, file) in KINDS.items() if file], **kwargs,
        )  # fmt: skip


class WordCsvView(IntakeView, View):
    """Both lists as CSV."""

    def get(self, request):
        return csv_streamed(f"words-{today()}", HEADER, word_rows())


class WordWithdrawView(IntakeView, Act):
    """Taking back what a word was said to stand for, with what rested on it."""

    def thing(self, word) -> OwnWord:
        return get_object_or_404(OwnWord, pk=word)

    def keep(self, word, given):
        reason = self.request.POST.get("reason", "")
        back = word_withdraw(word=word, reason=reason, **self.signed())["taken_back"]
        return (
            f"Taken back, with {back:,} statement{pluralize(back)} that rested on it. Files that "
            "wait to be taken in are checked anew; the page of a file that was taken in offers to "
            "check it again."
        )

    def back(self, word):
        return redirect("word_list")
