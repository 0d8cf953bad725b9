"""Before the pull: estimate and safe start. After it: the log."""

from contextlib import suppress

from django.db.models import Q
from django.shortcuts import get_object_or_404, redirect

from services_inventory.today import today

from ..domain.cautions import AFTER, BEFORE, Step, cautions_for
from ..domain.findings import Level, worst
from ..domain.methods import is_pulled
from ..domain.units import high_lb
from ..forms.pulls import EstimateForm, PullForm
from ..forms.safety import StartForm
from ..models import PullExplanation
from ..operations.pulls import (
    LOG_LIMIT_BYTES,
    EstimateRefused,
    PullRefused,
    StartRefused,
    estimate_make,
    log_read,
    pull_explain,
    pull_explanation_withdraw,
    pull_record,
    pull_start,
    pull_start_withdraw,
    pull_withdraw,
)
from ..queries.gate import findings_on_record, start_on_record
from .scope import DO, ESTIMATE, EXPLAIN, REVIEW, OrderAct, OrderFormPage, WorkAct


class EstimateView(OrderAct):
    """Making a force estimate from what is known now, shown on the order's page."""

    permissions = ESTIMATE

    def filled(self, order):
        return EstimateForm.asked_of(order, self.request.POST)

    def keep(self, order, given):
        try:
            made = estimate_make(work_order=order, **self.signed(), **self.form.given())
        except ValueError as error:
            raise EstimateRefused(str(error)) from error
        return f"Estimated: {made.expected_lbf:,.0f} lb expected, up to {high_lb(made.high_lbf)}."

    def refuse(self, order):
        if self.form.non_field_errors():
            return super().refuse(order)
        return self.refused("Write plate, ground, temperature (up to 120 °F), minutes (up to a "
                            "day) and what was measured as numbers above zero.",
                            "work_order", order.pk)  # fmt: skip


class StartView(OrderFormPage):
    """The safety answers without which the pull cannot be recorded as started."""

    permissions, template_name = DO, "replacements/start.html"

    def first(self, order):
        """Open with what stands against a start before anybody answers."""
        self.findings = findings_on_record(order, today())
        return StartForm(initial={"on": today()}, pulls=is_pulled(order.method))

    def filled(self, order):
        self.findings = []
        return StartForm(self.request.POST, pulls=is_pulled(order.method))

    def keep(self, order, given):
        pull_start(work_order=order, facts=self.form.facts(), on=given["on"], **self.signed())
        return "The start is on record."

    def fault(self, error):
        """Say what stands against the start and what to do."""
        if isinstance(error, StartRefused):
            self.findings = error.findings
        else:
            super().fault(error)

    def beside(self, order, form):
        steps = (*BEFORE, Step.LOADED, Step.LEAVING)
        return {
            "order": order,
            "findings": self.findings,
            "stops": worst(self.findings) is Level.STOP,
            "cautions": cautions_for(*steps, pulled=is_pulled(order.method)),
        }


class StartWithdrawView(OrderAct):
    """Taking a start back, such as one recorded for the wrong order."""

    permissions = DO

    def keep(self, order, given):
        reason = self.request.POST.get("reason", "")
        pull_start_withdraw(work_order=order, reason=reason, **self.signed())
        return "The start is withdrawn. Nothing is pulled."


class PullUploadView(OrderFormPage):
    """The log of a pull, read and judged as it arrives; a refused one is told at its field."""

    permissions, form_class, template_name = DO, PullForm, "replacements/pull_form.html"

    def first(self, order):
        return PullForm.of(order, today())

    @classmethod
    def read_ahead(cls, request):
        """Read the log before the database is held; `post` says why one can't be read."""
        form = PullForm(request.POST, request.FILES)
        if cls.lets_in(request.user) and form.is_valid():
            log = form.cleaned_data["log"]
            content = log.read(LOG_LIMIT_BYTES + 1)
            log.seek(0)
            with suppress(PullRefused):
                request.log_read = log_read(content, log.name, form.machine(), form.columns())

    def keep(self, order, given):
        made = pull_record(
            work_order=order,
            log=given["log"],
            read_before=getattr(self.request, "log_read", None),
            machine=self.form.machine(),
            columns=self.form.columns(),
            pulled_on=given["pulled_on"],
            **self.signed(),
        )
        return f"The log is read: {made.peak_lbf or 0:,.0f} lb at most, {made.verdict}."

    def field_of(self, error):
        return "log"

    def beside(self, order, form):
        start, cautions = start_on_record(order), cautions_for(*AFTER)
        return {"order": order, "start": start, "cautions": cautions}


class PullExplainView(WorkAct):
    """Saying why a pull that was held, rejected or withdrawn may stand.

    The utility's own explanation lets the work be accepted.
    """

    permissions = EXPLAIN

    def thing(self, pk, pull):
        return get_object_or_404(self.order().pulls, pk=pull)

    def keep(self, found, given):
        post, user = self.request.POST, self.request.user
        utility = user.has_perm(REVIEW[0]) and self.company is None
        why = post.get("why", "")
        pull_explain(pull=found, why=why, of_utility=utility, **self.signed())
        return "The explanation is on record."

    def back(self, found):
        """Lead to where the pull is looked at: the review for who reviews, else the order."""
        order = self.order()
        waiting = order.completions.filter(review__isnull=True).order_by("-revision").first()
        if waiting and self.request.user.has_perm(REVIEW[0]):
            return redirect("review", waiting.pk)
        return redirect("work_order", order.pk)


class LiveExplainView(PullExplainView):
    """Saying why the work may stand though the log of a live pull was never handed in."""

    def thing(self, pk, feed):
        return get_object_or_404(self.order().live_feeds, pk=feed)


class PullExplanationWithdrawView(PullExplainView):
    """Taking back one's own explanation."""

    def thing(self, pk, explanation):
        order = self.order()
        of_order = Q(pull__work_order=order) | Q(feed__work_order=order)
        own = PullExplanation.objects.filter(of_order, explained_by=self.by)
        return get_object_or_404(own, pk=explanation)

    def keep(self, found, given):
        reason = self.request.POST.get("reason", "")
        pull_explanation_withdraw(explanation=found, reason=reason, **self.signed())
        return "The explanation is taken back."


class PullWithdrawView(OrderAct):
    """Taking a pull back that does not count."""

    permissions = DO

    def keep(self, order, given):
        found = get_object_or_404(order.pulls, pk=self.kwargs["pull"])
        pull_withdraw(pull=found, reason=self.request.POST.get("reason", ""), **self.signed())
        return "The pull is withdrawn."
