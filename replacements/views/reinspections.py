"""Looking again at accepted work: the draws, one draw, what was seen."""

from django.db import transaction
from django.shortcuts import get_object_or_404, render

from services_inventory.operations.documents import DocumentRefused
from services_inventory.today import now, today

from ..completion.photos import paper_keep
from ..forms.reinspections import DrawForm, ResultForm
from ..models import Reinspection, ReinspectionDraw
from ..operations.reinspections import ReinspectionRefused, reinspection_record, reinspections_draw
from ..queries.reinspections import by_contractor, draws_shown, picks_shown
from .access import first_error
from .scope import REVIEW, WorkView


class ReinspectionListView(WorkView):
    """The draws, and a new one."""

    permissions = REVIEW

    def get(self, request):
        day = today()
        return self._show(DrawForm(initial={"first_day": day.replace(day=1), "last_day": day}))

    def post(self, request):
        form = DrawForm(request.POST)
        if form.is_valid():
            try:
                made = reinspections_draw(
                    drawn_on=today(), by=self.by, at=now(), **form.cleaned_data
                )
                sentence = f"{made.required} of {made.records} accepted records are drawn."
                return self.done(sentence, "reinspections", made.pk)
            except ReinspectionRefused as error:
                form.add_error(None, str(error))
        return self._show(form)

    def _show(self, form):
        context = {"form": form, "draws": draws_shown(), "companies": by_contractor()}
        return render(self.request, "replacements/reinspection_list.html", context)


class ReinspectionsView(WorkView):
    """One draw: what is to be looked at, in its order, and what was seen."""

    permissions = REVIEW

    def get(self, request, pk):
        draw = get_object_or_404(ReinspectionDraw.objects.select_related("contractor"), pk=pk)
        context = {"draw": draw, "picks": picks_shown(draw), "form": ResultForm(auto_id=False)}
        return render(request, "replacements/reinspections.html", context)


class ReinspectionResultView(WorkView):
    """What was seen at one of the drawn records."""

    permissions = REVIEW

    def post(self, request, pk):
        """Record it, or say why not."""
        pick = get_object_or_404(Reinspection.objects.select_related("draw"), pk=pk)
        form = ResultForm(request.POST, request.FILES)
        if not form.is_valid():
            return self.refused(first_error(form), "reinspections", pick.draw_id)
        try:
            with transaction.atomic():
                self._record(pick, dict(form.cleaned_data))
        except (ReinspectionRefused, DocumentRefused) as error:
            return self.refused(str(error), "reinspections", pick.draw_id)
        return self.done("The result is recorded.", "reinspections", pick.draw_id)

    def _record(self, pick: Reinspection, given: dict) -> None:
        paper = given.pop("paper")
        who = {"by": self.by, "at": now()}
        document = paper and paper_keep(file=paper, kind="REINSPECTION", owner_key="utility", **who)
        reinspection_record(
            reinspection=pick, today=today(), document=document or None, **who, **given
        )
