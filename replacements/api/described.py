"""What the schema says beside the views: headers, and the problem documents of every operation."""

import re

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, extend_schema, inline_serializer
from rest_framework import serializers

from .problems import MEDIA_TYPE
from .serializers import ProblemSerializer

KEY = OpenApiParameter(
    "Idempotency-Key",
    str,
    OpenApiParameter.HEADER,
    description="1 to 80 signs of your own; the same key with the same request is done once.",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag of the order that the write was made looking at; 412 if it changed.",
)
IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag that the device has; 304 if nothing changed.",
)
CURSOR = OpenApiParameter("cursor", str, description="From `next` or `previous` of a page.")
PAGE_SIZE = OpenApiParameter(
    "page_size",
    {"type": "integer", "minimum": 1, "maximum": 200},
    description="Rows a page, 1 to 200; 50 usually.",
)

_ALWAYS = (400, 401, 403, 404, 405, 406, 413, 415, 429)
_OF_WRITES = (409, 412, 422)


def reads(answer, summary: str, *more):
    """Describe a read of one thing."""
    return extend_schema(summary=summary, responses=answer, parameters=[IF_NONE_MATCH, *more])


def lists(answer, summary: str, *more):
    """Describe a page of things under a cursor."""
    return extend_schema(
        operation_id=f"{_snake(answer)}_list",
        summary=summary,
        responses=paged(answer),
        parameters=[IF_NONE_MATCH, CURSOR, PAGE_SIZE, *more],
    )


def writes(taken, answer, summary: str, status: int = 201):
    """Describe a write that is done once."""
    return extend_schema(
        summary=summary, request=taken, responses={status: answer}, parameters=[KEY, IF_MATCH]
    )


def nothing_more(result: dict, **_) -> dict:
    """Say of each thing that is sent that it has no other fields, as the views hold to."""
    for name, schema in result["components"]["schemas"].items():
        if name.endswith("Request") and "properties" in schema:
            schema["additionalProperties"] = False
    return result


def _snake(answer) -> str:
    name = answer.__name__.removesuffix("Serializer")
    return re.sub(r"(?<!^)(?=[A-Z])", "_", name).lower()


def paged(answer):
    """Return the serializer of a page of things."""
    return inline_serializer(
        f"{answer.__name__.removesuffix('Serializer')}Page",
        {
            "next": serializers.URLField(allow_null=True),
            "previous": serializers.URLField(allow_null=True),
            "results": answer(many=True),
        },
    )


class Described(AutoSchema):
    """The usual schema, with an error of each kind as a problem document."""

    def _get_response_bodies(self, *args, **kwargs):
        bodies = super()._get_response_bodies(*args, **kwargs)
        problem = self.resolve_serializer(ProblemSerializer, "response").ref
        codes = _ALWAYS if self.method == "GET" else (*_ALWAYS, *_OF_WRITES)
        for code in codes:
            bodies.setdefault(
                str(code),
                {"content": {MEDIA_TYPE: {"schema": problem}}, "description": "A problem."},
            )
        if self.method == "GET":
            bodies["304"] = {"description": "The device has it already."}
        return bodies
