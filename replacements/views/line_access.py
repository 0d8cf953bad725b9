"""Getting in at one line, with or without a work order: attempts, answers, a change of owner."""

from django.shortcuts import get_object_or_404, render

from services_inventory.models import ServiceLine
from services_inventory.operations.documents import DocumentRefused
from services_inventory.today import now, today

from ..completion.photos import paper_keep
from ..forms.access import AttemptForm, ConsentForm
from ..forms.owners import OwnerChangeForm, WithdrawForm
from ..models import OwnerChange
from ..operations.access import AccessError, consent_record, contact_attempt_record
from ..operations.owners import OwnerChangeRefused, owner_change_record, owner_change_withdraw
from ..queries.line_access import access_story
from .access import first_error
from .scope import WorkView

REFUSALS = (AccessError, DocumentRefused, OwnerChangeRefused)


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


class LineAccessActView(WorkView):
    """Recording an attempt, an answer or a change of owner at a line."""

    permissions = ("replacements.record_access",)
    forms = {"attempt": AttemptForm, "answer": ConsentForm, "owner": OwnerChangeForm}

    def post(self, request, pk, action):
        """Keep what the form says, or say why not."""
        line = get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)
        form = self.forms[action](request.POST, request.FILES)
        if not form.is_valid():
            return self.refused(first_error(form), "line_access", pk)
        try:
            sentence = getattr(self, action)(line, form.cleaned_data)
        except REFUSALS as error:
            return self.refused(str(error), "line_access", pk)
        return self.done(sentence, "line_access", pk)

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


class OwnerChangeWithdrawView(WorkView):
    """Taking a change of owner back."""

    permissions = ("replacements.record_access",)

    def post(self, request, pk):
        """Take it back, or say why not."""
        change = get_object_or_404(OwnerChange, pk=pk)
        line = change.premise.lines.order_by("id").first()
        form = WithdrawForm(request.POST)
        if not form.is_valid():
            return self.refused(first_error(form), "line_access", line.pk)
        try:
            owner_change_withdraw(change=change, by=self.by, at=now(), **form.cleaned_data)
        except OwnerChangeRefused as error:
            return self.refused(str(error), "line_access", line.pk)
        return self.done("The change of owner is taken back.", "line_access", line.pk)
