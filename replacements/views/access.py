"""Attempts to reach the owner, the owner's answer, who can be asked, and appointments."""

from django.db import transaction
from django.db.models import Q
from django.shortcuts import get_object_or_404

from services_inventory.today import now, today

from ..completion.photos import paper_keep
from ..forms.access import (
    AppointmentCloseForm,
    AppointmentForm,
    AttemptForm,
    ConsentForm,
    PersonForm,
)
from ..models import Appointment, Person
from ..operations.access import consent_record, contact_attempt_record
from ..operations.visits import appointment_book, appointment_close, person_left, person_record
from .scope import ACCESS, OrderAct

NAMES = ("replacements.record_access",)


class AttemptView(OrderAct):
    """Recording one attempt."""

    permissions, form_class = ACCESS, AttemptForm

    def keep(self, order, given):
        contact_attempt_record(
            line=order.line, by=self.by, recorded_at=now(), contractor=self.company, **given
        )
        return "The attempt is recorded."


class ConsentView(OrderAct):
    """Recording the owner's answer, with its paper; the utility keeps what it took in itself."""

    permissions, form_class = ACCESS, ConsentForm

    @transaction.atomic
    def keep(self, order, given):
        paper = given.pop("paper")
        document = paper and paper_keep(
            file=paper, kind="CONSENT", work_order=order, **self.signed(),
            owner_key="" if self.company else "utility",
        )  # fmt: skip
        consent_record(
            line=order.line, document=document or None, by=self.by, recorded_at=now(), **given
        )
        return "The answer is recorded."


class PersonView(OrderAct):
    """Recording who can be asked; crews see the capacity and the language only."""

    permissions, form_class = NAMES, PersonForm

    def keep(self, order, given):
        person_record(line=order.line, **self.signed(), **given)
        return "Recorded. Crews see the capacity and the language only."


class PersonLeftView(OrderAct):
    """Noting that somebody is not there any more."""

    permissions = NAMES

    def keep(self, order, given):
        found = get_object_or_404(Person, pk=self.kwargs["person"], line=order.line)
        person_left(person=found, on=today())
        return "Noted."


class AppointmentView(OrderAct):
    """Booking an appointment."""

    permissions, form_class = ACCESS, AppointmentForm

    def keep(self, order, given):
        appointment_book(line=order.line, contractor=self.company, **self.signed(), **given)
        return "The appointment is booked."


class AppointmentCloseView(OrderAct):
    """What became of an appointment that this user may see."""

    permissions, form_class = ACCESS, AppointmentCloseForm

    def keep(self, order, given):
        rows = Appointment.objects.filter(line=order.line)
        if self.company:
            rows = rows.filter(Q(contractor=None) | Q(contractor=self.company))
        appointment = get_object_or_404(rows, pk=self.kwargs["appointment"])
        appointment_close(appointment=appointment, **self.signed(), **given)
        return "Recorded."
