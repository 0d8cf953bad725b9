"""The rule's values: what the program computes by, how surely it is known, who read it."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect
from django.views.generic import TemplateView

from program.clock import now, today
from program.domain.regulation import program_rules
from program.forms import OverrideForm, TickForm
from program.operations.ticks import TickRefused, value_override, value_tick
from program.queries.rule_values import rule_rows
from program.rules import rules_in_force
from services_inventory.domain.regulation import UnknownRule

from .permitted import Permitted

SHOWS = (
    ("", "All"),
    ("open", "To be read in the rule's text"),
    ("used", "Used by the submission"),
    ("own", "Set by the State or the utility"),
)


class RuleListView(Permitted, TemplateView):
    """Every value with its mark, citation and source."""

    template_name = "program/rule_values.html"

    def get_context_data(self, **kwargs):
        """Give the values that the address asks for."""
        rows = rule_rows(rules_in_force(), today())
        shows = self.request.GET.get("show", "")
        keep = {
            "open": lambda row: row.open,
            "used": lambda row: row.used_in_submission,
            "own": lambda row: row.value.jurisdiction != "FEDERAL",
        }.get(shows, lambda row: True)
        return super().get_context_data(
            rows=[row for row in rows if keep(row)],
            number_open=len({row.value.id for row in rows if row.open}),
            shows=shows,
            choices=SHOWS,
            **kwargs,
        )


class RuleView(Permitted, TemplateView):
    """One value: its periods, the tick, and a value of one's own."""

    template_name = "program/rule_value.html"
    tick_form = override_form = None

    def setup(self, request, *args, **kwargs):
        """Load the value the address names."""
        super().setup(request, *args, **kwargs)
        try:
            self.base = program_rules().all(kwargs["rule_id"])[-1]
        except UnknownRule:
            self.base = None

    def dispatch(self, request, *args, **kwargs):
        """Check who asks before saying what there is."""
        if self.has_permission() and self.base is None:
            raise Http404
        return super().dispatch(request, *args, **kwargs)

    def get_context_data(self, **kwargs):
        """Give the value's periods and the forms that this role has."""
        user = self.request.user
        rows = rule_rows(rules_in_force(), today())
        return super().get_context_data(
            base=self.base,
            rows=[row for row in rows if row.value.id == self.base.id],
            tick_form=self.tick_form or TickForm(),
            override_form=self.override_form or OverrideForm(base=self.base),
            can_tick=user.has_perm("program.certify_submission"),
            can_override=user.has_perm("program.manage_utility"),
            **kwargs,
        )


class RuleTickView(RuleView):
    """Record that somebody read the rule's own text."""

    permission_required = "program.certify_submission"
    http_method_names = ["post"]

    def post(self, request, rule_id):
        """Tick the value off, or show the form again."""
        self.tick_form = TickForm(request.POST)
        if not self.tick_form.is_valid():
            return self.get(request, rule_id=rule_id)
        try:
            value_tick(
                value_id=rule_id,
                read_where=self.tick_form.cleaned_data["read_where"],
                by=request.user.get_username(),
                at=now(),
            )
        except TickRefused as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"{rule_id} is ticked off as read.")
        return redirect("rule_value", rule_id)


class RuleOverrideView(RuleView):
    """Record a State's, locality's or utility's own value."""

    permission_required = "program.manage_utility"
    http_method_names = ["post"]

    def post(self, request, rule_id):
        """Record it, or show the form again with what is wrong."""
        self.override_form = form = OverrideForm(request.POST, base=self.base)
        if form.is_valid():
            try:
                value_override(
                    value_id=rule_id,
                    author=request.user.get_full_name() or request.user.get_username(),
                    at=now(),
                    **form.cleaned_data,
                )
            except TickRefused as error:
                form.add_error(None, str(error))
        if form.errors:
            return self.render_to_response(self.get_context_data(rule_id=rule_id), status=422)
        messages.success(request, f"{rule_id} is recorded. Restate the inventory if it classifies.")
        return redirect("rule_value", rule_id)
