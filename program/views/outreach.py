"""Outreach: health agencies, schools, plumbers and the community: who, when, with what proof."""

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.models import OutreachAct, OutreachPartner
from program.operations.outreach import outreach_record, partner_add
from program.queries.outreach import DUTY_OF, acts_of, audiences_of, reached_in
from program.sampling_forms import OutreachForm, PartnerForm
from services_inventory.given import number_given
from services_inventory.sending import document_sent

from .acts import Act, TakeBack
from .permitted import Permitted

FIRST_YEAR = 2024
RECORD = "program.record_samples"


class OutreachView(Permitted, TemplateView):
    """A calendar year: how each audience stands, what was done, the list."""

    template_name = "program/outreach.html"

    def get_context_data(self, **kwargs):
        """Give the year that the address asks for, or the running one."""
        year = number_given(self.request.GET.get("year"), "Year") or today().year
        if not FIRST_YEAR <= year <= today().year:
            raise Http404
        return super().get_context_data(
            year=year,
            years=range(today().year, FIRST_YEAR - 1, -1),
            reached=[(one, DUTY_OF.get(one.audience)) for one in reached_in(year)],
            acts=[(act, audiences_of(act)) for act in acts_of(year)],
            gone=OutreachPartner.objects.filter(withdrawn_at__isnull=False).order_by("-id")[:20],
            partner_form=PartnerForm(initial={"since": today()}),
            act_form=OutreachForm(initial={"done_on": today()}),
            can_record=self.request.user.has_perm("program.record_samples"),
            **kwargs,
        )


class OutreachProofView(Permitted, View):
    """The proof of an act."""

    def get(self, request, pk):
        proof = get_object_or_404(OutreachAct, pk=pk, proof__isnull=False).proof
        return document_sent(proof)


class PartnerNewView(Act):
    """Somebody comes onto the list."""

    permission_required, form_class = RECORD, PartnerForm
    page = "outreach"

    def keep(self, thing, given):
        made = partner_add(**given, **self.dated())
        return f"{made.name} is on the list."


class OutreachNewView(Act):
    """Something was sent or said."""

    permission_required, form_class = RECORD, OutreachForm
    page = "outreach"

    def keep(self, thing, given):
        number = len(given["partners"])
        outreach_record(**given, **self.dated())
        return f"Recorded for {number:,} of the list."


class PartnerBackView(TakeBack):
    """Somebody is taken off the list."""

    permission_required, model = RECORD, OutreachPartner

    def back(self, thing):
        return redirect("outreach")


class OutreachBackView(PartnerBackView):
    """What was recorded as done is taken back."""

    model = OutreachAct
