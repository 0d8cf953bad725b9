"""What the service says of itself: landing page, conformance, API definition, collections."""

from django.urls import reverse

from program.ogc.collections import Collection, collections
from program.ogc.parameters import LIMIT_DEFAULT, LIMIT_MAX
from program.public.records import utility

JSON, GEOJSON = "application/json", "application/geo+json"
OPENAPI = "application/vnd.oai.openapi+json;version=3.0"
CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
CONFORMS_TO = tuple(
    f"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/{name}"
    for name in ("core", "oas30", "geojson")
)
_KINDS = {"text": "string", "date": "string", "number": "number", "boolean": "boolean"}


class Addresses:
    """The addresses of one of the two services, as this request sees them."""

    def __init__(self, request, staff: bool):
        self.request, self.space = request, "ogc_staff" if staff else "ogc"

    def of(self, name: str, *args) -> str:
        """Return the full address of a resource."""
        return self.request.build_absolute_uri(reverse(f"{self.space}:{name}", args=args))


def link(href: str, rel: str, title: str, media: str = JSON) -> dict:
    """Return a link as the standard writes them."""
    return {"href": href, "rel": rel, "type": media, "title": title}


def landing(at: Addresses) -> dict:
    """Return the landing page (/req/core/root-success)."""
    return {
        "title": f"{utility().name}: service lines",
        "description": "The inventory of service lines and what they are made of.",
        "links": [
            link(at.of("landing"), "self", "This document"),
            link(at.of("api"), "service-desc", "API definition", OPENAPI),
            link(at.of("conformance"), "conformance", "Conformance classes"),
            link(at.of("collections"), "data", "Collections"),
        ],
    }


def conformance() -> dict:
    """Return the conformance classes (/req/core/conformance-success)."""
    return {"conformsTo": list(CONFORMS_TO)}


def described(collection: Collection, at: Addresses) -> dict:
    """Return one collection (/req/core/sfc-md-success)."""
    return {
        "id": collection.id,
        "title": collection.title,
        "description": collection.description,
        "extent": collection.extent(),
        "itemType": "feature",
        "crs": [CRS84],
        "links": [
            link(at.of("collection", collection.id), "self", "This collection"),
            link(at.of("items", collection.id), "items", collection.title, GEOJSON),
        ],
    }


def collection_list(staff: bool, at: Addresses) -> dict:
    """Return all collections (/req/core/fc-md-success)."""
    return {
        "links": [link(at.of("collections"), "self", "This document")],
        "collections": [described(one, at) for one in collections(staff).values()],
    }


def api(staff: bool, at: Addresses) -> dict:
    """Return the definition of the service as OpenAPI 3.0."""
    root = at.of("landing").rstrip("/")
    paths = {
        "/": _get("landing", "Landing page"),
        "/conformance": _get("conformance", "Conformance classes"),
        "/api": _get("api", "This definition", OPENAPI),
        "/collections": _get("collections", "Collections"),
    }
    for one in collections(staff).values():
        base = f"/collections/{one.id}"
        paths[base] = _get(f"{one.id}_collection", one.title)
        paths[f"{base}/items"] = _get(f"{one.id}_items", one.title, GEOJSON, _parameters(one))
        paths[f"{base}/items/{{featureId}}"] = _get(
            f"{one.id}_item", "One service line", GEOJSON, [_FEATURE_ID], missing=True
        )
    document = {
        "openapi": "3.0.3",
        "info": {"title": f"{utility().name}: service lines", "version": "1.0.0"},
        "servers": [{"url": root}],
        "paths": paths,
    }
    if staff:
        document["components"] = {"securitySchemes": {"basic": {"type": "http", "scheme": "basic"}}}
        document["security"] = [{"basic": []}]
    return document


_FEATURE_ID = {
    "name": "featureId", "in": "path", "required": True, "schema": {"type": "integer"},
}  # fmt: skip


def _get(name: str, summary: str, media: str = JSON, parameters=(), missing=False) -> dict:
    media = media.partition(";")[0] if media == OPENAPI else media
    content = {media: {"schema": {"type": "object"}}}
    responses = {"200": {"description": summary, "content": content}}
    responses["400"] = {"description": "A parameter that is not known or cannot be read."}
    if missing:
        responses["404"] = {"description": "There is no such feature."}
    shown = [*parameters, _F] if name != "api" else [_F]
    return {
        "get": {
            "operationId": name, "summary": summary, "parameters": shown, "responses": responses,
        }
    }  # fmt: skip


_F = {
    "name": "f", "in": "query", "required": False,
    "schema": {"type": "string", "enum": ["json"]},
}  # fmt: skip


def _parameters(collection: Collection) -> list[dict]:
    def query(name, schema, text="", **more):
        return {
            "name": name, "in": "query", "required": False, "description": text,
            "schema": schema, **more,
        }  # fmt: skip

    numbers = {"type": "array", "items": {"type": "number"}}
    found = [
        query(
            "limit",
            {"type": "integer", "minimum": 1, "maximum": LIMIT_MAX, "default": LIMIT_DEFAULT},
            "At most so many features in one answer.",
            style="form", explode=False,
        ),
        query(
            "bbox",
            {"oneOf": [{**numbers, "minItems": n, "maxItems": n} for n in (4, 6)]},
            "West, south, east, north in degrees.",
            style="form", explode=False,
        ),
        query(
            "datetime", {"type": "string"}, "A day, a moment or an interval (RFC 3339).",
            style="form", explode=False,
        ),
        query("token", {"type": "string"}, "Where the next page starts; taken from its link."),
    ]  # fmt: skip
    for name, column in collection.filters.items():
        schema = {"type": _KINDS[column.kind]}
        if column.codes:
            schema["enum"] = list(column.codes)
        found.append(query(name, schema, column.meaning))
    return found
