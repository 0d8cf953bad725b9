"""What must be in order before a contractor works."""

from django.shortcuts import get_object_or_404, redirect, render

from services_inventory.today import now, today

from ..forms.contractors import CertificateForm, LotForm
from ..models import Contractor
from ..operations.contractors import ContractorError, certificate_record, material_lot_record
from ..queries.readiness import certificates_ready
from .scope import SEE, WorkView


class ReadinessListView(WorkView):
    """Each contractor with what is missing; a contractor goes straight to its own page."""

    def get(self, request):
        """Show the companies."""
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
        """Show what is in order and what is not."""
        return self._show(self.contractor(), CertificateForm(), LotForm())

    def post(self, request, pk):
        """Record a certificate or a lot."""
        contractor, lots = self.contractor(), "lot" in request.POST
        certificate = CertificateForm(None if lots else request.POST)
        lot = LotForm(request.POST if lots else None)
        form = lot if lots else certificate
        record = material_lot_record if lots else certificate_record
        if form.is_valid():
            try:
                record(contractor=contractor, by=self.by, at=now(), **form.values())
                return self.done("Recorded.", "readiness", pk)
            except ContractorError as error:
                form.add_error(None, str(error))
        return self._show(contractor, certificate, lot)

    def _show(self, contractor: Contractor, certificate, lot):
        context = {
            "contractor": contractor,
            "ready": certificates_ready(contractor, today()),
            "certificates": contractor.certificates.order_by("-expires_on"),
            "lots": contractor.lots.order_by("-id")[:100],
            "crews": contractor.crews.order_by("name"),
            "certificate_form": certificate,
            "lot_form": lot,
        }
        return render(self.request, "replacements/readiness.html", context)
