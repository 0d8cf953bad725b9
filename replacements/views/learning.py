"""What accepted pulls taught, soil by soil; who puts what into use of the force model."""

from django.http import Http404
from django.shortcuts import render

from services_inventory.today import now

from ..domain.pull_force import soils
from ..forms.learning import ConstantsForm, ReasonForm
from ..operations.calibration import (
    calibration_put_in_use,
    calibration_take_out,
    constants_put_in_use,
)
from ..queries.learning import constants_shown, soil_shown, soils_shown
from .scope import WorkForm, WorkView

SET = "replacements.set_force_model"


class LearningListView(WorkView):
    """Each soil class: prior, accepted pulls, what is believed now, what is in use."""

    permissions = ("replacements.view_all_work",)

    def get(self, request):
        context = {"rows": soils_shown(now()), **constants_shown(now())}
        return render(request, "replacements/learning_list.html", context)


class LearningView(WorkForm):
    """One soil: its pulls, how the belief narrows; putting what was learned into use."""

    permissions, records = ("replacements.view_all_work",), (SET,)
    form_class, template_name, page = ReasonForm, "replacements/learning.html", "learning"

    def thing(self, soil):
        if soil not in soils():
            raise Http404
        return soil

    def keep(self, soil, given):
        act = calibration_take_out if "out" in self.request.POST else calibration_put_in_use
        act(soil=soil, **self.signed(), **given)
        return "Estimates from now on follow it."

    def beside(self, soil, form):
        return soil_shown(soil, now())


class ConstantsView(WorkForm):
    """The constants of the force model: shipped, in use, and who changed them when."""

    permissions, records = ("replacements.view_all_work",), (SET,)
    template_name, page = "replacements/constants.html", "force_constants"

    def thing(self):
        return constants_shown(now())

    def first(self, shown, *posted):
        return ConstantsForm(*posted, in_use=shown["constants"], limits=shown["limits"])

    def filled(self, shown):
        return self.first(shown, self.request.POST)

    def keep(self, shown, given):
        made = constants_put_in_use(
            values=self.form.values(), string_limits=self.form.string_limits(),
            reason=given["reason"], **self.signed(),
        )  # fmt: skip
        return f"Set {made.parameter_set} is in use."

    def beside(self, shown, form):
        return shown
