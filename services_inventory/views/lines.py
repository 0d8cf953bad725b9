"""The inventory list and its downloads; lines that lie nowhere; counts as of a day."""

from urllib.parse import urlencode

from django.http import FileResponse, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views import View
from django.views.generic import TemplateView

from ..domain.days import day_told
from ..domain.formulas import csv_text
from ..domain.over_time import over_time, told_over_time
from ..filters import FILTERS, choose
from ..forms.days import CountsForm
from ..frames import parquet_of_day
from ..queries import keyset
from ..queries.counts import counts_of_day, unplaced_counts, unplaced_lines, with_total
from ..queries.counts_now import cells_now
from ..queries.downloads import csv_rows, geopackage, lines_to_download
from ..queries.downloads_of_day import csv_of_day
from ..queries.lines import (
    COUNTED,
    ORDERS,
    UNPLACED,
    Survey,
    line_page,
    line_tally,
    neighborhood_names,
)
from ..queries.over_time import counts_over_time
from ..today import now, today
from .permitted import Permitted

COMMON = {"category", "address", "neighborhood"}


class LineListView(Permitted, TemplateView):
    """The inventory, narrowed by the filters in the page's address."""

    template_name = "services_inventory/line_list.html"

    def get_context_data(self, **kwargs):
        """Give one page of lines, the counts, and the filters as they are set."""
        query = self.request.GET
        chosen, names = choose(query), neighborhood_names()
        survey = Survey(chosen)
        order = query.get("sort") if query.get("sort") in ORDERS else "id"
        return super().get_context_data(
            **shown_page(lambda **at: line_page(survey, order, **at), query),
            **told(survey, names, in_full=query.get("count") == "full"),
            chosen=chosen,
            order=ORDERS[order],
            orders=ORDERS.values(),
            fields=[field(row, chosen, names) for row in FILTERS if row.key != "category"],
            all_query=chosen.address(category=""),
            sorted_by=chosen.address() or "none",
            state=chosen.address(sort=order if order != "id" else ""),
            **kwargs,
        )


def shown_page(ask, query) -> dict:
    """Return the page that the address asks for; a place that is gone leads to the first."""
    try:
        return {"page": ask(after=query.get("after", ""), before=query.get("before", ""))}
    except keyset.BadPlace as problem:
        return {"page": ask(), "lost": str(problem)}


def told(survey, names, in_full: bool) -> dict:
    """Return the counts by category, and the sentence on what is shown."""
    chosen, tally = survey.chosen, line_tally(survey, in_full)
    wanted = chosen.values.get("category")
    number = sum(n for category, n in tally.counts.items() if not wanted or category in wanted)
    words = chosen.words({**dict(names), "none": "no neighborhood"})
    return {
        "tally": tally,
        "number": number,
        "words": words,
        "counted": COUNTED,
        "facets": facets(chosen, tally),
        "rare_set": bool(chosen.keys - COMMON - {"within"}),
    }


def facets(chosen, tally) -> list[dict]:
    """Return one link a category, with its count where the lines were counted."""
    category = FILTERS[0]
    return [
        {
            "code": code,
            "label": label,
            "count": None if chosen.problems else tally.counts.get(code),
            "on": [code] == chosen.texts.get("category"),
            "query": chosen.address(category=code),
        }
        for code, label in category.choices
    ]


def field(row, chosen, names) -> dict:
    """Return one filter as the form shows it."""
    choices = row.choices
    if row.kind == "neighborhood":
        choices = [*((str(pk), name) for pk, name in names), ("none", "in none")]
    given = chosen.texts.get(row.key, [])
    return {
        "key": row.key,
        "label": row.label,
        "kind": row.kind,
        "choices": choices,
        "given": given,
        "first": given[0] if given else "",
        "problem": chosen.problems.get(row.key, ""),
        "rare": row.key not in COMMON,
    }


class LineCsvView(Permitted, View):
    """The filtered list as CSV, sent as it is read."""

    permission_required = "services_inventory.export_inventory"

    def get(self, request):
        chosen = choose(request.GET)
        pieces = csv_rows(lines_to_download(chosen.condition()))
        return _sent(StreamingHttpResponse(pieces), f"inventory_{today()}.csv")


class LineGeoPackageView(Permitted, View):
    """The filtered list as points of a GeoPackage."""

    permission_required = "services_inventory.export_inventory"

    def get(self, request):
        chosen = choose(request.GET)
        return FileResponse(
            geopackage(lines_to_download(chosen.condition())),
            as_attachment=True,
            filename=f"inventory_{today()}.gpkg",
            content_type="application/geopackage+sqlite3",
        )


class UnplacedView(Permitted, TemplateView):
    """Lines without a position, or outside every boundary: listed, not lost."""

    template_name = "services_inventory/line_unplaced.html"

    def get_context_data(self, **kwargs):
        """Give one page of them, with ?why= those of one reason, with ?open=1 the open ones."""
        query = self.request.GET
        why, still_open = query.get("why", ""), query.get("open") == "1"

        def ask(**at):
            return keyset.page(unplaced_lines(why, still_open=still_open), UNPLACED, **at)

        asked = {"why": why, "open": "1" if still_open else ""}
        return super().get_context_data(
            **shown_page(ask, query),
            **asked,
            reasons=unplaced_counts(cells_now()),
            state=urlencode({key: value for key, value in asked.items() if value}),
            **kwargs,
        )


class CountsView(Permitted, TemplateView):
    """How many lines of each category there were: over time, and on a day as is or was known."""

    template_name = "services_inventory/counts.html"

    def get(self, request):
        """Show the counts, or the sentence on what cannot be."""
        form = CountsForm(request.GET or {"on": today()}, today=today())
        known = form.is_valid()
        context = {"form": form, "asked": form.cleaned_data if known else None}
        context |= _over_time()
        if known:
            context["rows"] = counts_of_day(**form.days(now()), now=cells_now())
            context["query"] = form.query()
        return render(request, self.template_name, context, status=200 if known else 422)


def _over_time() -> dict:
    """Return the picture of the counts over time, its sentence, and its figures as rows."""
    counted = counts_over_time(today())
    if len(counted) < 2:
        return {}
    rows = [
        {"name": day_told(day), "address": f"?on={day}#day", **with_total(counts)}
        for day, counts in reversed(counted)
    ]
    picture = mark_safe(over_time(counted))
    return {"picture": picture, "told": told_over_time(counted), "over_time": rows}


class CountsCsvView(Permitted, View):
    """The same counts as CSV."""

    def get(self, request):
        form = CountsForm(request.GET or {"on": today()}, today=today())
        if not form.is_valid():
            return _refused(form)
        header = ["neighborhood", "LEAD", "GRR", "NON_LEAD", "UNKNOWN", "total"]
        rows = counts_of_day(**form.days(now()), now=cells_now())
        cells = ([row["name"], *(row[key] for key in header[1:])] for row in rows)
        return _sent(HttpResponse(csv_text(header, cells)), f"counts_{form.name()}.csv")


class LinesOfDayView(Permitted, View):
    """The lines behind those counts as CSV, each with its category of that day."""

    permission_required = "services_inventory.export_inventory"

    def get(self, request):
        form = CountsForm(request.GET or {"on": today()}, today=today())
        if not form.is_valid():
            return _refused(form)
        pieces = csv_of_day(**form.days(now()))
        return _sent(StreamingHttpResponse(pieces), f"inventory_of_{form.name()}.csv")


class FrameOfDayView(Permitted, View):
    """The same lines as GeoParquet, for analysts."""

    permission_required = "services_inventory.export_inventory"

    def get(self, request):
        form = CountsForm(request.GET or {"on": today()}, today=today())
        if not form.is_valid():
            return _refused(form)
        return FileResponse(
            parquet_of_day(**form.days(now())),
            as_attachment=True,
            filename=f"inventory_of_{form.name()}.parquet",
            content_type="application/vnd.apache.parquet",
        )


def _refused(form) -> HttpResponse:
    text = " ".join(sum(form.errors.values(), []))
    return HttpResponse(text, status=422, content_type="text/plain; charset=utf-8")


def _sent(response, name: str):
    """Return the response as a CSV file with a name."""
    response.headers["Content-Type"] = "text/csv; charset=utf-8"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
