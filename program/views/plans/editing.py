"""Changing a plan's areas by hand, on the map and in the list beside it."""

from django.contrib import messages
from django.http import Http404, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views import View
from django.views.generic import TemplateView

from program.clock import now
from program.models import Plan, PlanArea
from program.operations.plans import (
    PlanError,
    areas_lock,
    areas_merge,
    areas_unlock,
    edit_undo,
    lines_regroup,
)
from program.queries.planning.editing import (
    areas_in,
    hoods_of,
    lines_by_street,
    points_of,
    street_lines,
    streets_in,
)
from program.queries.planning.pages import shapes_of
from program.views.permitted import Permitted
from services_inventory.given import number_given

from .board import MANAGE


class PlanEditView(Permitted, TemplateView):
    """One neighborhood's areas on the map and in a list, and what may be done with them."""

    template_name = "program/plan_edit.html"
    permission_required = MANAGE

    def get_context_data(self, pk, **kwargs):
        """Give the neighborhood of ?hood=, and the lines of the area of ?area=."""
        plan = get_object_or_404(Plan, pk=pk)
        hoods = hoods_of(plan)
        hood = _chosen_hood(hoods, number_given(self.request.GET.get("hood"), "Neighborhood"))
        areas = areas_in(plan, hood["id"]) if hood else []
        wanted = number_given(self.request.GET.get("area"), "Area")
        opened = next((area for area in areas if area.pk == wanted), None)
        return super().get_context_data(
            plan=plan,
            hoods=hoods,
            hood=hood,
            areas=areas,
            opened=opened,
            streets=lines_by_street(opened) if opened else [],
            hood_streets=streets_in(plan, hood["id"]) if hood else [],
            years=[row["year"] for row in plan.result["years"]],
            edits=list(plan.edits.order_by("-id")[:12]),
            last=plan.edits.filter(undone_at__isnull=True).order_by("-id").first(),
            can_change=plan.state == Plan.State.DRAWN,
            **kwargs,
        )


def _chosen_hood(hoods: list[dict], wanted: int | None) -> dict | None:
    if wanted is None:
        return hoods[0] if hoods else None
    found = next((one for one in hoods if one["id"] == wanted), None)
    if found is None:
        raise Http404
    return found


class PlanPointsView(Permitted, View):
    """The lines of a plan in one neighborhood, in a box or on a street; or its areas' outlines."""

    def get(self, request, pk):
        plan = get_object_or_404(Plan, pk=pk)
        number = number_given(request.GET.get("hood"), "Neighborhood")
        if "areas" in request.GET:
            return JsonResponse(shapes_of(plan, number))
        try:
            box = _box(request.GET.get("box", ""))
        except ValueError:
            return JsonResponse({"error": "Give box=west,south,east,north in degrees."}, status=400)
        return JsonResponse(points_of(plan, number, box, request.GET.get("street", "")))


def _box(text: str) -> tuple | None:
    if not text:
        return None
    west, south, east, north = (float(part) for part in text.split(","))
    return west, south, east, north


class PlanChangeView(Permitted, View):
    """Do one change: split off, move, merge, lock, unlock, or take the last one back."""

    permission_required = MANAGE

    def post(self, request, pk):
        """Do it, and show what came of it in the same neighborhood."""
        plan = get_object_or_404(Plan, pk=pk)
        act = _CHANGES.get(request.POST.get("action", ""))
        who = {"by": request.user.get_username(), "at": now()}
        area = request.POST.get("opened", "")
        try:
            if act is None:
                raise PlanError("Choose what to do with the areas or lines.")
            said, area = act(request.POST, plan, who)
            messages.success(request, said)
        except PlanError as error:
            messages.error(request, str(error))
        where = f"?hood={request.POST.get('hood', '')}&area={area}"
        return redirect(reverse("plan_edit", args=[pk]) + where)


def _areas(post, plan: Plan) -> list[PlanArea]:
    ids = [number_given(one, "A ticked area") for one in post.getlist("area") if one]
    return list(plan.areas.filter(pk__in=ids).select_related("neighborhood").order_by("key"))


def _year(post) -> int | None:
    return number_given(post.get("year"), "Program year")


def _lines(post, plan: Plan) -> list[str]:
    """The lines ticked in the list, those chosen on the map, and those of a whole street."""
    found = [*post.getlist("line"), *filter(None, post.get("lines", "").splitlines())]
    if post.get("street"):
        hood = number_given(post.get("hood"), "Neighborhood")
        found += street_lines(plan, hood, post["street"])
    return list(dict.fromkeys(found))


def _split_off(post, plan: Plan, who: dict):
    made = lines_regroup(plan=plan, location_ids=_lines(post, plan), to=None, **who)
    return f"{made.key} is a new area with {_count(made)}.", made.pk


def _move(post, plan: Plan, who: dict):
    to = plan.areas.filter(pk=number_given(post.get("to"), "Area to take them in")).first()
    if to is None:
        raise PlanError("Choose the area that is to take the lines in.")
    made = lines_regroup(plan=plan, location_ids=_lines(post, plan), to=to, **who)
    return f"{made.key} now has {_count(made)}.", made.pk


def _merge(post, plan: Plan, who: dict):
    made = areas_merge(plan=plan, areas=_areas(post, plan), **who)
    return f"They are one area now: {made.key}, with {_count(made)}.", made.pk


def _lock(post, plan: Plan, who: dict):
    return f"{areas_lock(plan=plan, areas=_areas(post, plan), year=_year(post), **who)}.", ""


def _unlock(post, plan: Plan, who: dict):
    return f"{areas_unlock(plan=plan, areas=_areas(post, plan), **who)}.", ""


def _undo(post, plan: Plan, who: dict):
    return f"Taken back: {edit_undo(plan=plan, **who)}.", ""


def _count(area: PlanArea) -> str:
    number = area.lines.count()
    return f"{number} {'line' if number == 1 else 'lines'}"


_CHANGES = {
    "split_off": _split_off,
    "move": _move,
    "merge": _merge,
    "lock": _lock,
    "unlock": _unlock,
    "undo": _undo,
}
