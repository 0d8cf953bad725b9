"""Rows that may belong to a known line: a person says which, once for every later file."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from ..given import number_given
from ..models import MatchQuestion, ServiceLine
from ..operations.matches import MatchRefused, match_decide
from ..today import now
from .batches import IntakeView

SHOWN = 50
NEW = "new"


class MatchListView(IntakeView, TemplateView):
    """The questions that wait, the oldest first."""

    template_name = "services_inventory/match_list.html"

    def get_context_data(self, **kwargs):
        """Give the first questions; the next come when these are answered."""
        waiting = MatchQuestion.objects.filter(decided_at=None).select_related("batch")
        return super().get_context_data(
            questions=waiting.order_by("id")[:SHOWN], more=waiting.count() - SHOWN, **kwargs
        )


class MatchDecideView(IntakeView, View):
    """One answer: this line, or a line of its own."""

    http_method_names = ["post"]

    def post(self, request, question):
        """Keep the answer."""
        question = get_object_or_404(MatchQuestion, pk=question)
        try:
            line = _answer(request.POST.get("line", ""))
            match_decide(question=question, line=line, by=request.user.get_username(), at=now())
        except MatchRefused as error:
            messages.error(request, str(error))
        else:
            messages.success(request, "Kept. Take the file, or its held rows, in again.")
        return redirect("match_list")


def _answer(given: str) -> ServiceLine | None:
    """Return the line that an answer names, or None for the answer "a line of its own"."""
    if given == NEW:
        return None
    number = number_given(given, "Which line is meant")
    if number is None:
        raise MatchRefused("Choose one of the lines, or say that it is a line of its own.")
    return get_object_or_404(ServiceLine, pk=number)
