"""Rows that may belong to a known line: a person says which, once for every later file."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.template.defaultfilters import pluralize
from django.urls import reverse
from django.views.generic import TemplateView

from services_inventory.refused import Refused

from ..given import number_given
from ..models import MatchDecision, MatchQuestion, ServiceLine
from ..operations.matches import (
    decided_rows_take_in,
    match_decide,
    matches_clear,
    matches_decide,
    matches_decide_as_proposed,
    matches_take_back,
    rows_waiting,
    seen,
)
from ..queries.matches import (
    PROPOSED_FROM,
    acts,
    decided_questions,
    open_questions,
    page_of,
    proposed,
    with_maps,
)
from ..today import now
from .acts import Act
from .batches import IntakeView


class MatchView(IntakeView, TemplateView):
    """A page of questions: fifty at a time."""

    newest_first = False

    def paged(self, questions) -> dict:
        """Return the page that `?after=` asks for."""
        after = number_given(self.request.GET.get("after"), "The place in the list")
        rows, after = page_of(questions, after, newest_first=self.newest_first)
        return {"questions": with_maps(rows), "after": after, "waiting": rows_waiting().count()}

    def score(self) -> float:
        """Return the least likeness that is asked for, of 100."""
        given = self.request.POST.get("score", self.request.GET.get("score", ""))
        whole = given.isdecimal() and len(given) <= 3 and int(given) <= 100
        return float(given) if whole else float(PROPOSED_FROM)


class MatchListView(MatchView):
    """The questions that wait, the oldest first, and a page of answers in one act."""

    template_name = "services_inventory/match_list.html"
    here = ""

    def get_context_data(self, **kwargs):
        questions = open_questions()
        return super().get_context_data(
            **self.paged(questions), number=questions.count(), from_score=PROPOSED_FROM,
            acts=acts(1), here=self.request.GET.get("after", ""), **kwargs
        )  # fmt: skip

    def post(self, request):
        """Keep what was chosen, and show the page again or the next."""
        made, refused = matches_decide(
            answers=_answers(request.POST), by=request.user.get_username(), at=now()
        )
        for sentence in refused:
            messages.error(request, sentence)
        if made:
            kept = f"{made:,} answer{pluralize(made, ' is,s are')} kept."
            messages.success(request, f"{kept} The rows wait above the list to be taken in.")
        elif not refused:
            messages.info(request, "Nothing was chosen on the page, so nothing was kept.")
        after = number_given(request.POST.get("go"), "The place in the list")
        return redirect(reverse("match_list") + (f"?after={after}" if after else ""))


class MatchManyView(Act, MatchView):
    """Many at once: what would be done is shown first, then a person says so."""

    template_name = "services_inventory/match_many.html"
    page = "match_list"

    def get_context_data(self, **kwargs):
        """Give what would be decided, and how many of this likeness have no single best."""
        score, found = self.score(), matches_clear(self.score()).select_related("batch")
        alike = MatchQuestion.objects.waiting().filter(score__gte=score).count()
        number = found.count()
        return super().get_context_data(
            **self.paged(found), number=number, score=score, left=alike - number,
            shown=seen(found), whole=proposed(found), **kwargs
        )  # fmt: skip

    def keep(self, thing, given):
        shown = self.request.POST.get("shown", "")
        made = matches_decide_as_proposed(score=self.score(), shown=shown, **self.signed())
        return self.done(f"{made:,} answers are kept, as proposed.", "match_decided")


class MatchDecidedView(MatchView):
    """What was decided, the newest question first; each may be decided again."""

    template_name = "services_inventory/match_decided.html"
    newest_first = True

    def get_context_data(self, **kwargs):
        text = self.request.GET.get("q", "").strip()[:100]
        return super().get_context_data(
            **self.paged(decided_questions(text)), q=text, acts=acts(), **kwargs
        )


class MatchTakeBackView(IntakeView, Act):
    """Answers taken back, one or all of an act: what rested on them follows."""

    page = "match_decided"

    def thing(self):
        number = number_given(self.request.POST.get("decision"), "The answer")
        return get_object_or_404(MatchDecision, pk=number)

    def keep(self, decision, given):
        whole, reason = self.request.POST.get("whole"), self.request.POST.get("reason", "")
        done = matches_take_back(
            decision=decision, whole_act=whole == "yes", reason=reason, **self.signed()
        )
        return self.done(_taken_back(done), "match_list")


class MatchDecideView(IntakeView, Act):
    """One answer, or another one than before: these lines, or a line of its own."""

    def thing(self, question):
        found = get_object_or_404(MatchQuestion, pk=question)
        self.page = "match_decided" if found.decision_id else "match_list"
        return found

    def keep(self, question, given):
        lines, reason = _lines(self.request.POST.getlist("line")), self.request.POST.get("reason")
        made = match_decide(question=question, lines=lines, reason=reason or "", **self.signed())
        return _kept(made)

    def back(self, question):
        return redirect(self.page)


def _lines(given: list[str]) -> list[ServiceLine]:
    """Return the lines that were chosen; none for a line of its own, which is said by its word."""
    if given == ["new"]:
        return []
    numbers = {number_given(one, "The line") for one in given if one.isascii() and one.isdecimal()}
    lines = list(ServiceLine.objects.filter(pk__in=numbers, given_up=False).order_by("id"))
    if not given or len(lines) != len(set(given)):
        raise Refused(
            "Choose one of the lines, or a line of its own. What was sent names neither: "
            f"{', '.join(given)[:80] or 'nothing'}. Nothing was kept."
        )
    return lines


def _answers(sent) -> dict[int, list[int]]:
    """Return what a page of questions answers: lines by question; none for a line of its own."""
    answers = {}
    for name in sent:
        given = [one for one in sent.getlist(name) if one]
        if name.startswith("line-") and given:
            question = number_given(name.removeprefix("line-"), "The row") or 0
            numbers = [] if given == ["new"] else given
            answers[question] = [number_given(one, "The line") or 0 for one in numbers]
    return answers


def _taken_back(done: dict) -> str:
    """Say what came of taking answers back."""
    number, back = done["questions"], done["taken_back"]
    said = f"{number:,} question{pluralize(number, ' is,s are')} open again."
    if back:
        said += f" {back:,} statement{pluralize(back, ' was,s were')} taken back as never true."
    if done["gone"]:
        said += f" {len(done['gone']):,} line{pluralize(len(done['gone']))} left the inventory: "
        said += f"nothing else speaks of {pluralize(len(done['gone']), 'it,them')}."
    return said


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


class MatchTakeInView(IntakeView, Act):
    """Handing the rows that waited for nothing but their answer to the worker."""

    def keep(self, thing, given):
        made = decided_rows_take_in(**self.signed())
        if not made:
            none = "No decided row waits; all are taken in."
            return self.done(none, "match_list", level=messages.INFO)
        files = "file" if len(made) == 1 else "files"
        told = f"The decided rows of {len(made)} {files} are being taken in."
        return self.done(told, *(("batch", made[-1].pk) if len(made) == 1 else ("batch_list",)))
