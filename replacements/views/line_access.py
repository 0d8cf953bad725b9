"""Getting in at one line, with or without a work order: attempts, answers, a change of owner."""

from django.shortcuts import get_object_or_404, redirect, render

from services_inventory.models import ServiceLine
from services_inventory.today import now, today
from services_inventory.views.acts import TakeBack

from ..completion.photos import paper_keep
from ..forms.access import AttemptForm, ConsentForm
from ..forms.owners import OwnerChangeForm
from ..models import OwnerChange
from ..operations.access import consent_record, contact_attempt_record
from ..operations.owners import owner_change_record
from ..queries.line_access import access_story
from .scope import WorkAct, WorkView


class LineAccessView(WorkView):
    """Where consent stands at a line and everything that was tried, said and changed."""

    permissions = ("replacements.record_access",)

    def get(self, request, pk):
        line = get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)
        context = {
            **access_story(line, today()),
            "line": line,
            "attempt_form": AttemptForm(auto_id="attempt_%s"),
            "answer_form": ConsentForm(auto_id="answer_%s"),
            "owner_form": OwnerChangeForm(auto_id="owner_%s"),
        }
        return render(request, "replacements/line_access.html", context)


class LineAccessActView(WorkAct):
    """Recording an attempt, an answer or a change of owner at a line."""

    permissions = ("replacements.record_access",)
    forms = {"attempt": AttemptForm, "answer": ConsentForm, "owner": OwnerChangeForm}

    def thing(self, pk, action):
        return get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)

    def filled(self, line):
        return self.forms[self.kwargs["action"]](self.request.POST, self.request.FILES)

    def keep(self, line, given):
        return getattr(self, self.kwargs["action"])(line, given)

    def back(self, line):
        return redirect("line_access", line.pk)

    def attempt(self, line, given):
        """Record an attempt."""
        contact_attempt_record(line=line, by=self.by, recorded_at=now(), **given)
        return "The attempt is recorded."

    def answer(self, line, given):
        """Record the owner's answer, with its paper."""
        paper = given.pop("paper")
        document = paper and paper_keep(
            file=paper, kind="CONSENT", owner_key="utility", by=self.by, at=now()
        )
        consent_record(line=line, document=document or None, by=self.by, recorded_at=now(), **given)
        return "The answer is recorded."

    def owner(self, line, given):
        """Record a change of owner of the premises."""
        owner_change_record(premise=line.premise, by=self.by, recorded_at=now(), **given)
        return "The change of owner is recorded; the attempts begin anew with the new owner."


class OwnerChangeWithdrawView(TakeBack, WorkView):
    """Taking a change of owner back."""

    permissions, model = ("replacements.record_access",), OwnerChange
    told = "The change of owner is taken back."

    def back(self, change):
        return redirect("line_access", change.premise.lines.order_by("id").first().pk)
