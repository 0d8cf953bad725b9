"""Every error as a problem document.

Source: RFC 9457, Problem Details for HTTP APIs.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from http import HTTPStatus

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import set_rollback

from services_inventory.refused import Refused

MEDIA_TYPE = "application/problem+json"
NOT_TAKEN = "Some of what was sent cannot be taken; see errors."


class Problem(exceptions.APIException):
    """An error of ours: its status, a stable kind, the sentence, and further members."""

    def __init__(self, status: int, kind: str, sentence: str, **more):
        self.status_code = status
        self.kind = kind
        self.more = more
        super().__init__(sentence)


@contextmanager
def refused_as(kind: str, status: int = 422) -> Iterator[None]:
    """Answer what is refused within by a problem of this kind."""
    try:
        yield
    except Refused as error:
        raise Problem(status, kind, str(error)) from error


def problem_response(error: Exception, context: dict) -> Response | None:
    """Return the problem document of an error; None for what nobody expected."""
    if isinstance(error, Http404):
        error = exceptions.NotFound("There is nothing here that this device may see.")
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if not isinstance(error, exceptions.APIException):
        return None
    set_rollback()
    response = Response(
        problem_of(error),
        status=error.status_code,
        headers=_headers(error),
        content_type=MEDIA_TYPE,
    )
    response["Cache-Control"] = "no-store"
    return response


def problem_of(error: exceptions.APIException) -> dict:
    """Return the members of a problem document."""
    body = {
        "type": f"urn:problem:{_kind(error)}",
        "title": HTTPStatus(error.status_code).phrase,
        "status": error.status_code,
        "detail": _sentence(error),
    }
    if isinstance(error, exceptions.ValidationError):
        body["errors"] = list(pointed(error.detail))
    return body | getattr(error, "more", {})


def _kind(error: exceptions.APIException) -> str:
    return getattr(error, "kind", "") or error.default_code.replace("_", "-")


def _sentence(error: exceptions.APIException) -> str:
    if isinstance(error, exceptions.ValidationError):
        return NOT_TAKEN
    return str(error.detail)


def pointed(detail, pointer: str = ""):
    """Yield each sentence with the JSON Pointer (RFC 6901) of what it speaks of."""
    if isinstance(detail, dict):
        for name, inner in detail.items():
            here = "" if name == "non_field_errors" else f"/{escaped(name)}"
            yield from pointed(inner, pointer + here)
    elif isinstance(detail, list):
        for place, inner in enumerate(detail):
            nested = isinstance(inner, dict | list)
            yield from pointed(inner, f"{pointer}/{place}" if nested else pointer)
    else:
        yield {"pointer": pointer, "detail": str(detail)}


def escaped(name) -> str:
    """Return a name as it stands in a JSON Pointer."""
    return str(name).replace("~", "~0").replace("/", "~1")


def _headers(error: exceptions.APIException) -> dict[str, str]:
    headers = {}
    if getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = error.auth_header
    if getattr(error, "wait", None):
        headers["Retry-After"] = str(int(error.wait) + 1)
    return headers
