"""Where the program is stuck: the maps of the board, and the lines behind each number."""

from urllib.parse import urlencode

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.queries.planning.stuck import NOWHERE, STUCK, stuck_lines, stuck_maps, stuck_places
from program.queries.waiting import waits_for
from program.views.permitted import Permitted
from services_inventory.domain.classification import Category
from services_inventory.domain.days import day_told
from services_inventory.given import number_given
from services_inventory.models import Neighborhood
from services_inventory.sending import csv_answer

_SHOWN = 100
_HEADER = ("Location id", "Address", "Neighborhood", "Category")


def list_of(kind: str, key: str = "") -> str:
    """Return the address of the lines of a kind, of one neighborhood or of all."""
    behind = {"neighborhood": key} if key else {}
    if kind == "UNKNOWN":
        return f"{reverse('line_list')}?{urlencode({'category': kind, **behind})}"
    return f"{reverse('stuck')}?{urlencode({'kind': kind, **behind})}"


def stuck_shown() -> dict:
    """Return the four kinds as a template shows them: number, list and map, and their table."""
    places = stuck_places(today())
    maps = stuck_maps(places, day_told(today()), list_of)
    kinds = [
        {
            "label": label,
            "number": sum(place.numbers[kind] for place in places),
            "address": list_of(kind),
            # Our own drawing; every text in it is escaped there.
            "map": mark_safe(maps.get(kind, "")),
        }
        for kind, label in STUCK.items()
    ]
    rows = [
        (place.name, [(place.numbers[kind], list_of(kind, place.key)) for kind in STUCK])
        for place in places if any(place.numbers.values())
    ]  # fmt: skip
    return {"kinds": kinds, "stuck_rows": rows, "drawn": bool(maps), "places": bool(places)}


class StuckBoardView(Permitted, View):
    """The part of a board that waits until the page stands: the maps, and what waits for whom."""

    def get(self, request):
        shown = {**stuck_shown(), "waits": waits_for(request.user, today())}
        return render(request, "program/_stuck.html", shown)


class StuckView(Permitted, TemplateView):
    """The maps, or with ?kind= the lines that are stuck so, by street."""

    template_name = "program/stuck.html"

    def get_context_data(self, **kwargs):
        kind, key, lines = _asked(self.request.GET)
        if not kind:
            return super().get_context_data(**stuck_shown(), **kwargs)
        place = Neighborhood.objects.filter(pk=key).first() if key not in ("", NOWHERE) else None
        return super().get_context_data(
            label=STUCK[kind],
            where="no neighborhood" if key == NOWHERE else place or "",
            rows=lines[:_SHOWN],
            number=lines.count(),
            reviewed=kind == "REVIEW",
            state=self.request.GET.urlencode(),
            **kwargs,
        )


class StuckCsvView(Permitted, View):
    """The lines of a kind as CSV."""

    def get(self, request):
        kind, _, lines = _asked(request.GET)
        if not kind:
            raise Http404
        rows = (
            (line.location_id, line.premise.address, f"{line.neighborhood or ''}",
             Category(line.category).label)
            for line in lines.iterator(2000)
        )  # fmt: skip
        return csv_answer(f"{kind.lower()}_{today()}", _HEADER, rows)


def _asked(query):
    """Return kind, neighborhood and lines that an address asks for."""
    kind, key = query.get("kind", ""), query.get("neighborhood", "")
    if kind not in STUCK:
        return "", "", None
    if key != NOWHERE:
        number = number_given(key, "Neighborhood")
        key = "" if number is None else str(number)
    lines = stuck_lines(kind, today(), key).select_related("premise", "neighborhood")
    return kind, key, lines.order_by("premise__street_key", "premise__house_number", "location_id")
