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
    area_split,
    areas_lock,
    areas_merge,
    areas_unlock,
    change_tried,
    edit_undo,
    lines_regroup,
)
from program.queries.planning.editing import (
    areas_in,
    hoods_of,
    lines_by_street,
    lines_inside,
    points_of,
    street_lines,
    streets_in,
)
from program.queries.planning.pages import shapes_of
from program.views.permitted import Permitted
from services_inventory.given import number_given
from services_inventory.queries.within import BadShape, shape_given, shape_of
from services_inventory.templatetags.one_act import FIELD

from .board import MANAGE


class PlanEditView(Permitted, TemplateView):
    """One neighborhood's areas on the map and in a list, and what may be done with them."""

    template_name = "program/plan_edit.html"
    permission_required = MANAGE

    def get_context_data(self, pk, **kwargs):
        """Give the neighborhood of ?hood=, and the lines of the area of ?area=."""
        plan, post = get_object_or_404(Plan, pk=pk), self.request.POST
        given = post or self.request.GET
        hoods = hoods_of(plan)
        hood = _chosen_hood(hoods, number_given(given.get("hood"), "Neighborhood"))
        areas = areas_in(plan, hood["id"]) if hood else []
        wanted = number_given(given.get("opened" if post else "area"), "Area")
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
            ticked=set(post.getlist("area")),
            **_chosen_lines(post, opened),
            **kwargs,
        )


def _chosen_lines(post, opened: PlanArea | None) -> dict:
    """The lines ticked in the list, and those chosen that no list shows."""
    ticked, shown = set(post.getlist("line")), set()
    if ticked and opened:
        shown = set(opened.lines.values_list("line__location_id", flat=True))
    further = [*post.get("lines", "").split("\n"), *sorted(ticked - shown)]
    return {"ticked_lines": ticked, "further": "\n".join(filter(None, map(str.strip, further)))}


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
            shape = shape_given(request.GET)
        except BadShape as error:
            return JsonResponse({"error": str(error)}, status=400)
        return JsonResponse(points_of(plan, number, shape, request.GET.get("street", "")))


class PlanChangeView(PlanEditView):
    """Do one change: split off, move, merge, lock, unlock, or take the last one back.

    What moves lines is shown with its effect first, and done when it is sent again with `keep`,
    the number of the last change that was seen.
    """

    http_method_names = ("post",)

    def post(self, request, pk):
        """Show the effect on the same page, or do it and show what came of it."""
        plan, post = get_object_or_404(Plan, pk=pk), request.POST
        action = post.get("action", "")
        who = {"by": request.user.get_username(), "at": now()}
        try:
            if action not in _CHANGES:
                raise PlanError("Choose what to do with the areas or lines.")
            if action in _SHOWN_FIRST and "keep" not in post:
                return self._effect(plan, action, who)
            _refuse_other(plan, post)
            said, area = _CHANGES[action](post, plan, who)
        except PlanError as error:
            messages.error(request, str(error))  # what was ticked and drawn stays chosen
            return self.render_to_response(self.get_context_data(pk=pk), status=422)
        messages.success(request, said)
        where = f"?hood={post.get('hood', '')}&area={area}"
        return redirect(reverse("plan_edit", args=[pk]) + where)

    def _effect(self, plan: Plan, action: str, who: dict):
        post = self.request.POST
        found = change_tried(plan=plan, change=lambda: _CHANGES[action](post, plan, who))
        sent = [(k, v) for k in post if k not in _OF_THE_FORM for v in post.getlist(k)]
        context = self.get_context_data(pk=plan.pk, effect=found, sent=sent)
        return self.render_to_response(context)


_OF_THE_FORM = ("csrfmiddlewaretoken", FIELD)


def _refuse_other(plan: Plan, post) -> None:
    """Refuse to keep what was looked at before somebody changed the areas again."""
    last = plan.edits.order_by("-id").values_list("id", flat=True).first()
    if "keep" in post and post["keep"] != str(last or ""):
        raise PlanError(
            "The areas were changed since this was shown, so nothing was done: look at the effect "
            "again, then keep it."
        )


def _areas(post, plan: Plan) -> list[PlanArea]:
    ids = [number_given(one, "A ticked area") for one in post.getlist("area") if one]
    return list(plan.areas.filter(pk__in=ids).select_related("neighborhood").order_by("key"))


def _year(post) -> int | None:
    return number_given(post.get("year"), "Program year")


def _lines(post, plan: Plan) -> list[str]:
    """The lines ticked in the list, on the map, inside a shape drawn, and of a whole street."""
    found = [*post.getlist("line"), *filter(None, post.get("lines", "").splitlines())]
    if post.get("street"):
        hood = number_given(post.get("hood"), "Neighborhood")
        found += street_lines(plan, hood, post["street"])
    if post.get("within"):
        hood = number_given(post.get("hood"), "Neighborhood")
        try:
            found += lines_inside(plan, hood, shape_of(post["within"]))
        except BadShape as error:
            raise PlanError(str(error)) from error
    return list(dict.fromkeys(found))


def _split_off(post, plan: Plan, who: dict):
    made = lines_regroup(plan=plan, location_ids=_lines(post, plan), to=None, **who)
    return f"{made.key} is a new area with {_count(made)}.", made.pk


def _split(post, plan: Plan, who: dict):
    """The lines ticked taken out of the area shown, or with none ticked the best cut through it."""
    area = plan.areas.filter(pk=number_given(post.get("opened"), "Area")).first()
    if area is None:
        raise PlanError("The area is not there any more: choose it in the list.")
    first, second = area_split(area=area, location_ids=post.getlist("line") or None, **who)
    return f"{area.key} is now {first.key} and {second.key}.", first.pk


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
    "split": _split,
    "split_off": _split_off,
    "move": _move,
    "merge": _merge,
    "lock": _lock,
    "unlock": _unlock,
    "undo": _undo,
}
_SHOWN_FIRST = ("split", "split_off", "move", "merge")
