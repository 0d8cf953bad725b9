"""What every view of the API does: who, how often, what version, and each request once."""

import hashlib
import json
from collections.abc import Callable

from django.core.files.uploadedfile import UploadedFile
from django.shortcuts import get_object_or_404
from rest_framework.authentication import SessionAuthentication
from rest_framework.pagination import CursorPagination
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response
from rest_framework.views import APIView

from services_inventory.models import SentOnce
from services_inventory.operations.sent_once import SentBefore, sent_once
from services_inventory.today import now

from ..models import WorkOrder
from ..queries.together import together
from .authentication import (
    DeviceTokenAuthentication,
    OfAContractor,
    Throttle,
)
from .bodies import ExactJSONParser, strange
from .problems import NOT_TAKEN, Problem, pointed, problem_response
from .serializers import WorkOrderSerializer, version_of

JSON_LIMIT_BYTES = 1024**2
FORM_LIMIT_BYTES = 55 * 1024**2
KEY_LENGTH = SentOnce._meta.get_field("key").max_length


class ById(CursorPagination):
    """Pages of 50, the newest first, by a cursor that stays right while rows are added."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200
    ordering = "-id"


class DeviceView(APIView):
    """A view for a contractor's devices and the phone pages."""

    authentication_classes = (DeviceTokenAuthentication, SessionAuthentication)
    permission_classes = (OfAContractor,)
    throttle_classes = (Throttle,)
    parser_classes = (ExactJSONParser,)
    renderer_classes = (JSONRenderer,)
    parameters: tuple[str, ...] = ()

    def get_exception_handler(self):
        """Return what makes a problem document of an error."""
        return problem_response

    def initial(self, request, *args, **kwargs):
        """Refuse a body that is too large before it is read, and parameters of no meaning."""
        super().initial(request, *args, **kwargs)
        self._refuse_strange_parameters(request.query_params)
        form = request.content_type and request.content_type.startswith("multipart/")
        limit = FORM_LIMIT_BYTES if form else JSON_LIMIT_BYTES
        if int(request.META.get("CONTENT_LENGTH") or 0) > limit:
            raise Problem(413, "too-large", f"Send at most {limit // 1024**2} MB in one request.")

    def _refuse_strange_parameters(self, sent) -> None:
        name = next((name for name in sent if name not in self.parameters), None)
        if name is not None:
            known = ", ".join(self.parameters) or "none"
            said = f"There is no parameter {name[:40]!r} at this address; there is: {known}."
            raise Problem(400, "unknown-parameter", said)

    def orders(self):
        """Return the orders that this device may see."""
        return WorkOrder.objects.visible_to(self.request.user).select_related(
            "line__premise", "contractor", "package", "crew"
        )

    def order(self, pk: int) -> WorkOrder:
        """Return one of the device's orders; another company's answers 404 as none does."""
        return get_object_or_404(self.orders(), pk=pk)

    def fresh(self, order: WorkOrder) -> None:
        """Refuse a write that was made looking at an older version of its order (If-Match)."""
        self.unchanged(
            version_of(order),
            f"{order.number} was changed in the meantime; it is {order.get_state_display()}. "
            "Look at it as it stands now, then send again.",
            lambda: {"order": WorkOrderSerializer(order).data},
        )

    def unchanged(self, tag: str, sentence: str, now_stands: Callable[[], dict]) -> None:
        """Refuse a write that was made looking at another version than the one that stands."""
        wanted = self.request.headers.get("If-Match", "").strip()
        if wanted not in ("", "*") and tag not in _tags(wanted):
            raise Problem(412, "order-changed", sentence, **now_stands())

    def once(self, work: Callable[[], Response]) -> Response:
        """Do the work of a request once for its Idempotency-Key; a repeat gets the same answer."""
        key = self.request.headers.get("Idempotency-Key", "").strip().strip('"')
        if not key:
            return work()
        if len(key) > KEY_LENGTH or not key.isascii() or not key.isprintable():
            raise Problem(400, "bad-key", f"An Idempotency-Key is 1 to {KEY_LENGTH} ASCII signs.")
        try:
            return sent_once(
                user=self.request.user,
                key=key,
                content_sha256=_digest(self.request),
                at=now(),
                work=work,
                answer=lambda made: (
                    made.status_code,
                    json.loads(JSONRenderer().render(made.data)),
                ),
            )
        except SentBefore as before:
            if not before.same:
                raise Problem(
                    422,
                    "key-reused",
                    "This Idempotency-Key was used for another request. Take a new.",
                ) from None
            kept = before.kept
            replayed = {"Idempotency-Replayed": "true"}
            return Response(kept.answer, status=kept.status, headers=replayed)

    def tagged(self, data, tag: str = "") -> Response:
        """Return data with its ETag, or 304 where the device has it already (If-None-Match)."""
        tag = tag or hashlib.sha256(JSONRenderer().render(data)).hexdigest()[:20]
        known = _tags(self.request.headers.get("If-None-Match", ""))
        same = tag in known or "*" in known
        response = Response(status=304) if same else Response(data)
        response["ETag"] = f'"{tag}"'
        response["Cache-Control"] = "private, no-cache"
        return response

    def taken(self, serializer) -> dict:
        """Return what was sent, checked by a serializer."""
        given = serializer(data=self.request.data)
        taken = given.is_valid()
        faults = [*pointed(given.errors), *strange(given, self.request.data)]
        if faults or not taken:
            raise Problem(400, "invalid", NOT_TAKEN, errors=faults)
        return given.validated_data


class PagesView(DeviceView):
    """A view of things that come by the page."""

    parameters = ("cursor", "page_size")

    def page(self, rows, serializer) -> Response:
        """Return a page of rows under a cursor."""
        size = self.request.query_params.get("page_size", "1")
        if not (size.isdecimal() and 0 < int(size[:9]) <= ById.max_page_size):
            most = ById.max_page_size
            raise Problem(400, "bad-page-size", f"page_size is a number from 1 to {most}.")
        paginator = ById()
        found = paginator.paginate_queryset(rows, self.request, view=self)
        with together(found if rows.model is WorkOrder else ()):
            data = serializer(found, many=True).data
        return self.tagged(paginator.get_paginated_response(data).data)


def _tags(header: str) -> set[str]:
    return {tag.strip().removeprefix("W/").strip('"') for tag in header.split(",") if tag.strip()}


def _digest(request) -> str:
    """Return a digest of method, path and content, equal whatever the form's boundary."""
    digest = hashlib.sha256(f"{request.method} {request.path}\n".encode())
    data = request.data
    if not hasattr(data, "lists"):
        digest.update(json.dumps(data, sort_keys=True).encode())
        return digest.hexdigest()
    for name, values in sorted(data.lists()):
        for value in values:
            digest.update(f"{name}\n".encode("utf-8", "surrogatepass"))
            digest.update(_content(value))
    return digest.hexdigest()


def _content(value) -> bytes:
    if not isinstance(value, UploadedFile):
        return str(value).encode("utf-8", "surrogatepass")
    digest = hashlib.sha256()
    for chunk in value.chunks():
        digest.update(chunk)
    value.seek(0)
    return digest.digest()
