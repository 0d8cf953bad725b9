"""Neighborhoods: the table, the map beside it, and one neighborhood's page."""

from django.http import Http404, JsonResponse
from django.shortcuts import get_object_or_404
from django.views import View
from django.views.generic import TemplateView

from ..models import Neighborhood, ServiceLine
from ..queries.counts import category_counts
from ..queries.counts_now import category_counts_now, neighborhood_counts_now
from ..queries.neighborhoods import MEASURES, boundaries_geojson, with_shares
from ..sending import csv_answer
from .permitted import Permitted


class NeighborhoodView(Permitted):
    """Who may see neighborhoods."""

    permission_required = "services_inventory.view_neighborhood"


COLUMNS = (
    ("name", "Neighborhood"),
    ("total", "Lines"),
    ("LEAD", "Lead"),
    ("GRR", "GRR"),
    ("UNKNOWN", "Unknown"),
    ("NON_LEAD", "Non-lead"),
    ("to_replace", "To replace or settle"),
    ("unknown_share", "Unknown share"),
)


def sorted_rows(request) -> tuple[list[dict], str]:
    """Return the neighborhoods in the order that the address asks for, and that order."""
    order = request.GET.get("sort", "-to_replace")
    key = order.lstrip("-")
    if key not in dict(COLUMNS):
        order, key = "name", "name"
    rows = [with_shares(row) for row in neighborhood_counts_now()]
    rows.sort(key=lambda row: (row[key], row["name"]), reverse=order.startswith("-"))
    return rows, order


def told(row: dict) -> dict:
    """Return a row with its cells as a person reads them: (label, text)."""
    figures = [(label, row[key]) for key, label in COLUMNS if key not in ("name", "unknown_share")]
    cells = [(label, f"{figure:,}") for label, figure in figures]
    return {**row, "cells": [*cells, ("Unknown share", f"{row['unknown_share']:.0%}")]}


class NeighborhoodListView(NeighborhoodView, TemplateView):
    """Every neighborhood with its counts, and the map of them."""

    template_name = "services_inventory/neighborhood_list.html"

    def get_context_data(self, **kwargs):
        rows, order = sorted_rows(self.request)
        return super().get_context_data(
            rows=map(told, rows),
            columns=[(key, label, _other_way(key, order)) for key, label in COLUMNS],
            order=order,
            total=category_counts_now(),
            measures=MEASURES,
            has_boundaries=Neighborhood.objects.filter(boundary_wkb__isnull=False).exists(),
            **kwargs,
        )


def _other_way(key: str, order: str) -> str:
    return key if order == f"-{key}" or (key == "name" and order != "name") else f"-{key}"


class NeighborhoodCsvView(NeighborhoodView, View):
    """The table as CSV."""

    def get(self, request):
        rows, _ = sorted_rows(request)
        cells = ([row[key] for key, _ in COLUMNS] for row in rows)
        return csv_answer("neighborhoods", [label for _, label in COLUMNS], cells)


class NeighborhoodShapesView(NeighborhoodView, View):
    """The boundaries with their figures, for the map."""

    def get(self, request):
        figures = {row["id"]: with_shares(row) for row in neighborhood_counts_now() if row["id"]}
        return JsonResponse(boundaries_geojson(figures))


class NeighborhoodDetailView(NeighborhoodView, TemplateView):
    """One neighborhood: counts, map, its lines."""

    template_name = "services_inventory/neighborhood.html"

    def get_context_data(self, pk, **kwargs):
        neighborhood = get_object_or_404(Neighborhood, pk=pk)
        counts = category_counts(ServiceLine.objects.filter(neighborhood=neighborhood))
        if not counts["total"] and neighborhood.boundary_wkb is None:
            raise Http404
        return super().get_context_data(
            neighborhood=neighborhood,
            row=with_shares({"name": neighborhood.name, **counts}),
            **kwargs,
        )
