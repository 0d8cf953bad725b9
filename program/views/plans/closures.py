"""Closed block faces: entered on the map or in words, seen with what they touch, and taken back."""

from django import forms
from django.db import transaction
from django.http import JsonResponse
from django.shortcuts import redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.domain.calendar import program_year_bounds
from program.queries.planning.closures import Touched, touched_by
from program.queries.planning.setting_fields import YearsField
from program.rules import rules_in_force
from program.views.acts import Act, PageAct
from program.views.permitted import Permitted
from replacements.domain.closures import Side
from replacements.models import StreetClosure
from replacements.operations.closures import closure_record, closure_withdraw
from replacements.queries.closures import closures_from, faces_geojson
from services_inventory.forms.days import day_field

from .board import MANAGE

_END = "House number, or the street that crosses there"
SHOWN = 500


class ClosureForm(forms.Form):
    """A block face, its days or program years, and why."""

    street = forms.CharField(label="Street", max_length=120)
    start = forms.CharField(label="From", max_length=120, required=False, help_text=_END)
    end = forms.CharField(
        label="To", max_length=120, required=False, help_text="Leave both empty for all of it"
    )
    side = forms.ChoiceField(label="Side", choices=[(s.value, s.label) for s in Side])
    first_day = day_field("First day", required=False)
    last_day = day_field("Last day", required=False)
    years = YearsField(label="Or program years", required=False, help_text="Such as 4 or 4-5")
    reason = forms.CharField(label="Why", max_length=200, required=False)

    def clean(self):
        """Make days of program years; ask for one of both."""
        data = super().clean()
        first, last, years = data.get("first_day"), data.get("last_day"), data.get("years")
        if self.errors:
            return data
        if years and (first or last):
            self.add_error("years", "Give the days or the program years, not both.")
        elif years and years[-1] - years[0] + 1 != len(years):
            self.add_error("years", "Give years in a row; others as another closure.")
        elif years:
            rules = rules_in_force()
            data["first_day"] = program_year_bounds(years[0], rules)[0]
            data["last_day"] = program_year_bounds(years[-1], rules)[1]
        elif not (first and last):
            self.add_error("first_day", "Give the first and the last day, or program years.")
        return data


class ClosuresView(Permitted, TemplateView):
    """The closures to come and in force, on the map and in a list, and entering one."""

    template_name = "program/plan_closures.html"
    form = None

    def get_context_data(self, **kwargs):
        found = closures_from(today())
        return super().get_context_data(
            closures=found[:SHOWN],
            more=max(0, len(found) - SHOWN),
            form=self.form or ClosureForm(),
            can_manage=self.request.user.has_perm(MANAGE),
            **kwargs,
        )


class ClosureNewView(PageAct, ClosuresView):
    """Show what a closure touches; sent again with `keep`, close the face."""

    permission_required, form_class = MANAGE, ClosureForm
    http_method_names = ("post",)

    def keep(self, thing, given):
        keep = "keep" in self.request.POST
        data = {name: value for name, value in given.items() if name != "years"}
        found = _closed(keep, **data, **self.signed())
        if keep:
            told = f"{found.closure}. Draw the plan again, and it works around it."
            return self.done(told, "plan_closures")
        sent = [(name, self.request.POST.get(name, "")) for name in self.form.fields]
        return self.render_to_response(self.get_context_data(touched=found, sent=sent))


def _closed(keep: bool, **said) -> Touched:
    """Close a face, and tell what that touches; unless it is kept, nothing of it stays."""
    with transaction.atomic():
        found = touched_by(closure_record(**said))
        transaction.set_rollback(not keep)
    return found


class ClosureWithdrawView(Act):
    """Take a closure back."""

    permission_required, model = MANAGE, StreetClosure

    def keep(self, closure, given):
        reason = self.request.POST.get("reason", "")
        closure_withdraw(closure=closure, reason=reason, **self.signed())
        return f"{closure.as_face.where} is open again."

    def back(self, closure):
        return redirect("plan_closures")


class ClosureShapesView(Permitted, View):
    """The closures that are not over as lines along their houses, for every map of a plan."""

    def get(self, request):
        return JsonResponse(faces_geojson(today()))
