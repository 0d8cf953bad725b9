"""The building at the end of a line: its kind and the plumbing inside, recorded and put back."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.views import View

from ..forms.buildings import BuildingForm
from ..forms.evidence import ReasonForm
from ..models import PremiseChange, ServiceLine
from ..operations.buildings import FIELDS, BuildingRefused, building_put_back, building_record
from ..queries.buildings import building_changes, building_facts
from ..today import now
from .accepting import accepted
from .permitted import Permitted


class BuildingView(Permitted, View):
    """What is on record of the building, its history, and the form to record more."""

    permission_required = "services_inventory.record_evidence"

    def setup(self, request, *args, **kwargs):
        """Load the line that the address names."""
        super().setup(request, *args, **kwargs)
        lines = ServiceLine.objects.select_related("premise")
        self.line = lines.filter(pk=kwargs["pk"]).first()

    def get(self, request, pk):
        if self.line is None:
            raise Http404
        premise = self.line.premise
        known = {name: getattr(premise, name) for name in FIELDS}
        return self._show(BuildingForm(initial=known), 200)

    def _show(self, form, status):
        premise = self.line.premise
        context = {
            "line": self.line,
            "facts": building_facts(premise),
            "changes": building_changes(premise),
            "form": form,
        }
        return render(self.request, "services_inventory/building.html", context, status=status)

    def post(self, request, pk):
        """Record it; what cannot be true comes back beside the form."""
        if self.line is None:
            raise Http404
        form = BuildingForm(request.POST)
        if not accepted(form, self._record, BuildingRefused):
            return self._show(form, 422)
        messages.success(request, "Recorded; the sampling tiers go by it from now.")
        return redirect("building", pk)

    def _record(self, data):
        by = self.request.user.get_username()
        return building_record(premise=self.line.premise, by=by, at=now(), **data)


class BuildingPutBackView(Permitted, View):
    """Putting back what a change found."""

    permission_required = "services_inventory.record_evidence"

    def post(self, request, pk):
        """Put it back, or say why not."""
        change = get_object_or_404(PremiseChange, pk=pk)
        line = change.premise.lines.order_by("id").first()
        form = ReasonForm(request.POST)
        by = request.user.get_username()
        try:
            reason = form.cleaned_data["reason"] if form.is_valid() else ""
            building_put_back(change=change, reason=reason, by=by, at=now())
            messages.success(request, "Put back.")
        except BuildingRefused as error:
            messages.error(request, str(error))
        return redirect("building", line.pk)
