"""Pages of words: those a file asks for, the utility's dictionary, and the words known anyhow."""

from django.contrib import messages
from django.http import StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.template.defaultfilters import pluralize
from django.views import View
from django.views.generic import TemplateView

from ..domain.formulas import csv_pieces
from ..models import OwnWord
from ..operations.own_words import WordRefused, word_withdraw, words_answer
from ..queries.own_words import HEADER, KINDS, known_words, own_words_found, word_rows, words_asked
from ..today import now, today
from .batches import IntakeView

SHOWN = 40


class WordsAskedView(IntakeView, TemplateView):
    """The words of one file that nobody has told of, each with a choice."""

    template_name = "services_inventory/words_asked.html"

    def get_context_data(self, **kwargs):
        """Give the words, those in most rows first."""
        return super().get_context_data(batch=self.batch, asked=words_asked(self.batch), **kwargs)

    def post(self, request, pk):
        """Keep the answers, and have the file checked with them."""
        given = {
            int(name[5:]): code
            for name, code in request.POST.items()
            if name.startswith("word-") and name[5:].isdecimal() and code
        }
        said = {"reason": request.POST.get("reason", ""), "by": request.user.get_username()}
        try:
            checked = words_answer(batch=self.batch, answers=given, at=now(), **said)
        except WordRefused as problem:
            messages.error(request, str(problem))
            return redirect("words_asked", pk)
        messages.success(request, "Kept for every file with that column. Being checked again.")
        return redirect("batch", checked.pk)


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
        answer = StreamingHttpResponse(csv_pieces(HEADER, word_rows()), content_type="text/csv")
        answer["Content-Disposition"] = f'attachment; filename="words-{today()}.csv"'
        return answer


class WordWithdrawView(IntakeView, View):
    """Taking back what a word was said to stand for."""

    def post(self, request, word):
        """Take it back, with what rested on it."""
        one = get_object_or_404(OwnWord, pk=word)
        reason, by = request.POST.get("reason", ""), request.user.get_username()
        try:
            done = word_withdraw(word=one, reason=reason, by=by, at=now())
        except WordRefused as problem:
            messages.error(request, str(problem))
            return redirect("word_list")
        back = done["taken_back"]
        messages.success(
            request,
            f"Taken back, with {back} statement{pluralize(back)} that rested on it. Take the file "
            "in again to have its rows read without it.",
        )
        return redirect("word_list")
