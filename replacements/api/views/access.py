"""Getting in: what a crew may see, attempts, the owner's answer, appointments."""

from django.db import transaction
from django.db.models import Q
from django.shortcuts import get_object_or_404
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from services_inventory.today import now, today

from ...completion.photos import paper_keep
from ...models import Appointment, WorkOrder
from ...operations.access import consent_record, contact_attempt_record
from ...operations.visits import appointment_book, appointment_close
from ...queries.visits import access_of, access_version
from ..base import DeviceView, PagesView
from ..described import Described, lists, reads, writes
from ..problems import Problem, refused_as
from ..visiting import (
    AccessSerializer,
    AppointmentCloseSerializer,
    AppointmentInSerializer,
    AppointmentSerializer,
    ConsentInSerializer,
    ConsentSerializer,
    ContactAttemptInSerializer,
    ContactAttemptSerializer,
)


class AccessView(DeviceView):
    """A view of getting in at an order's place."""

    @property
    def contractor(self):
        """The company that the device speaks for."""
        return self.request.user.membership.contractor

    def appointments(self):
        """Return the appointments that the company may see: its own and the utility's."""
        return Appointment.objects.filter(Q(contractor=None) | Q(contractor=self.contractor))

    def shown(self, order: WorkOrder) -> dict:
        """Return what the company may see of getting in."""
        return AccessSerializer(access_of(order.line, self.contractor, today())).data

    def record(self, work, **given):
        """Record something of the company; a refusal is a problem."""
        with refused_as("access-refused"):
            return work(by=self.request.user.get_username(), **given)


class AccessDetail(AccessView):
    """Getting in at an order's place."""

    schema = Described()

    @reads(AccessSerializer, "What a crew may see of getting in")
    def get(self, request, pk: int):
        """Return consent, languages, appointments and the company's own attempts."""
        return self.tagged(self.shown(self.order(pk)))


class AttemptList(AccessView, PagesView):
    """The company's attempts to reach somebody."""

    schema = Described()

    @lists(ContactAttemptSerializer, "The company's attempts to reach somebody")
    def get(self, request, pk: int):
        """Return a page of attempts."""
        rows = self.order(pk).line.contact_attempts.filter(contractor=self.contractor)
        return self.page(rows, ContactAttemptSerializer)

    @writes(ContactAttemptInSerializer, ContactAttemptSerializer, "Record an attempt")
    def post(self, request, pk: int):
        """Record an attempt; with an Idempotency-Key it is recorded once."""
        order, given = self.order(pk), self.taken(ContactAttemptInSerializer)
        return self.once(lambda: self._record(order, given))

    def _record(self, order: WorkOrder, given: dict) -> Response:
        made = self.record(
            contact_attempt_record,
            line=order.line,
            contractor=self.contractor,
            recorded_at=now(),
            **given,
        )
        return Response(ContactAttemptSerializer(made).data, status=201)


class ConsentList(AccessView):
    """The owner's answer."""

    schema = Described()
    parser_classes = (MultiPartParser,)

    @writes({"multipart/form-data": ConsentInSerializer}, ConsentSerializer, "Record an answer")
    def post(self, request, pk: int):
        """Record the owner's answer with the signed form, unless another answer came between."""
        order, given = self.order(pk), self.taken(ConsentInSerializer)
        return self.once(lambda: self._record(order, given))

    def _record(self, order: WorkOrder, given: dict) -> Response:
        self.unchanged(
            access_version(order.line),
            f"Another answer of the owner at {order.line.premise.address} was recorded in the "
            "meantime. Look at it, then send again if yours still holds.",
            lambda: {"access": self.shown(order)},
        )
        paper = given.pop("paper", None)
        if paper is None and given["answer"] == "GIVEN":
            sentence = "Consent that is given needs the signed form: a signature or a photo of it."
            raise Problem(422, "paper-missing", sentence)
        with transaction.atomic():
            document = self._keep(order, paper) if paper is not None else None
            made = self.record(
                consent_record, line=order.line, document=document, recorded_at=now(), **given
            )
        return Response(ConsentSerializer(made).data, status=201)

    def _keep(self, order: WorkOrder, paper):
        who = {"by": self.request.user.get_username(), "at": now()}
        with refused_as("paper-refused"):
            return paper_keep(file=paper, kind="CONSENT", work_order=order, **who)


class AppointmentList(AccessView, PagesView):
    """Appointments at an order's place."""

    schema = Described()

    @lists(AppointmentSerializer, "Appointments at an order's place")
    def get(self, request, pk: int):
        """Return a page of appointments."""
        return self.page(
            self.appointments().filter(line=self.order(pk).line_id), AppointmentSerializer
        )

    @writes(AppointmentInSerializer, AppointmentSerializer, "Book an appointment")
    def post(self, request, pk: int):
        """Book a time; with an Idempotency-Key it is booked once."""
        order, given = self.order(pk), self.taken(AppointmentInSerializer)
        return self.once(lambda: self._book(order, given))

    def _book(self, order: WorkOrder, given: dict) -> Response:
        made = self.record(
            appointment_book, line=order.line, contractor=self.contractor, at=now(), **given
        )
        return Response(AppointmentSerializer(made).data, status=201)


class AppointmentClose(AccessView):
    """What became of an appointment."""

    schema = Described()

    @writes(AppointmentCloseSerializer, AppointmentSerializer, "Close an appointment", 200)
    def post(self, request, pk: int):
        """Say that it was kept, missed or called off."""
        rows = self.appointments().filter(line__work_orders__in=self.orders()).distinct()
        appointment = get_object_or_404(rows, pk=pk)
        given = self.taken(AppointmentCloseSerializer)
        return self.once(lambda: self._close(appointment, given))

    def _close(self, appointment: Appointment, given: dict) -> Response:
        made = self.record(appointment_close, appointment=appointment, at=now(), **given)
        return Response(AppointmentSerializer(made).data)
