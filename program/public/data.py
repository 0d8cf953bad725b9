"""Public data for pages and for anybody: suggestions, points in view, files."""

from django.http import FileResponse, JsonResponse, StreamingHttpResponse
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_safe

from program.clock import today
from program.languages import language_for
from program.public import files, lookup, records
from program.public.kept import COUNTED, PLACES, RECORD, kept
from program.public.limits import HOUR, limited
from services_inventory.queries.counts_now import neighborhood_counts_now
from services_inventory.queries.neighborhoods import boundaries_geojson

MOST_POINTS = 3_000


@require_safe
@limited("suggest", 240)
@kept(*PLACES)
def suggest(request):
    """Answer what was typed so far with at most eight places."""
    language = language_for(request.GET.get("language", ""))
    found = lookup.suggestions(request.GET.get("q", "")[:200])
    for place in found:
        kwargs = {"language": language, "location_id": place["location_id"]}
        place["href"] = reverse("public:line", kwargs=kwargs)
    return JsonResponse({"places": found})


@require_safe
@limited("points", 240)
@kept(*RECORD)
def points(request):
    """Answer a box west,south,east,north with its lines, at most `MOST_POINTS`."""
    try:
        west, south, east, north = (float(part) for part in request.GET.get("box", "").split(","))
    except ValueError:
        return JsonResponse({"error": "Give box=west,south,east,north in degrees."}, status=400)
    inside = records.public_lines().filter(
        premise__latitude__range=(south, north), premise__longitude__range=(west, east)
    )
    with_addresses = records.utility().publish_addresses
    found = list(records.rows(inside, with_addresses).order_by()[: MOST_POINTS + 1])
    shown = [files.feature(records.published(row, with_addresses)) for row in found[:MOST_POINTS]]
    return JsonResponse(
        {"type": "FeatureCollection", "cut": len(found) > MOST_POINTS, "features": shown}
    )


@require_safe
@limited("areas", 60)
@kept(*COUNTED, "neighborhood")
def areas(request):
    """Answer with the neighborhoods' boundaries and their counts."""
    wanted = ("LEAD", "GRR", "UNKNOWN", "NON_LEAD", "total")
    counts = {row["id"]: {name: row[name] for name in wanted} for row in neighborhood_counts_now()}
    return JsonResponse(boundaries_geojson(counts))


def _attached(pieces, content_type: str, name: str) -> StreamingHttpResponse:
    return StreamingHttpResponse(
        pieces,
        content_type=content_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@require_safe
@limited("files", 20, HOUR)
@kept()
def as_csv(request):
    """Send the public inventory as CSV."""
    name = f"service-lines-{today()}.csv"
    return _attached(files.csv_lines(), "text/csv; charset=utf-8", name)


@require_safe
@limited("files", 20, HOUR)
@kept()
def as_geojson(request):
    """Send the public inventory as GeoJSON."""
    name = f"service-lines-{today()}.geojson"
    return _attached(files.geojson_pieces(today()), "application/geo+json", name)


@require_safe
@limited("files", 20, HOUR)
@kept()
def as_geopackage(request):
    """Send the public inventory as a GeoPackage."""
    file = files.geopackage(today()).open("rb")
    name = f"service-lines-{today()}.gpkg"
    content_type = "application/geopackage+sqlite3"
    return FileResponse(file, as_attachment=True, filename=name, content_type=content_type)


@require_safe
@kept()
def dictionary(request):
    """Send what each column means, in the language asked for."""
    with translation.override(language_for(request.GET.get("language", ""))):
        text = files.dictionary_text()
    return _attached([text], "text/csv; charset=utf-8", "data-dictionary.csv")
