"""Forms that record something: what was done is told, or why not, with what was typed kept."""

from collections.abc import Iterator
from contextlib import contextmanager

from django import forms
from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.views import View

from services_inventory.forms.reasons import TakeBackForm
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from services_inventory.today import now, today


def say_faults(request, form) -> None:
    """Say what is wrong with a form, a message for each field."""
    for name, errors in form.errors.items():
        label = f"{form.fields[name].label}: " if name in form.fields else ""
        messages.error(request, label + " ".join(errors))


@contextmanager
def refusals_on(form) -> Iterator[None]:
    """Put what is refused within at the head of the form."""
    try:
        yield
    except Refused as error:
        form.add_error(None, str(error))


class Recording:
    """What every page needs that records something."""

    def done(self, sentence: str, *where, level=messages.SUCCESS):
        """Tell what was done, and go on to another page."""
        messages.add_message(self.request, level, sentence)
        return redirect(*where)

    @property
    def by(self) -> str:
        """The name under which a record is made."""
        return self.request.user.get_username()

    def signed(self) -> dict:
        """Return who does it and when."""
        return {"by": self.by, "at": now()}

    def dated(self) -> dict:
        """Return who does it, when, and which day it is."""
        return {**self.signed(), "today": today()}


class Act(Recording, View):
    """One form of a page with several: kept, or refused by a message, and back to the page."""

    form_class: type = forms.Form  # of a button: nothing is asked
    model = None  # what the address names: a model, or rows of one
    page = ""  # the name of the page that the form is on

    def post(self, request, **kwargs):
        """Keep it, or say why not."""
        thing = self.thing(**kwargs)
        self.form = self.filled(thing)
        if not self.form.is_valid():
            return self.refuse(thing)
        try:
            done = self.keep(thing, self.form.cleaned_data)
        except Refused as error:
            self.fault(error)
            return self.refuse(thing)
        if not isinstance(done, str):
            return done
        messages.success(request, done)
        return self.back(thing)

    def thing(self, **kwargs):
        """Return what the address names; nothing where it names nothing."""
        return get_object_or_404(self.model, **kwargs) if self.model else None

    def filled(self, thing):
        """Return the form with what was sent."""
        return self.form_class(self.request.POST, self.request.FILES)

    def keep(self, thing, given: dict):
        """Do it; return the sentence that says what was done, or an answer of its own.

        Raises
        ------
        Refused: it can't be done so; the sentence is shown.
        """
        raise NotImplementedError

    def fault(self, error: Refused) -> None:
        """Put a refusal beside what it is of."""
        self.form.add_error(self.field_of(error), str(error))

    def field_of(self, error: Refused) -> str | None:
        """Return the field that a refusal is of; None where it is of the whole."""
        return None

    def refuse(self, thing):
        """Say what is wrong, each as a message, and lead back."""
        say_faults(self.request, self.form)
        return self.back(thing)

    def back(self, thing):
        """Lead to the page that the form was on."""
        return redirect(self.page, *self.kwargs.values())


class PageAct(Act):
    """A form that is shown again on its page, with what is wrong beside what was typed."""

    shown_as = "form"  # the name by which the page knows the form

    def refuse(self, thing):
        """Show the page again."""
        setattr(self, self.shown_as, self.form)
        return self.render_to_response(self.get_context_data(**self.kwargs), status=422)


class FormPage(Act):
    """A page of one form: opened, and shown again with what is wrong beside what was typed."""

    template_name = ""

    def get(self, request, **kwargs):
        """Show the form as it opens."""
        thing = self.thing(**kwargs)
        return self.show(thing, self.first(thing))

    def first(self, thing):
        """Return the form as it opens."""
        return self.form_class()

    def beside(self, thing, form) -> dict:
        """Return what the page shows beside its form."""
        return {}

    def refuse(self, thing):
        """Show the page again."""
        return self.show(thing, self.form, status=422)

    def show(self, thing, form, status: int = 200):
        """Answer the page with a form."""
        context = {**self.beside(thing, form), "form": form}
        return render(self.request, self.template_name, context, status=status)


class TakeBack(Act):
    """A record is taken back with a reason."""

    form_class = TakeBackForm
    told = "Taken back; it stays readable."

    def keep(self, row, given):
        """Take it back."""
        take_back(row=row, **given, **self.signed())
        return self.told.format(row=row)
