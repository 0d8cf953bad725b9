"""The rehearsal of a value of one's own, its confirmation, and the utility's facts."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.functional import cached_property
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.domain.utility_facts import utility_facts
from program.models import OwnValue
from program.operations.own_values import (
    KIND,
    OwnValueRefused,
    ending_proposal,
    fact_proposals,
    proposals_of,
    rehearsal_confirm,
    rehearsal_leave,
    rehearsal_open,
    withdrawal_proposal,
)
from program.own_value_forms import EndForm, ReasonForm, UtilityForm
from program.queries.own_values import facts_shown, own_standings, title_of, zone_differs
from program.rules import rules_known, utility_facts_on
from services_inventory.models import Batch
from services_inventory.queries.batches import batch_progress
from services_inventory.views.batches import ProgressView

from .acts import PageAct
from .permitted import Permitted


def signer(request) -> dict[str, str]:
    """Return who asks: by account, and as papers name them."""
    name = request.user.get_username()
    return {"by": name, "author": request.user.get_full_name() or name}


def show_errors(form, error: OwnValueRefused) -> None:
    """Put what was refused beside the fields that it is about."""
    for field, sentence in error.errors.items():
        form.add_error(field if field in form.fields else None, sentence)


class Changes(Permitted):
    """Who may change the State's and the utility's own values."""

    permission_required = "program.manage_utility"
    http_method_names = ["post"]

    def fault(self, error: OwnValueRefused) -> None:
        """Put each sentence beside the field that it is about."""
        show_errors(self.form, error)


class RehearsalView(Permitted, TemplateView):
    """What a value would move, and the form that keeps it with a reason."""

    template_name = "program/rehearsal.html"
    form = None

    @cached_property
    def batch(self) -> Batch:
        """The rehearsal the address names."""
        return get_object_or_404(Batch, pk=self.kwargs["pk"], kind=KIND)

    def get_context_data(self, **kwargs):
        can_set = self.request.user.has_perm("program.manage_utility")
        return super().get_context_data(
            batch=self.batch,
            progress=batch_progress(self.batch, now()),
            found=self.batch.result,
            back=_back(self.batch),
            form=(self.form or ReasonForm()) if can_set else None,
            can_set=can_set,
            **kwargs,
        )


class RehearsalProgressView(Permitted, ProgressView):
    """How far a rehearsal is."""

    batches = Batch.objects.filter(kind=KIND)


class RehearsalConfirmView(Changes, PageAct, RehearsalView):
    """Keep what was rehearsed."""

    form_class = ReasonForm

    def keep(self, thing, given):
        author = signer(self.request)["author"]
        restated = rehearsal_confirm(batch=self.batch, author=author, at=now(), **given)
        lines = " The inventory is restated by it." if restated else ""
        return self.done(f"Recorded: {self.batch.title}.{lines}", _back(self.batch))


class RehearsalLeaveView(Changes, RehearsalView):
    """Leave a rehearsal without recording anything."""

    def post(self, request, pk):
        rehearsal_leave(batch=self.batch, at=now())
        messages.info(request, "Left as it was; nothing was recorded.")
        return redirect(_back(self.batch))


class RehearsalAgainView(Changes, RehearsalView):
    """Rehearse the same again, as the record is now."""

    def post(self, request, pk):
        return _rehearse(request, lambda: proposals_of(self.batch), _back(self.batch))


def _back(batch: Batch) -> str:
    """The page of what a rehearsal is about."""
    value_id = proposals_of(batch)[0].value_id
    if value_id in utility_facts():
        return reverse("utility")
    return reverse("rule_value", args=[value_id])


def _rehearse(request, propose, back: str):
    """Lead to the rehearsal of what is proposed, or back with the reason why not."""
    try:
        proposals = propose()
        batch = rehearsal_open(
            proposals=proposals, title=title_of(proposals), at=now(), **signer(request)
        )
    except OwnValueRefused as error:
        messages.error(request, str(error))
        return redirect(back)
    return redirect("rehearsal", batch.pk)


class OwnRowView(Changes, View):
    """End a recorded value, or take a row back as never true: each is rehearsed first."""

    def post(self, request, pk, act):
        row = get_object_or_404(OwnValue, pk=pk)
        is_fact = row.value_id in utility_facts()
        back = reverse("utility") if is_fact else reverse("rule_value", args=[row.value_id])
        if act == "withdraw":
            return _rehearse(request, lambda: [withdrawal_proposal(row=row)], back)
        form = EndForm(request.POST)
        if not form.is_valid():
            messages.error(request, "First day it no longer holds: write a day.")
            return redirect(back)
        day = form.cleaned_data["day"]
        return _rehearse(request, lambda: [ending_proposal(row=row, day=day)], back)


class UtilityView(Permitted, TemplateView):
    """The utility's facts, how they came to be so, and the form that changes them."""

    template_name = "program/utility.html"
    form = None

    def get_context_data(self, **kwargs):
        facts = utility_facts_on(today())
        can_set = self.request.user.has_perm("program.manage_utility")
        form = self.form or UtilityForm(facts=facts, day=today())
        return super().get_context_data(
            facts=facts_shown(facts),
            own=own_standings(utility_facts()),
            form=form if can_set else None,
            can_set=can_set,
            faults=rules_known().faults,
            zone_differs=zone_differs(facts["time_zone"]),
            **kwargs,
        )

    def post(self, request):
        """Lead to the rehearsal of what is changed, or show the form again."""
        if not request.user.has_perm("program.manage_utility"):
            return self.handle_no_permission()
        self.form = form = UtilityForm(request.POST, facts=utility_facts_on(today()), day=today())
        if form.is_valid():
            try:
                proposals = fact_proposals(
                    texts=form.texts(), effective_from=form.cleaned_data["effective_from"],
                    today=today(),
                )  # fmt: skip
                batch = rehearsal_open(
                    proposals=proposals, title=title_of(proposals), at=now(), **signer(request)
                )
            except OwnValueRefused as error:
                show_errors(form, error)
            else:
                return redirect("rehearsal", batch.pk)
        return self.render_to_response(self.get_context_data(), status=422)
