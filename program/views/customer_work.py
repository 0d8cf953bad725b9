"""A customer's own replacement of their side: recorded at the line, followed to its end."""

from django import forms
from django.shortcuts import get_object_or_404, redirect
from django.views.generic import TemplateView

from program.clock import today
from program.models import CustomerWork, CustomerWorkStep, Inquiry
from program.operations.customer_work import (
    customer_step_withdraw,
    customer_work_record,
    customer_work_step,
)
from program.queries.customer_work import customer_work_list, customer_work_story
from services_inventory.domain.days import day_told
from services_inventory.forms.days import day_field
from services_inventory.forms.reasons import TakeBackForm
from services_inventory.given import number_given
from services_inventory.models import ServiceLine
from services_inventory.views.acts import Act, TakeBack

from .permitted import Permitted

SHOWN = 200


class CustomerWorkForm(forms.Form):
    """What a customer told."""

    told_on = day_field("The customer told us on")
    planned_on = day_field("They will do it on", required=False, help_text="An estimate will do.")
    done_on = day_field("They did it on", required=False, help_text="Where it is done already.")
    source = forms.CharField(
        label="How it is known",
        max_length=300,
        help_text="For instance: call to the office; plumbing permit number. No names.",
    )


class StepForm(forms.Form):
    """What happened since."""

    kind = forms.ChoiceField(label="What happened", choices=CustomerWorkStep.Kind.choices)
    happened_on = day_field("On")
    source = forms.CharField(
        label="Reason, or how it is known",
        max_length=300,
        help_text="For an extension the reason; for the State's notice where its copy is.",
    )


class CustomerWorkView(Permitted):
    """Who records what customers tell."""

    permission_required = "replacements.record_access"


class CustomerWorkListView(CustomerWorkView, TemplateView):
    """Every record that stands, with its next day."""

    template_name = "program/customer_work_list.html"

    def get_context_data(self, **kwargs):
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


class CustomerWorkRecordView(CustomerWorkView, Act):
    """What the customer told."""

    form_class, model, page = CustomerWorkForm, ServiceLine, "customer_work"

    def keep(self, line, given):
        inquiry = _inquiry(self.request.POST.get("inquiry", ""), line)
        customer_work_record(line=line, inquiry=inquiry, **given, **self.dated())
        return "Recorded; its days are on the calendar."


class CustomerWorkStepView(CustomerWorkView, Act):
    """What happened since."""

    form_class, model = StepForm, CustomerWork

    def keep(self, work, given):
        step = customer_work_step(work=work, **given, **self.dated())
        return f"Recorded: {step.get_kind_display()}, {day_told(step.happened_on)}."

    def back(self, work):
        return redirect("customer_work", work.line_id)


class CustomerWorkTakeBackView(CustomerWorkView, TakeBack):
    """Taking the whole record back."""

    model, told = CustomerWork, "Taken back; it stays readable below."

    def back(self, work):
        return redirect("customer_work", work.line_id)


class CustomerStepTakeBackView(CustomerWorkView, Act):
    """Taking one step back."""

    form_class, model = TakeBackForm, CustomerWorkStep

    def keep(self, step, given):
        customer_step_withdraw(step=step, **given, **self.signed())
        return "Taken back; record it anew if it was wrong."

    def back(self, step):
        return redirect("customer_work", step.work.line_id)
