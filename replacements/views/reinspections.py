"""Looking again at accepted work: the draws, one draw, what was seen."""

from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render

from services_inventory.today import today

from ..completion.photos import paper_keep
from ..forms.reinspections import DrawForm, ResultForm
from ..models import Reinspection, ReinspectionDraw
from ..operations.reinspections import reinspection_record, reinspections_draw
from ..queries.reinspections import by_contractor, draws_shown, picks_shown
from .scope import REVIEW, WorkAct, WorkForm, WorkView


class ReinspectionListView(WorkForm):
    """The draws, and a new one."""

    permissions, form_class = REVIEW, DrawForm
    template_name = "replacements/reinspection_list.html"

    def first(self, thing):
        day = today()
        return DrawForm(initial={"first_day": day.replace(day=1), "last_day": day})

    def keep(self, thing, given):
        made = reinspections_draw(drawn_on=today(), **self.signed(), **given)
        sentence = f"{made.required} of {made.records} accepted records are drawn."
        return self.done(sentence, "reinspections", made.pk)

    def beside(self, thing, form):
        return {"draws": draws_shown(), "companies": by_contractor()}


class ReinspectionsView(WorkView):
    """One draw: what is to be looked at, in its order, and what was seen."""

    permissions = REVIEW

    def get(self, request, pk):
        draw = get_object_or_404(ReinspectionDraw.objects.select_related("contractor"), pk=pk)
        context = {"draw": draw, "picks": picks_shown(draw), "form": ResultForm(auto_id=False)}
        return render(request, "replacements/reinspections.html", context)


class ReinspectionResultView(WorkAct):
    """What was seen at one of the drawn records."""

    permissions, form_class = REVIEW, ResultForm
    model = Reinspection

    @transaction.atomic
    def keep(self, pick, given):
        paper = given.pop("paper")
        document = paper and paper_keep(
            file=paper, kind="REINSPECTION", owner_key="utility", **self.signed()
        )
        reinspection_record(reinspection=pick, document=document or None, **self.dated(), **given)
        return "The result is recorded."

    def back(self, pick):
        return redirect("reinspections", pick.draw_id)
