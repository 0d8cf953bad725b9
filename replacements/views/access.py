"""Attempts to reach the owner, and the owner's answer."""

from services_inventory.operations.documents import DocumentRefused
from services_inventory.today import now

from ..completion.photos import paper_keep
from ..forms.access import AttemptForm, ConsentForm
from ..operations.access import AccessError, consent_record, contact_attempt_record
from .scope import ACCESS, WorkView


class AttemptView(WorkView):
    """Recording one attempt."""

    permissions = ACCESS

    def post(self, request, pk):
        """Record the attempt."""
        order, form = self.order(), AttemptForm(request.POST)
        if not form.is_valid():
            return self.refused(first_error(form), "work_order", pk)
        try:
            contact_attempt_record(
                line=order.line, by=self.by, recorded_at=now(), contractor=self.company,
                **form.cleaned_data,
            )  # fmt: skip
        except AccessError as error:
            return self.refused(str(error), "work_order", pk)
        return self.done("The attempt is recorded.", "work_order", pk)


class ConsentView(WorkView):
    """Recording the owner's answer, with its paper."""

    permissions = ACCESS

    def post(self, request, pk):
        """Record the answer."""
        order, form = self.order(), ConsentForm(request.POST, request.FILES)
        if not form.is_valid():
            return self.refused(first_error(form), "work_order", pk)
        given = dict(form.cleaned_data)
        paper = given.pop("paper")
        try:
            document = paper and paper_keep(
                file=paper, kind="CONSENT", work_order=order, by=self.by, at=now()
            )
            consent_record(
                line=order.line, document=document or None, by=self.by, recorded_at=now(), **given
            )
        except (AccessError, DocumentRefused) as error:
            return self.refused(str(error), "work_order", pk)
        return self.done("The answer is recorded.", "work_order", pk)


def first_error(form) -> str:
    """Return the first thing that is wrong with a form, with the field's name."""
    name, errors = next(iter(form.errors.items()))
    label = form.fields[name].label if name in form.fields else ""
    return f"{label}: {errors[0]}" if label else str(errors[0])
