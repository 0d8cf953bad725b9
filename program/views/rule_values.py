"""The rule's values: what the program computes by, how surely it is known, who read it."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect
from django.utils.functional import cached_property
from django.views.generic import TemplateView

from program.clock import now, today
from program.domain.reading import touched
from program.domain.regulation import program_rules
from program.forms import ReadForm, TickForm
from program.models import ValueTick
from program.operations.own_values import NOT_SET, rehearsal_open, value_proposal
from program.operations.ticks import value_tick
from program.own_value_forms import EndForm, OwnValueForm
from program.queries.own_values import own_standings, title_of, unnamed
from program.queries.rule_values import by_paragraph, found_by, readings_of, rule_rows
from program.rules import rules_known
from services_inventory.domain.regulation import UnknownRule
from services_inventory.views import acts

from .acts import TakeBack
from .own_values import Changes, signer
from .permitted import Permitted

SHOWS = (
    ("", "All"),
    ("open", "To be read in the rule's text"),
    ("used", "Used by the submission"),
    ("own", "Set by the State or the utility"),
)

MOST_OPEN = 8  # of so few values found, each is in sight at once


class RuleListView(Permitted, TemplateView):
    """Every value with its mark, citation and source."""

    template_name = "program/rule_values.html"

    def get_context_data(self, **kwargs):
        known = rules_known()
        rows = rule_rows(known.rules, today())
        shows = self.request.GET.get("show", "")
        keep = {
            "open": lambda row: row.open,
            "used": lambda row: row.used_in_submission,
            "own": lambda row: row.value.jurisdiction != "FEDERAL",
        }.get(shows, lambda row: True)
        text = self.request.GET.get("q", "").strip()[:200]
        found = found_by([row for row in rows if keep(row)], text)
        return super().get_context_data(
            rows=found,
            groups=by_paragraph(found),
            all_open=len(found) <= MOST_OPEN,
            q=text,
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

    @cached_property
    def base(self):
        """The value the address names."""
        try:
            return program_rules().all(self.kwargs["rule_id"])[-1]
        except UnknownRule:
            found = unnamed(self.kwargs["rule_id"])
        if found is None:
            raise Http404
        return found

    def get_context_data(self, **kwargs):
        """Give the value's periods and the forms that this role has."""
        user, known = self.request.user, rules_known()
        rows = rule_rows(known.rules, today())
        can_set = user.has_perm("program.manage_utility")
        said = {name: self.request.GET.get(name, "")[:200] for name in ("value", "citation")}
        form = self.own_form or (
            self.base.allowed and OwnValueForm(base=self.base, initial=_given(said))
        )
        return super().get_context_data(
            base=self.base,
            rows=[row for row in rows if row.value.id == self.base.id],
            own=own_standings([self.base.id]),
            faults=[fault for fault in known.faults if self.base.id in fault.value_ids],
            readings=readings_of(self.base.id),
            tick_form=self.tick_form or TickForm(initial={"citation": self.base.citation}),
            own_form=form if can_set else None,
            end_form=EndForm(),
            can_tick=user.has_perm("program.certify_submission"),
            can_set=can_set,
            **kwargs,
        )


class RuleTickView(acts.PageAct, RuleView):
    """Record that somebody read the rule's own text."""

    permission_required, form_class = "program.certify_submission", TickForm
    shown_as = "tick_form"
    http_method_names = ["post"]

    def keep(self, thing, given):
        made = value_tick(value_id=self.base.id, **self.signed(), **self.form.said)
        return self.done(_told(made, self.base.name), "rule_value", self.base.id)


def _given(said: dict[str, str]) -> dict[str, str]:
    return {name: text for name, text in said.items() if text}


def _told(tick, name: str) -> str:
    if tick.confirms:
        return f"{name} is ticked off as read."
    return f"Recorded: the rule says something else of {name}. See what its value would move."


class ReadingView(Permitted, TemplateView):
    """The reading desk: a paragraph of the rule, and the values that it touches."""

    template_name = "program/rule_reading.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give the values that the paragraph touches, with how each stands."""
        form = self.form or ReadForm()
        read, rows = {}, []
        if form.is_bound and form.is_valid():
            read = form.cleaned_data
            rows = self._touched(read)
        return super().get_context_data(
            form=form,
            read=read,
            rows=rows,
            can_tick=self.request.user.has_perm("program.certify_submission"),
            **kwargs,
        )

    def _touched(self, read: dict) -> list[dict]:
        known = {row.value.id: row for row in rule_rows(rules_known().rules, today())
                 if row.in_force}  # fmt: skip
        found = touched(read["text"], read["citation"], [row.value for row in known.values()])
        return [{"one": one, "row": known[one.value.id]} for one in found]

    def post(self, request):
        """Read the paragraph; nothing is kept until a value is ticked."""
        self.form = ReadForm(request.POST)
        return self.render_to_response(
            self.get_context_data(), status=200 if self.form.is_valid() else 422
        )


class TickBackView(TakeBack):
    """A reading is taken back."""

    permission_required, model = "program.certify_submission", ValueTick

    def back(self, tick):
        return redirect("rule_value", tick.value_id)


class RuleOwnView(Changes, acts.PageAct, RuleView):
    """Rehearse a State's, locality's or utility's own value."""

    shown_as = "own_form"

    def post(self, request, rule_id):
        """Lead to its rehearsal, or show the form again with what is wrong."""
        if self.base.allowed is None:
            messages.error(request, NOT_SET.format(rule_id))
            return redirect("rule_value", rule_id)
        return super().post(request)

    def filled(self, thing):
        return OwnValueForm(self.request.POST, base=self.base)

    def keep(self, thing, given):
        text = given.pop("value")
        proposal = value_proposal(value_id=self.base.id, text=text, today=today(), **given)
        batch = rehearsal_open(
            proposals=[proposal], title=title_of([proposal]), at=now(), **signer(self.request)
        )
        return redirect("rehearsal", batch.pk)
