"""Attempts to reach the owner, the owner's answer, who can be asked, and appointments."""

from django.db import transaction
from django.db.models import Q
from django.shortcuts import get_object_or_404

from services_inventory.operations.documents import DocumentRefused
from services_inventory.today import now, today

from ..completion.photos import paper_keep
from ..forms.access import (
    AppointmentCloseForm,
    AppointmentForm,
    AttemptForm,
    ConsentForm,
    PersonForm,
)
from ..models import Appointment, Person, WorkOrder
from ..operations.access import AccessError, consent_record, contact_attempt_record
from ..operations.visits import appointment_book, appointment_close, person_left, person_record
from .scope import ACCESS, WorkView

NAMES = ("replacements.record_access",)


class AccessActView(WorkView):
    """Recording something of getting in at an order's place, from a form on its page."""

    permissions = ACCESS
    form_class: type
    sentence = "Recorded."

    def post(self, request, pk):
        """Keep what the form says, or say why not."""
        order, form = self.order(), self.form_class(request.POST, request.FILES)
        if not form.is_valid():
            return self.refused(first_error(form), "work_order", pk)
        try:
            with transaction.atomic():
                self.record(order, dict(form.cleaned_data))
        except (AccessError, DocumentRefused) as error:
            return self.refused(str(error), "work_order", pk)
        return self.done(self.sentence, "work_order", pk)

    def record(self, order: WorkOrder, given: dict) -> None:
        """Record what was given."""
        raise NotImplementedError


class AttemptView(AccessActView):
    """Recording one attempt."""

    form_class, sentence = AttemptForm, "The attempt is recorded."

    def record(self, order: WorkOrder, given: dict) -> None:
        """Record the attempt."""
        contact_attempt_record(
            line=order.line, by=self.by, recorded_at=now(), contractor=self.company, **given
        )


class ConsentView(AccessActView):
    """Recording the owner's answer, with its paper."""

    form_class, sentence = ConsentForm, "The answer is recorded."

    def record(self, order: WorkOrder, given: dict) -> None:
        """Record the answer; a paper that the utility took in stays with the utility."""
        paper = given.pop("paper")
        document = paper and paper_keep(
            file=paper, kind="CONSENT", work_order=order, by=self.by, at=now(),
            owner_key="" if self.company else "utility",
        )  # fmt: skip
        consent_record(
            line=order.line, document=document or None, by=self.by, recorded_at=now(), **given
        )


class PersonView(AccessActView):
    """Recording who can be asked; crews see the capacity and the language only."""

    permissions = NAMES
    form_class, sentence = PersonForm, "Recorded. Crews see the capacity and the language only."

    def record(self, order: WorkOrder, given: dict) -> None:
        """Record the person."""
        person_record(line=order.line, by=self.by, at=now(), **given)


class PersonLeftView(WorkView):
    """Noting that somebody is not there any more."""

    permissions = NAMES

    def post(self, request, pk, person):
        order = self.order()
        found = get_object_or_404(Person, pk=person, line=order.line)
        person_left(person=found, on=today())
        return self.done("Noted.", "work_order", pk)


class AppointmentView(AccessActView):
    """Booking an appointment."""

    form_class, sentence = AppointmentForm, "The appointment is booked."

    def record(self, order: WorkOrder, given: dict) -> None:
        """Book the appointment."""
        appointment_book(line=order.line, by=self.by, at=now(), contractor=self.company, **given)


class AppointmentCloseView(AccessActView):
    """What became of an appointment."""

    form_class, sentence = AppointmentCloseForm, "Recorded."

    def record(self, order: WorkOrder, given: dict) -> None:
        """Close the appointment of the address, if this user may see it."""
        rows = Appointment.objects.filter(line=order.line)
        if self.company:
            rows = rows.filter(Q(contractor=None) | Q(contractor=self.company))
        appointment = get_object_or_404(rows, pk=self.kwargs["appointment"])
        appointment_close(appointment=appointment, by=self.by, at=now(), **given)

    def post(self, request, pk, appointment):
        """Close it, or say why not."""
        return super().post(request, pk)


def first_error(form) -> str:
    """Return the first thing that is wrong with a form, with the field's name."""
    name, errors = next(iter(form.errors.items()))
    label = form.fields[name].label if name in form.fields else ""
    return f"{label}: {errors[0]}" if label else str(errors[0])
