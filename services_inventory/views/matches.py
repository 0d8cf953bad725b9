"""Rows that may belong to a known line: a person says which, once for every later file."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.template.defaultfilters import pluralize
from django.views import View
from django.views.generic import TemplateView

from ..given import number_given
from ..models import MatchQuestion, ServiceLine
from ..operations.matches import (
    MatchRefused,
    decided_rows_take_in,
    match_decide,
    matches_clear,
    matches_decide_as_proposed,
    rows_waiting,
)
from ..queries.matches import PROPOSED_FROM, decided_questions, open_questions, page_of
from ..today import now
from .batches import IntakeView


class MatchView(IntakeView, TemplateView):
    """A page of questions: fifty at a time."""

    newest_first = False

    def paged(self, questions) -> dict:
        """Return the page that `?after=` asks for."""
        after = number_given(self.request.GET.get("after"), "The place in the list")
        rows, after = page_of(questions, after, newest_first=self.newest_first)
        return {"questions": rows, "after": after, "waiting": rows_waiting().count()}

    def score(self) -> float:
        """Return the least likeness that is asked for, of 100."""
        given = self.request.POST.get("score", self.request.GET.get("score", ""))
        return float(given) if given.isdecimal() and int(given) <= 100 else float(PROPOSED_FROM)


class MatchListView(MatchView):
    """The questions that wait, the oldest first."""

    template_name = "services_inventory/match_list.html"

    def get_context_data(self, **kwargs):
        """Give a page of them."""
        questions = open_questions()
        return super().get_context_data(
            **self.paged(questions), number=questions.count(), from_score=PROPOSED_FROM, **kwargs
        )


class MatchManyView(MatchView):
    """Many at once: what would be done is shown first, then a person says so."""

    template_name = "services_inventory/match_many.html"

    def get_context_data(self, **kwargs):
        """Give what would be decided, and how many of this likeness have no single best."""
        score, found = self.score(), matches_clear(self.score()).select_related("batch")
        alike = MatchQuestion.objects.filter(decision=None, score__gte=score).count()
        number = found.count()
        return super().get_context_data(
            **self.paged(found), number=number, score=score, left=alike - number, **kwargs
        )

    def post(self, request):
        number = request.POST.get("number", "")
        try:
            made = matches_decide_as_proposed(
                score=self.score(), number=int(number) if number.isdecimal() else 0,
                by=request.user.get_username(), at=now(),
            )  # fmt: skip
        except MatchRefused as error:
            messages.error(request, str(error))
            return redirect("match_list")
        messages.success(request, f"{made:,} answers are kept, as proposed.")
        return redirect("match_decided")


class MatchDecidedView(MatchView):
    """What was decided, the newest question first; each may be decided again."""

    template_name = "services_inventory/match_decided.html"
    newest_first = True

    def get_context_data(self, **kwargs):
        """Give a page of them."""
        text = self.request.GET.get("q", "").strip()[:100]
        return super().get_context_data(**self.paged(decided_questions(text)), q=text, **kwargs)


class MatchDecideView(IntakeView, View):
    """One answer, or another one than before: these lines, or a line of its own."""

    def post(self, request, question):
        question = get_object_or_404(MatchQuestion, pk=question)
        page = "match_decided" if question.decision_id else "match_list"
        try:
            made = match_decide(
                question=question, lines=_lines(request.POST.getlist("line")),
                reason=request.POST.get("reason", ""), by=request.user.get_username(), at=now(),
            )  # fmt: skip
        except MatchRefused as error:
            messages.error(request, str(error))
        else:
            messages.success(request, _kept(made))
        return redirect(page)


def _lines(given: list[str]) -> list[ServiceLine]:
    """Return the lines that were chosen; none for a line of its own, which is said by its word."""
    if given == ["new"]:
        return []
    numbers = {int(one) for one in given if one.isascii() and one.isdecimal()}
    lines = list(ServiceLine.objects.filter(pk__in=numbers, given_up=False).order_by("id"))
    if not given or len(lines) != len(set(given)):
        raise MatchRefused(
            "Choose one of the lines, or a line of its own. What was sent names neither: "
            f"{', '.join(given)[:80] or 'nothing'}. Nothing was kept."
        )
    return lines


def _kept(made) -> str:
    """Say what came of a decision."""
    done = made.followed
    if not done or not (done["taken_back"] or done["recorded"]):
        return "Kept. The row is taken in with the others that wait, or with its file."
    back, anew = done["taken_back"], done["recorded"]
    said = f"Decided again. {back} statement{pluralize(back, ' was,s were')} taken back where "
    said += f"{pluralize(back, 'it was,they were')}, as never true, and {anew} recorded where "
    said += f"{pluralize(anew, 'it belongs,they belong')}; past days follow."
    if done["gone"]:
        said += f" {', '.join(done['gone'])} left the inventory: nothing else speaks of it."
    return said


class MatchTakeInView(IntakeView, View):
    """Taking in the rows that waited for nothing but their answer."""

    def post(self, request):
        """Hand them to the worker."""
        made = decided_rows_take_in(by=request.user.get_username(), at=now())
        if not made:
            messages.info(request, "No decided row waits; all are taken in.")
            return redirect("match_list")
        files = "file" if len(made) == 1 else "files"
        messages.success(request, f"The decided rows of {len(made)} {files} are being taken in.")
        return redirect("batch", made[-1].pk) if len(made) == 1 else redirect("batch_list")
