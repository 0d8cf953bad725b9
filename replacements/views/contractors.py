"""What must be in order before a contractor works."""

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render

from services_inventory.today import now, today
from services_inventory.views.acts import refusals_on

from ..completion.photos import paper_keep
from ..forms.contractors import CertificateForm, CrewForm, DomesticForm, LotForm
from ..models import Contractor
from ..operations.contractors import (
    certificate_record,
    crew_record,
    domestic_content_ask,
    material_lot_record,
)
from ..queries.readiness import certificates_ready, lots_ready
from .scope import PLAN, SEE, WorkView

# The button that was pressed tells which form was sent.
FORMS = {
    "certificate": CertificateForm,
    "lot_papers": LotForm,
    "crew": CrewForm,
    "domestic": DomesticForm,
}
KINDS = ("lot_papers", "crew", "domestic")


class ReadinessListView(WorkView):
    """Each contractor with what is missing; a contractor goes straight to its own page."""

    def get(self, request):
        if self.company:
            return redirect("readiness", self.company.pk)
        rows = [(c, certificates_ready(c, today())) for c in Contractor.objects.order_by("name")]
        return render(request, "replacements/readiness_list.html", {"rows": rows})


class ReadinessView(WorkView):
    """One contractor's certificates and lots."""

    permissions = SEE

    def contractor(self) -> Contractor:
        """The company of the address, if this user may see it."""
        if self.company:
            return get_object_or_404(
                Contractor, pk=self.kwargs["pk"], members__user=self.request.user
            )
        return get_object_or_404(Contractor, pk=self.kwargs["pk"])

    def get(self, request, pk):
        return self._show(self.contractor())

    def post(self, request, pk):
        """Record a certificate, a lot or a crew, or what is asked of the company."""
        contractor = self.contractor()
        kind = next((name for name in KINDS if name in request.POST), "certificate")
        if kind == "domestic" and not request.user.has_perm(PLAN[0]):
            raise PermissionDenied
        form = FORMS[kind](request.POST, request.FILES)
        if form.is_valid():
            with refusals_on(form):
                with transaction.atomic():
                    self._record(kind, contractor, form)
                return self.done("Recorded.", "readiness", pk)
        return self._show(contractor, **{kind: form})

    def _record(self, kind: str, contractor: Contractor, form) -> None:
        if kind == "domestic":
            domestic_content_ask(contractor=contractor, **form.cleaned_data)
        elif kind == "crew":
            crew_record(contractor=contractor, **form.values())
        else:
            record = material_lot_record if kind == "lot_papers" else certificate_record
            who = {"by": self.by, "at": now()}
            record(
                contractor=contractor, document=self._paper(contractor, form, who),
                **who, **form.values(),
            )  # fmt: skip

    def _paper(self, contractor: Contractor, form, who: dict):
        file = form.cleaned_data["paper"]
        if not file:
            return None
        key = f"contractor:{contractor.pk}"
        return paper_keep(file=file, kind="CERTIFICATE", owner_key=key, **who)

    def _show(self, contractor: Contractor, **forms):
        context = {
            "contractor": contractor,
            "ready": certificates_ready(contractor, today()),
            "certificates": contractor.certificates.select_related("document").order_by(
                "-expires_on"
            ),
            "lots": lots_ready(contractor),
            "crews": contractor.crews.filter(active=True).order_by("name"),
            "domestic": DomesticForm(initial={"required": contractor.domestic_content_required}),
            **_empty_forms(),
            **forms,
        }
        return render(self.request, "replacements/readiness.html", context)


def _empty_forms() -> dict:
    return {name: form(auto_id=f"{name}_%s") for name, form in FORMS.items() if name != "domestic"}
