"""The first hour: one page with five steps, which may be left, taken up again and passed over."""

from django import forms
from django.contrib import messages
from django.shortcuts import redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.domain.utility_facts import INVENTED, utility_facts
from program.operations.first_hour import OwnValueRefused, step_skip, step_take_up, system_enter
from program.own_value_forms import value_field
from program.queries.first_hour import STEPS, first_hour
from program.rules import utility_facts_on
from services_inventory.domain.allowed import typed
from services_inventory.models import Batch
from services_inventory.queries.counts_now import category_counts_now

from .own_values import show_errors, signer
from .people import InviteForm
from .permitted import Permitted

FACTS = ("name", "pwsid", "state", "time_zone", "connections")
SAMPLES = (
    ("1-billing.csv", "Billing: premises only, with classes R1, C2, M3 that it asks you about."),
    ("2-gis-points.csv", "GIS points: a code L that it asks you about, and a pair of coordinates "
     "exchanged, which is held."),
    ("3-tap-cards.csv", "Tap cards: years of two digits, how each is known, one year misread."),
    ("4-field-visits.csv", "Field visits: no identifiers, addresses misspelled, a range; some wait "
     "for you to say which line they mean."),
)  # fmt: skip


class SystemForm(forms.Form):
    """The few facts of the utility that everything else begins with."""

    def __init__(self, *args, facts: dict, **kwargs):
        super().__init__(*args, initial={n: typed(facts[n]) for n in FACTS}, **kwargs)
        for name in FACTS:
            fact = utility_facts()[name]
            needed = name != "time_zone"
            self.fields[name] = value_field(fact.allowed, fact.label, fact.help, required=needed)
        if facts["state"] != INVENTED:  # a real utility would be refused with it
            state = self.fields["state"].widget
            state.choices = [choice for choice in state.choices if choice[0] != INVENTED]


class FirstHourView(Permitted, TemplateView):
    """The five steps, and the form of the first."""

    permission_required = "services_inventory.intake"
    template_name = "program/first_hour.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give the steps as they stand, with the forms of who may fill them in."""
        user = self.request.user
        form = self.form or SystemForm(facts=utility_facts_on(today()))
        return super().get_context_data(
            steps=first_hour(), samples=SAMPLES, counts=category_counts_now(),
            form=form if user.has_perm("program.manage_utility") else None,
            invite=InviteForm() if user.has_perm("program.manage_people") else None, **kwargs,
        )  # fmt: skip

    def post(self, request):
        """Keep the facts of the utility, or lead to what they would move."""
        if not request.user.has_perm("program.manage_utility"):
            return self.handle_no_permission()
        self.form = form = SystemForm(request.POST, facts=utility_facts_on(today()))
        if form.is_valid():
            try:
                batch = system_enter(
                    texts=form.cleaned_data, today=today(), at=now(), **signer(request)
                )
            except OwnValueRefused as error:
                show_errors(form, error)
            else:
                if batch.state != Batch.State.APPLIED:
                    return redirect("rehearsal", batch.pk)
                messages.success(request, "Kept. It can be corrected under The utility.")
                return redirect("first_hour")
        return self.render_to_response(self.get_context_data(), status=422)


class FirstHourSkipView(Permitted, View):
    """Passing a step over, and taking it up again."""

    permission_required = "services_inventory.intake"

    def post(self, request, step):
        if step in STEPS and request.POST.get("act") == "take_up":
            step_take_up(step=step)
        elif step in STEPS:
            step_skip(step=step, by=request.user.get_username(), at=now())
            messages.info(request, f"{STEPS[step]}: passed over for now.")
        return redirect("first_hour")
