"""Customers' messages: the list with its clocks, the order to inspect, the answer."""

from django import forms
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.domain.deadlines import Inquiry as InquiryFact
from program.models import Inquiry
from program.operations.inquiries import (
    inquiry_agreed,
    inquiry_answer,
    inquiry_answer_more,
    inquiry_inspect,
    inquiry_offer,
    inquiry_place,
)
from program.queries.inquiries import (
    COLUMNS,
    consent_of,
    inquiry_page,
    inquiry_rows,
    lines_known_as,
)
from program.rules import rules_in_force
from services_inventory.forms.days import day_field
from services_inventory.refused import Refused
from services_inventory.sending import document_sent
from services_inventory.views.acts import Act

from .permitted import Permitted
from .tables import streamed_table


class PlaceForm(forms.Form):
    """Which line a message is about."""

    location_id = forms.CharField(
        label="Location identifier or address of the line", max_length=200
    )


class InspectForm(forms.Form):
    """The order to inspect, and its outcome."""

    note = forms.CharField(
        label="Order to inspect",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Who looks at what, by when, and what access was agreed.",
    )
    inspected_on = day_field("Inspected on", required=False)


class AnswerForm(forms.Form):
    """What the customer is told."""

    answer = forms.CharField(label="Answer", widget=forms.Textarea(attrs={"rows": 4}))
    on = day_field("Answered on")
    by_letter = forms.BooleanField(
        label="Print it as a letter", required=False, help_text="It goes on the list of notices."
    )


class MoreForm(AnswerForm):
    """What the customer is told besides."""

    on = day_field("Told on")


class OfferForm(forms.Form):
    """The day on which an inspection was offered."""

    offered_on = day_field(
        "Offered on", required=False,
        help_text="Empty it if it was not offered. An answer or an inspection counts as an offer.",
    )  # fmt: skip


class AgreedForm(forms.Form):
    """That whoever agreed on line may agree."""

    checked = forms.CharField(
        label="How you know that they own the building",
        max_length=200,
        help_text="For example: the county's roll of March 3, or a call back.",
    )


FORMS = {
    "agreed": AgreedForm,
    "offer": OfferForm,
    "place": PlaceForm,
    "inspect": InspectForm,
    "answer": AnswerForm,
    "answer_more": MoreForm,
}


class InquiryView(Permitted):
    """Who may answer customers."""

    permission_required = "program.answer_inquiry"


class InquiryListView(InquiryView, TemplateView):
    """Open messages by their last day; the answered ones, newest first."""

    template_name = "program/inquiry_list.html"

    def get_context_data(self, **kwargs):
        asked = self.request.GET
        answered, text = asked.get("state") == "answered", asked.get("q", "").strip()[:200]
        kind = asked.get("kind") if asked.get("kind") in Inquiry.Kind.values else ""
        mark = asked.get("after", "")
        rows, after = inquiry_page(answered=answered, text=text, after=mark, kind=kind)
        rules = rules_in_force()
        for row in rows:
            row.offer_due = _offer_due(row, rules)
        return super().get_context_data(
            rows=rows,
            after=after,
            answered=answered,
            q=text,
            as_of=today(),
            kind=kind,
            kinds=Inquiry.Kind.choices,
            **kwargs,
        )


def _offer_due(inquiry: Inquiry, rules):
    """Return by when an inspection is to be offered, None where it was or need not be."""
    if not inquiry.disputes:
        return None
    fact = InquiryFact(
        "", "", inquiry.received_on, inquiry.answered_on, inquiry.inspected_on,
        offered_on=inquiry.offered_on,
    )  # fmt: skip
    offer = next(due for due in fact.dues(today(), rules) if due.rule_id == "DISPUTE_OFFER_DAYS")
    return None if offer.done_on else offer.due_on


class InquiryCsvView(InquiryView, View):
    """Every message with its clocks, for a report or a check; no names."""

    def get(self, request):
        return streamed_table(COLUMNS, inquiry_rows(), f"inquiries-{today()}.csv")


class InquiryOrderView(InquiryView, TemplateView):
    """The order to inspect, to be printed and taken along."""

    template_name = "program/inquiry_order.html"

    def get_context_data(self, pk, **kwargs):
        """Give the message and what the record says of the line."""
        rows = Inquiry.objects.select_related("line__premise", "line__decision")
        inquiry = get_object_or_404(rows, pk=pk)
        return super().get_context_data(inquiry=inquiry, as_of=today(), **kwargs)


class InquiryDetailView(InquiryView, TemplateView):
    """One message with its clocks and what can be done."""

    template_name = "program/inquiry.html"

    def get_context_data(self, pk, **kwargs):
        rows = Inquiry.objects.select_related("line__premise", "photo")
        inquiry = get_object_or_404(rows, pk=pk)
        fact = InquiryFact(
            str(pk), str(inquiry.line_id or ""), inquiry.received_on, inquiry.answered_on,
            inquiry.inspected_on, offered_on=inquiry.offered_on,
        )  # fmt: skip
        dues = [
            due
            for due in fact.dues(today(), rules_in_force())
            if inquiry.disputes or due.rule_id != "DISPUTE_OFFER_DAYS"
        ]
        note = {"note": inquiry.inspection_note, "inspected_on": inquiry.inspected_on}
        return super().get_context_data(
            inquiry=inquiry,
            dues=[(due, due.state(today())) for due in dues],
            place_form=PlaceForm(),
            offer_form=OfferForm(initial={"offered_on": inquiry.offered_on}),
            inspect_form=InspectForm(initial=note),
            agreed_form=AgreedForm(),
            consent=consent_of(inquiry),
            answer_form=AnswerForm(initial={"on": today(), "by_letter": not inquiry.contact}),
            more_form=MoreForm(initial={"on": today()}),
            **kwargs,
        )


class InquiryActView(InquiryView, Act):
    """Say which line it is about, order an inspection, answer."""

    def thing(self, pk, action):
        return get_object_or_404(Inquiry, pk=pk)

    def filled(self, thing):
        return FORMS[self.kwargs["action"]](self.request.POST)

    def keep(self, inquiry, given):
        getattr(self, self.kwargs["action"])(inquiry, given)
        return "Recorded."

    def back(self, inquiry):
        return redirect("inquiry", inquiry.pk)

    def place(self, inquiry, given):
        """Tie the message to a line."""
        lines = lines_known_as(given["location_id"])
        if len(lines) > 1:
            several = ", ".join(line.location_id for line in lines)
            raise Refused(f"Several lines are there: {several}. Give the identifier of one.")
        if not lines:
            raise Refused("There is no line with this identifier or at this address.")
        inquiry_place(inquiry=inquiry, line=lines[0])

    def agreed(self, inquiry, given):
        """Record the consent."""
        inquiry_agreed(inquiry=inquiry, **given, **self.signed())

    def offer(self, inquiry, given):
        """Keep the day of the offer."""
        inquiry_offer(inquiry=inquiry, as_of=today(), **given)

    def inspect(self, inquiry, given):
        """Keep the order to inspect."""
        inquiry_inspect(inquiry=inquiry, as_of=today(), by=self.by, **given)

    def answer(self, inquiry, given):
        """Keep the answer."""
        inquiry_answer(inquiry=inquiry, by=self.by, as_of=today(), **given)

    def answer_more(self, inquiry, given):
        """Add to the answer."""
        inquiry_answer_more(inquiry=inquiry, by=self.by, as_of=today(), **given)


class InquiryPhotoView(InquiryView, View):
    """The photo or document that came with a message; for staff only."""

    def get(self, request, pk):
        inquiry = get_object_or_404(Inquiry, pk=pk)
        if inquiry.photo is None:
            raise Http404
        return document_sent(inquiry.photo)
