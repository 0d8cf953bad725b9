"""Pull logs, photos and completion records in, and what became of them out."""

from django.db.models import Q
from django.shortcuts import get_object_or_404
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from services_inventory.models import Document
from services_inventory.today import now

from ...completion.photos import photo_keep
from ...models import CompletionRecord, PhotoFacts, PullRecord, ToolStringRecord
from ...operations.completions import completion_hand_in
from ...operations.pulls import pull_record
from ..base import DeviceView, PagesView
from ..described import Described, lists, reads, writes
from ..problems import Problem, refused_as
from ..serializers import (
    CompletionInSerializer,
    CompletionSerializer,
    PhotoInSerializer,
    PhotoSerializer,
    PullInSerializer,
    PullSerializer,
)

_MACHINE = ("bore_in", "rod_in", "efficiency", "count", "rod_side", "free_pressure_psi")


class PullList(PagesView):
    """Pulls of an order."""

    schema = Described()
    parser_classes = (MultiPartParser,)

    @lists(PullSerializer, "Pulls recorded for an order")
    def get(self, request, pk: int):
        """Return a page of pulls."""
        return self.page(self.order(pk).pulls.all(), PullSerializer)

    @writes({"multipart/form-data": PullInSerializer}, PullSerializer, "Send the log of a pull")
    def post(self, request, pk: int):
        """Read the log, judge it and keep it; the same log again is the same pull."""
        order, given = self.order(pk), self.taken(PullInSerializer)
        return self.once(lambda: self._record(order, given))

    def _record(self, order, given: dict) -> Response:
        self.fresh(order)
        log = given["log"]
        with refused_as("log-refused"):
            made = pull_record(
                work_order=order,
                log=log,
                name=log.name,
                machine={name: given[name] for name in _MACHINE if name in given},
                tool_string=_of_order(ToolStringRecord, order, given.get("tool_string")),
                pulled_on=given["pulled_on"],
                by=self.request.user.get_username(),
                at=now(),
            )
        return Response(PullSerializer(made).data, status=201)


class PullDetail(DeviceView):
    """One pull."""

    schema = Described()

    @reads(PullSerializer, "A pull")
    def get(self, request, pk: int):
        """Return the pull with its findings."""
        rows = PullRecord.objects.filter(work_order__in=self.orders())
        return self.tagged(PullSerializer(get_object_or_404(rows, pk=pk)).data)


class PhotoList(PagesView):
    """Photos sent for an order."""

    schema = Described()
    parser_classes = (MultiPartParser,)

    @lists(PhotoSerializer, "Photos sent for an order")
    def get(self, request, pk: int):
        """Return a page of photos."""
        return self.page(self.order(pk).photos.select_related("document"), PhotoSerializer)

    @writes({"multipart/form-data": PhotoInSerializer}, PhotoSerializer, "Send a photo")
    def post(self, request, pk: int):
        """Keep a photo, drawn anew; the same photo again is the same document."""
        order, given = self.order(pk), self.taken(PhotoInSerializer)
        return self.once(lambda: self._keep(order, given))

    def _keep(self, order, given: dict) -> Response:
        photo = given["photo"]
        return photo_of(order, given, photo.read(), photo.name, self.request.user)


def photo_of(order, given: dict, content: bytes, name: str, user) -> Response:
    """Keep a photo with its kind and place; a refusal is a problem."""
    with refused_as("photo-refused"):
        kept = photo_keep(
            work_order=order,
            content=content,
            name=name,
            kind=given["kind"],
            place=_place(given),
            by=user.get_username(),
            at=now(),
        )
    facts = PhotoFacts.objects.select_related("document").get(document=kept, work_order=order)
    return Response(PhotoSerializer(facts).data, status=201)


class CompletionList(PagesView):
    """Completion records of an order."""

    schema = Described()

    @lists(CompletionSerializer, "Completion records of an order")
    def get(self, request, pk: int):
        """Return a page of records."""
        rows = self.order(pk).completions.select_related("review").prefetch_related("photos")
        return self.page(rows, CompletionSerializer)

    @writes(CompletionInSerializer, CompletionSerializer, "Hand in a completion record")
    def post(self, request, pk: int):
        """Hand in what was done; with an Idempotency-Key it is handed in once."""
        order, given = self.order(pk), self.taken(CompletionInSerializer)
        return self.once(lambda: self._hand_in(order, given))

    def _hand_in(self, order, given: dict) -> Response:
        self.fresh(order)
        made = hand_in(order, given, self.request.user)
        return Response(CompletionSerializer(made).data, status=201)


def hand_in(order, given: dict, user) -> CompletionRecord:
    """Hand in a record whose photos, pull and string are given by id; a refusal is a problem."""
    given = dict(given)
    photos = _photos_of(order, given.pop("photos", []))
    string = _of_order(ToolStringRecord, order, given.pop("tool_string", None))
    pull = _of_order(PullRecord, order, given.pop("pull", None))
    with refused_as("record-refused"):
        return completion_hand_in(
            work_order=order,
            photos=photos,
            tool_string=string,
            pull=pull,
            by=user.get_username(),
            user_id=user.pk,
            at=now(),
            **given,
        )


class CompletionDetail(DeviceView):
    """One completion record."""

    schema = Described()

    @reads(CompletionSerializer, "A completion record")
    def get(self, request, pk: int):
        """Return the record with its findings and the utility's answer."""
        rows = CompletionRecord.objects.filter(work_order__in=self.orders())
        record = get_object_or_404(rows.select_related("review"), pk=pk)
        return self.tagged(CompletionSerializer(record).data)


def _place(given: dict) -> tuple[float, float] | None:
    known = given.get("latitude"), given.get("longitude")
    return None if None in known else known


def _of_order(kind, order, pk: int | None):
    if pk is None:
        return None
    found = kind.objects.filter(work_order=order, pk=pk).first()
    if found is None:
        what = "pull" if kind is PullRecord else "tool string"
        raise Problem(422, "not-of-order", f"{order.number} has no {what} {pk}.")
    return found


def _photos_of(order, ids: list[int]) -> list[Document]:
    before = CompletionRecord.photos.through.objects.filter(completionrecord__work_order=order)
    of_order = Q(photo_facts__work_order=order) | Q(pk__in=before.values("document"))
    own = Document.objects.filter(of_order).distinct().in_bulk(ids)
    missing = [str(pk) for pk in ids if pk not in own]
    if missing:
        raise Problem(422, "not-of-order", f"{order.number} has no photo {', '.join(missing)}.")
    return [own[pk] for pk in dict.fromkeys(ids)]
