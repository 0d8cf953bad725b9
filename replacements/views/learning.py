"""What accepted pulls taught, soil by soil; who puts what into use of the force model."""

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import render

from services_inventory.refused import Refused
from services_inventory.today import now

from ..domain.pull_force import soils
from ..forms.learning import ConstantsForm, ReasonForm
from ..operations.calibration import (
    calibration_put_in_use,
    calibration_take_out,
    constants_put_in_use,
)
from ..queries.learning import constants_shown, soil_shown, soils_shown
from .scope import WorkView

SET = "replacements.set_force_model"


class LearningListView(WorkView):
    """Each soil class: prior, accepted pulls, what is believed now, what is in use."""

    permissions = ("replacements.view_all_work",)

    def get(self, request):
        context = {"rows": soils_shown(now()), **constants_shown(now())}
        return render(request, "replacements/learning_list.html", context)


class LearningView(WorkView):
    """One soil: its pulls, how the belief narrows, what was in use when."""

    permissions = ("replacements.view_all_work",)

    def get(self, request, soil):
        return self._show(soil, ReasonForm())

    def post(self, request, soil):
        """Put what was learned into use, or take it out."""
        if not request.user.has_perm(SET):
            raise PermissionDenied
        form = ReasonForm(request.POST)
        if form.is_valid():
            act = calibration_take_out if "out" in request.POST else calibration_put_in_use
            try:
                act(soil=soil, by=self.by, at=now(), reason=form.cleaned_data["reason"])
                return self.done("Estimates from now on follow it.", "learning", soil)
            except Refused as error:
                form.add_error(None, str(error))
        return self._show(soil, form)

    def _show(self, soil, form):
        if soil not in soils():
            raise Http404
        context = {**soil_shown(soil, now()), "form": form}
        return render(self.request, "replacements/learning.html", context)


class ConstantsView(WorkView):
    """The constants of the force model: shipped, in use, and who changed them when."""

    permissions = ("replacements.view_all_work",)

    def get(self, request):
        shown = constants_shown(now())
        form = ConstantsForm(in_use=shown["constants"], limits=shown["limits"])
        return self._show(shown, form)

    def post(self, request):
        if not request.user.has_perm(SET):
            raise PermissionDenied
        shown = constants_shown(now())
        form = ConstantsForm(request.POST, in_use=shown["constants"], limits=shown["limits"])
        if form.is_valid():
            try:
                made = constants_put_in_use(values=form.values(), by=self.by, at=now(),
                                            string_limits=form.string_limits(),
                                            reason=form.cleaned_data["reason"])  # fmt: skip
                return self.done(f"Set {made.parameter_set} is in use.", "force_constants")
            except Refused as error:
                form.add_error(None, str(error))
        return self._show(shown, form)

    def _show(self, shown, form):
        return render(self.request, "replacements/constants.html", {**shown, "form": form})
