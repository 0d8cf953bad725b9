"""Before the pull: estimate and safe start. After it: the log."""

from django.shortcuts import get_object_or_404, render

from services_inventory.today import now, today

from ..domain.safety import CAUTIONS
from ..domain.units import high_lb
from ..forms.pulls import EstimateForm, PullForm
from ..forms.safety import StartForm
from ..operations.pulls import (
    EstimateRefused,
    PullRefused,
    StartRefused,
    estimate_make,
    pull_record,
    pull_start,
    pull_withdraw,
)
from ..queries.access import consent_state
from .scope import DO, ESTIMATE, WorkView


class EstimateView(WorkView):
    """Making a force estimate from what is known now."""

    permissions = ESTIMATE

    def post(self, request, pk):
        """Make the estimate and show it on the order's page."""
        order = self.order()
        form = EstimateForm.asked_of(order, request.POST)
        if not form.is_valid():
            return self.refused("Write plate, ground, temperature (up to 120 °F), minutes (up to a "
                                "day) and what was measured as numbers above zero.",
                                "work_order", pk)  # fmt: skip
        try:
            made = estimate_make(work_order=order, by=self.by, at=now(), **form.given())
        except (EstimateRefused, ValueError) as error:
            return self.refused(str(error), "work_order", pk)
        return self.done(
            f"Estimated: {made.expected_lbf:,.0f} lb expected, up to {high_lb(made.high_lbf)}.",
            "work_order", pk,
        )  # fmt: skip


class StartView(WorkView):
    """The safety answers without which the pull cannot be recorded as started."""

    permissions = DO

    def get(self, request, pk):
        """Show what is asked."""
        return self._show(self.order(), StartForm(initial={"on": today()}))

    def post(self, request, pk):
        """Record the start, or show what stands against it and what to do."""
        order, form, findings = self.order(), StartForm(request.POST), []
        if form.is_valid():
            try:
                pull_start(work_order=order, facts=form.facts(), by=self.by, at=now(),
                           on=form.cleaned_data["on"])  # fmt: skip
                return self.done("The start is on record. Work safely.", "work_order", pk)
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
            "cautions": CAUTIONS,
            "consent": consent_state(order.line, today()),
        }
        return render(self.request, "replacements/start.html", context)


class PullUploadView(WorkView):
    """The log of a pull, read and judged as it arrives."""

    permissions = DO

    def get(self, request, pk):
        """Show the form."""
        order = self.order()
        return self._show(order, PullForm.of(order, today()))

    def post(self, request, pk):
        """Read the log; a file that cannot be read is refused with the reason."""
        order, form = self.order(), PullForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                made = pull_record(
                    work_order=order,
                    log=form.cleaned_data["log"],
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
        started = (order.safety or {}).get("started_on")
        context = {"order": order, "form": form, "started": started}
        return render(self.request, "replacements/pull_form.html", context)


class PullWithdrawView(WorkView):
    """Taking a pull back that does not count."""

    permissions = DO

    def post(self, request, pk, pull):
        """Withdraw the pull with a reason."""
        found = get_object_or_404(self.order().pulls, pk=pull)
        try:
            pull_withdraw(pull=found, by=self.by, at=now(), reason=request.POST.get("reason", ""))
        except PullRefused as error:
            return self.refused(str(error), "work_order", pk)
        return self.done("The pull is withdrawn.", "work_order", pk)
