"""The resources of the service: read-only JSON, for everybody or, signed in, for staff."""

import base64
import binascii
import hashlib
from datetime import UTC
from functools import wraps
from urllib.parse import urlencode

from django.http import HttpResponse, JsonResponse
from django.views.decorators.csrf import csrf_exempt

from program.clock import now
from program.ogc import documents
from program.ogc.collections import collections
from program.ogc.documents import CRS84, GEOJSON, JSON, OPENAPI, Addresses, link
from program.ogc.parameters import BadParameter, no_parameters, read_query
from program.operations.people import user_of_key
from program.public.kept import FRESH_SECONDS, LISTED, kept_while, record_mark
from program.public.limits import limited
from services_inventory.queries.counts_now import category_counts_now

PERMISSION = "services_inventory.view_serviceline"
MOST_COUNTED = 20_000


def answer(body: dict, media: str = JSON, status: int = 200, staff: bool = False) -> HttpResponse:
    """Send JSON of a media type; anybody's page may read what is public."""
    response = JsonResponse(body, status=status, content_type=media)
    if media == GEOJSON:
        response.headers["Content-Crs"] = f"<{CRS84}>"
    if staff:
        response.headers["Cache-Control"] = "private, no-store"
    else:
        response.headers["Access-Control-Allow-Origin"] = "*"
        if status == 200:
            response.headers["Cache-Control"] = f"public, max-age={FRESH_SECONDS}"
    return response


def problem(status: int, sentence: str, staff: bool = False) -> HttpResponse:
    """Send an error as the standard's exception schema has it."""
    return answer({"code": str(status), "description": sentence}, status=status, staff=staff)


def resource(view):
    """Check method, asker and parameters alike for every resource."""

    @csrf_exempt
    @limited("ogc", 300)
    @wraps(view)
    def served(request, *args, staff=False, **kwargs):
        if request.method == "OPTIONS":
            return _options(staff)
        if request.method not in ("GET", "HEAD"):
            refused = problem(405, "This service is read only: use GET.", staff)
            refused.headers["Allow"] = "GET, HEAD, OPTIONS"
            return refused
        refused = _refused(request) if staff else None
        if refused is not None:
            return refused
        try:
            return view(request, *args, staff=staff, **kwargs)
        except BadParameter as error:
            return problem(400, str(error), staff)

    return served


def _options(staff: bool) -> HttpResponse:
    response = HttpResponse(status=204, headers={"Allow": "GET, HEAD, OPTIONS"})
    if not staff:
        response.headers["Access-Control-Allow-Origin"] = "*"
        response.headers["Access-Control-Allow-Methods"] = "GET, HEAD, OPTIONS"
        response.headers["Access-Control-Allow-Headers"] = "Accept, Content-Type"
    return response


def _refused(request) -> HttpResponse | None:
    """Return why this asker may not have the staff's collection, or None."""
    user = request.user
    if not user.is_authenticated:
        user = _by_key(request)
    if user is None:
        refused = problem(
            401,
            "Sign in with a staff account, or use a key: Your account, Keys for map programs.",
            staff=True,
        )
        refused.headers["WWW-Authenticate"] = 'Basic realm="Service lines", charset="UTF-8"'
        return refused
    if not user.has_perm(PERMISSION):
        return problem(403, "Your role does not see the inventory.", staff=True)
    return None


def _by_key(request):
    """Read the key that a map program sends as HTTP Basic; no password is taken here."""
    scheme, _, given = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "basic":
        return None
    try:
        name, _, secret = base64.b64decode(given, validate=True).decode().partition(":")
    except (binascii.Error, UnicodeDecodeError):
        return None
    return None if "\0" in name else user_of_key(name, secret, now())


@resource
def landing(request, staff):
    """Serve the landing page."""
    no_parameters(request.GET)
    return answer(documents.landing(Addresses(request, staff)), staff=staff)


@resource
def conformance(request, staff):
    """Serve the conformance classes."""
    no_parameters(request.GET)
    return answer(documents.conformance(), staff=staff)


@resource
def api(request, staff):
    """Serve the API definition."""
    no_parameters(request.GET)
    return answer(documents.api(staff, Addresses(request, staff)), OPENAPI, staff=staff)


@resource
def collection_list(request, staff):
    """Serve the list of collections."""
    no_parameters(request.GET)
    return answer(documents.collection_list(staff, Addresses(request, staff)), staff=staff)


@resource
def collection(request, collection_id, staff):
    """Serve one collection's description."""
    no_parameters(request.GET)
    found = collections(staff).get(collection_id)
    if found is None:
        return problem(404, f"There is no collection '{collection_id[:60]}'.", staff)
    return answer(documents.described(found, Addresses(request, staff)), staff=staff)


@resource
def items(request, collection_id, staff):
    """Serve a page of features, with a link to the next one."""
    found = collections(staff).get(collection_id)
    if found is None:
        return problem(404, f"There is no collection '{collection_id[:60]}'.", staff)
    query = read_query(request.GET, found)
    matched = found.lines().filter(query.condition)
    page = found.rows(matched.filter(id__gt=query.after))[: query.limit + 1]
    rows = list(page)
    more, rows = len(rows) > query.limit, rows[: query.limit]
    at = Addresses(request, staff).of("items", found.id)
    links = [link(request.build_absolute_uri(), "self", "This page", GEOJSON)]
    if more:
        given = {**request.GET.dict(), "limit": query.limit, "token": rows[-1]["id"]}
        links.append(link(f"{at}?{urlencode(given)}", "next", "Next page", GEOJSON))
    body = {
        "type": "FeatureCollection",
        "timeStamp": now().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        **_matched(request, found, matched, query.narrowed),
        "numberReturned": len(rows),
        "links": links,
        "features": found.features(rows),
    }
    return answer(body, GEOJSON, staff=staff)


def _matched(request, found, lines, narrowed: bool) -> dict:
    """Say how many match, once for the same question and record; of very many, nothing."""
    if not narrowed:
        return {"numberMatched": category_counts_now()["total"]}
    asked = sorted((k, v) for k, v in request.GET.items() if k not in ("limit", "token", "f"))
    question = hashlib.sha256(repr(asked).encode()).hexdigest()
    key = f"ogc-count-{found.with_addresses}-{question}"
    some = lines.order_by()[: MOST_COUNTED + 1]
    number = kept_while(record_mark(LISTED), key, some.count)
    return {"numberMatched": number} if number <= MOST_COUNTED else {}


@resource
def item(request, collection_id, feature_id, staff):
    """Serve one feature."""
    no_parameters(request.GET)
    found = collections(staff).get(collection_id)
    whole = feature_id.isascii() and feature_id.isdigit() and len(feature_id) < 19
    row = None
    if found is not None and whole:
        row = found.rows(found.lines().filter(id=int(feature_id))).first()
    if row is None:
        return problem(404, f"There is no feature '{feature_id[:60]}' here.", staff)
    at = Addresses(request, staff)
    links = [
        link(at.of("item", found.id, feature_id), "self", "This feature", GEOJSON),
        link(at.of("collection", found.id), "collection", found.title),
    ]
    return answer({**found.features([row])[0], "links": links}, GEOJSON, staff=staff)
