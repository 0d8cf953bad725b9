"""Before the pull: estimate and safe start. After it: the log."""

from contextlib import suppress

from django.db.models import Q
from django.shortcuts import get_object_or_404, redirect, render

from services_inventory.today import now, today

from ..domain.cautions import AFTER, BEFORE, Step, cautions_for
from ..domain.findings import Level, worst
from ..domain.methods import is_pulled
from ..domain.units import high_lb
from ..forms.pulls import EstimateForm, PullForm
from ..forms.safety import StartForm
from ..models import PullExplanation
from ..operations.pulls import (
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
from .scope import DO, ESTIMATE, EXPLAIN, REVIEW, OrderAct, WorkAct, WorkView


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


class StartView(WorkView):
    """The safety answers without which the pull cannot be recorded as started."""

    permissions = DO

    def get(self, request, pk):
        """Show what is asked, and what stands against a start before anybody answers."""
        order = self.order()
        form = StartForm(initial={"on": today()}, pulls=is_pulled(order.method))
        return self._show(order, form, findings_on_record(order, today()))

    def post(self, request, pk):
        """Record the start, or show what stands against it and what to do."""
        order, findings = self.order(), []
        form = StartForm(request.POST, pulls=is_pulled(order.method))
        if form.is_valid():
            try:
                pull_start(work_order=order, facts=form.facts(), by=self.by, at=now(),
                           on=form.cleaned_data["on"])  # fmt: skip
                return self.done("The start is on record.", "work_order", pk)
            except StartRefused as error:
                findings = error.findings
            except PullRefused as error:
                form.add_error(None, str(error))
        return self._show(order, form, findings)

    def _show(self, order, form, findings=()):
        context = {
            "order": order,
            "form": form,
            "findings": findings,
            "stops": worst(findings) is Level.STOP,
            "cautions": cautions_for(
                *BEFORE, Step.LOADED, Step.LEAVING, pulled=is_pulled(order.method)
            ),
        }
        return render(self.request, "replacements/start.html", context)


class StartWithdrawView(OrderAct):
    """Taking a start back, such as one recorded for the wrong order."""

    permissions = DO

    def keep(self, order, given):
        reason = self.request.POST.get("reason", "")
        pull_start_withdraw(work_order=order, reason=reason, **self.signed())
        return "The start is withdrawn. Nothing is pulled."


class PullUploadView(WorkView):
    """The log of a pull, read and judged as it arrives."""

    permissions = DO

    def get(self, request, pk):
        order = self.order()
        return self._show(order, PullForm.of(order, today()))

    @classmethod
    def read_ahead(cls, request):
        """Read the log before the database is held; `post` says why one can't be read."""
        form = PullForm(request.POST, request.FILES)
        if cls.lets_in(request.user) and form.is_valid():
            with suppress(PullRefused):
                request.log_read = log_read(
                    log=form.cleaned_data["log"], machine=form.machine(), columns=form.columns()
                )

    def post(self, request, pk):
        """Read the log; a file that cannot be read is refused with the reason."""
        order, form = self.order(), PullForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                made = pull_record(
                    work_order=order,
                    log=form.cleaned_data["log"],
                    read_before=getattr(request, "log_read", None),
                    machine=form.machine(),
                    columns=form.columns(),
                    by=self.by,
                    at=now(),
                    pulled_on=form.cleaned_data["pulled_on"],
                )
                said = f"The log is read: {made.peak_lbf or 0:,.0f} lb at most, {made.verdict}."
                return self.done(said, "work_order", pk)
            except PullRefused as error:
                form.add_error("log", str(error))
        return self._show(order, form)

    def _show(self, order, form):
        context = {
            "order": order,
            "form": form,
            "start": start_on_record(order),
            "cautions": cautions_for(*AFTER),
        }
        return render(self.request, "replacements/pull_form.html", context)


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
