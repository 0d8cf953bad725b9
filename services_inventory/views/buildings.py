"""The building at the end of a line: its kind and the plumbing inside, recorded and put back."""

from django.shortcuts import get_object_or_404, redirect
from django.views.generic import TemplateView

from ..forms.buildings import BuildingForm
from ..forms.evidence import ReasonForm
from ..models import PremiseChange, ServiceLine
from ..operations.buildings import FIELDS, building_put_back, building_record
from ..queries.buildings import building_changes, building_facts
from .acts import Act, PageAct
from .permitted import Permitted


class BuildingView(PageAct, Permitted, TemplateView):
    """What is on record of the building, its history, and the form to record more."""

    permission_required = "services_inventory.record_evidence"
    template_name = "services_inventory/building.html"
    form_class, form, page = BuildingForm, None, "building"

    def get_context_data(self, pk, **kwargs):
        line = get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)
        known = {name: getattr(line.premise, name) for name in FIELDS}
        return super().get_context_data(
            line=line,
            facts=building_facts(line.premise),
            changes=building_changes(line.premise),
            form=self.form or BuildingForm(initial=known),
            **kwargs,
        )

    def thing(self, pk) -> ServiceLine:
        return get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)

    def keep(self, line, given):
        """Record it; what cannot be true comes back beside the form."""
        building_record(premise=line.premise, **self.signed(), **given)
        return "Recorded; the sampling tiers go by it from now."


class BuildingPutBackView(Permitted, Act):
    """Putting back what a change found."""

    permission_required = "services_inventory.record_evidence"
    form_class, model = ReasonForm, PremiseChange

    def keep(self, change, given):
        building_put_back(change=change, **given, **self.signed())
        return "Put back."

    def back(self, change):
        return redirect("building", change.premise.lines.order_by("id").first().pk)
