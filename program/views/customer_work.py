"""A customer's own replacement of their side: recorded at the line, followed to its end."""

from django import forms
from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.models import CustomerWork, CustomerWorkStep, Inquiry
from program.operations.customer_work import (
    CustomerWorkRefused,
    customer_step_withdraw,
    customer_work_record,
    customer_work_step,
    customer_work_withdraw,
)
from program.queries.customer_work import customer_work_list, customer_work_story
from services_inventory.domain.days import day_told
from services_inventory.given import number_given
from services_inventory.models import ServiceLine

from .permitted import Permitted

SHOWN = 200


def _day(label: str, required: bool = True, help_text: str = "") -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=required, help_text=help_text, widget=widget)


class CustomerWorkForm(forms.Form):
    """What a customer told."""

    told_on = _day("The customer told us on")
    planned_on = _day("They will do it on", required=False, help_text="An estimate will do.")
    done_on = _day("They did it on", required=False, help_text="Where it is done already.")
    source = forms.CharField(
        label="How it is known",
        max_length=300,
        help_text="For instance: call to the office; plumbing permit number. No names.",
    )


class StepForm(forms.Form):
    """What happened since."""

    kind = forms.ChoiceField(label="What happened", choices=CustomerWorkStep.Kind.choices)
    happened_on = _day("On")
    source = forms.CharField(
        label="Reason, or how it is known",
        max_length=300,
        help_text="For an extension the reason; for the State's notice where its copy is.",
    )


class TakeBackForm(forms.Form):
    """Why something is taken back."""

    reason = forms.CharField(label="Reason", max_length=300)


class CustomerWorkView(Permitted):
    """Who records what customers tell."""

    permission_required = "replacements.record_access"


class CustomerWorkListView(CustomerWorkView, TemplateView):
    """Every record that stands, with its next day."""

    template_name = "program/customer_work_list.html"

    def get_context_data(self, **kwargs):
        """Give the list."""
        rows = customer_work_list(today(), SHOWN)
        return super().get_context_data(rows=rows, as_of=today(), shown=SHOWN, **kwargs)


class LineCustomerWorkView(CustomerWorkView, TemplateView):
    """What a customer told about one line, its clocks, and what happened since."""

    template_name = "program/customer_work.html"

    def get_context_data(self, pk, **kwargs):
        """Give the record, the clocks and the forms; `?inquiry=` fills the form from a message."""
        line = get_object_or_404(ServiceLine.objects.select_related("premise"), pk=pk)
        inquiry = _inquiry(self.request.GET.get("inquiry", ""), line)
        story = customer_work_story(line, today())
        step_form = StepForm(initial={"happened_on": today()})
        step_form.fields["kind"].choices = [(k.value, k.label) for k in story.get("next_kinds", ())]
        return super().get_context_data(
            line=line,
            inquiry=inquiry,
            form=CustomerWorkForm(initial=_told(inquiry)),
            step_form=step_form,
            **story,
            **kwargs,
        )


def _inquiry(text: str, line: ServiceLine) -> Inquiry | None:
    number = number_given(text, "Inquiry")
    return get_object_or_404(line.inquiries, pk=number) if number is not None else None


def _told(inquiry: Inquiry | None) -> dict:
    if inquiry is None:
        return {"told_on": today()}
    return {
        "told_on": inquiry.received_on,
        "done_on": inquiry.replaced_on,
        "source": f"Inquiry {inquiry.pk}",
    }


class CustomerWorkActView(CustomerWorkView, View):
    """Keep what a form says, or say why not; then back to the line's page of it."""

    form_class = CustomerWorkForm

    def post(self, request, pk):
        self.said_by = {"by": request.user.get_username(), "at": now()}
        line, form = self.line_of(pk), self.form_class(request.POST)
        if not form.is_valid():
            for name, errors in form.errors.items():
                messages.error(request, f"{form.fields[name].label}: {' '.join(errors)}")
            return redirect("customer_work", line.pk)
        try:
            messages.success(request, self.keep(line, form.cleaned_data))
        except CustomerWorkRefused as error:
            messages.error(request, str(error))
        return redirect("customer_work", line.pk)


class CustomerWorkRecordView(CustomerWorkActView):
    """What the customer told."""

    def line_of(self, pk):
        """Return the line of the address."""
        return get_object_or_404(ServiceLine, pk=pk)

    def keep(self, line, given):
        """Record it, with the message it came from."""
        inquiry = _inquiry(self.request.POST.get("inquiry", ""), line)
        customer_work_record(line=line, inquiry=inquiry, today=today(), **given, **self.said_by)
        return "Recorded; its days are on the calendar."


class CustomerWorkStepView(CustomerWorkActView):
    """What happened since."""

    form_class = StepForm

    def line_of(self, pk):
        """Return the line of the record."""
        self.work = get_object_or_404(CustomerWork, pk=pk)
        return self.work.line

    def keep(self, line, given):
        """Record the step."""
        step = customer_work_step(work=self.work, today=today(), **given, **self.said_by)
        return f"Recorded: {step.get_kind_display()}, {day_told(step.happened_on)}."


class CustomerWorkTakeBackView(CustomerWorkStepView):
    """Taking the whole record back."""

    form_class = TakeBackForm

    def keep(self, line, given):
        """Take it back."""
        customer_work_withdraw(work=self.work, **given, **self.said_by)
        return "Taken back; it stays readable below."


class CustomerStepTakeBackView(CustomerWorkActView):
    """Taking one step back."""

    form_class = TakeBackForm

    def line_of(self, pk):
        """Return the line of the step."""
        self.step = get_object_or_404(CustomerWorkStep, pk=pk)
        return self.step.work.line

    def keep(self, line, given):
        """Take it back."""
        customer_step_withdraw(step=self.step, **given, **self.said_by)
        return "Taken back; record it anew if it was wrong."
