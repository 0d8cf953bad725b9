"""The rule's values: what the program computes by, how surely it is known, who read it."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect
from django.views.generic import TemplateView

from program.clock import now, today
from program.domain.regulation import program_rules
from program.forms import TickForm
from program.operations.own_values import NOT_SET, OwnValueRefused, rehearsal_open, value_proposal
from program.operations.ticks import TickRefused, value_tick
from program.own_value_forms import EndForm, OwnValueForm
from program.queries.own_values import own_standings, title_of, unnamed
from program.queries.rule_values import rule_rows
from program.rules import rules_known
from services_inventory.domain.regulation import UnknownRule

from .own_values import show_errors, signer
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
        known = rules_known()
        rows = rule_rows(known.rules, today())
        shows = self.request.GET.get("show", "")
        keep = {
            "open": lambda row: row.open,
            "used": lambda row: row.used_in_submission,
            "own": lambda row: row.value.jurisdiction != "FEDERAL",
        }.get(shows, lambda row: True)
        return super().get_context_data(
            rows=[row for row in rows if keep(row)],
            number_open=len({row.value.id for row in rows if row.open}),
            faults=known.faults,
            shows=shows,
            choices=SHOWS,
            **kwargs,
        )


class RuleView(Permitted, TemplateView):
    """One value: its periods, the tick, and a value of one's own."""

    template_name = "program/rule_value.html"
    tick_form = own_form = None

    def setup(self, request, *args, **kwargs):
        """Load the value the address names."""
        super().setup(request, *args, **kwargs)
        try:
            self.base = program_rules().all(kwargs["rule_id"])[-1]
        except UnknownRule:
            self.base = unnamed(kwargs["rule_id"])

    def dispatch(self, request, *args, **kwargs):
        """Check who asks before saying what there is."""
        if self.has_permission() and self.base is None:
            raise Http404
        return super().dispatch(request, *args, **kwargs)

    def get_context_data(self, **kwargs):
        """Give the value's periods and the forms that this role has."""
        user, known = self.request.user, rules_known()
        rows = rule_rows(known.rules, today())
        can_set = user.has_perm("program.manage_utility")
        form = self.own_form or (self.base.allowed and OwnValueForm(base=self.base))
        return super().get_context_data(
            base=self.base,
            rows=[row for row in rows if row.value.id == self.base.id],
            own=own_standings([self.base.id]),
            faults=[fault for fault in known.faults if self.base.id in fault.value_ids],
            tick_form=self.tick_form or TickForm(),
            own_form=form if can_set else None,
            end_form=EndForm(),
            can_tick=user.has_perm("program.certify_submission"),
            can_set=can_set,
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


class RuleOwnView(RuleView):
    """Rehearse a State's, locality's or utility's own value."""

    permission_required = "program.manage_utility"
    http_method_names = ["post"]

    def post(self, request, rule_id):
        """Lead to its rehearsal, or show the form again with what is wrong."""
        if self.base.allowed is None:
            messages.error(request, NOT_SET.format(rule_id))
            return redirect("rule_value", rule_id)
        self.own_form = form = OwnValueForm(request.POST, base=self.base)
        if form.is_valid():
            said = form.cleaned_data
            try:
                proposal = value_proposal(
                    value_id=rule_id, text=said.pop("value"), today=today(), **said
                )
                batch = rehearsal_open(
                    proposals=[proposal], title=title_of([proposal]), at=now(), **signer(request)
                )
            except OwnValueRefused as error:
                show_errors(form, error)
            else:
                return redirect("rehearsal", batch.pk)
        return self.render_to_response(self.get_context_data(rule_id=rule_id), status=422)
