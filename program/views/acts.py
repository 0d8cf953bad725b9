"""One act of a page with several short forms: kept, or refused with what was typed."""

from django.contrib import messages
from django.shortcuts import redirect
from django.views import View

from program.clock import now, today

from .permitted import Permitted


class Act(Permitted, View):
    """Keep what a short form says, say what was done or why not, and lead back."""

    form_class: type
    refusals: tuple[type[Exception], ...] = ()

    def post(self, request, **kwargs):
        """Keep it, or say why not."""
        thing = self.thing(**kwargs)
        form = self.form_class(request.POST, request.FILES)
        if not form.is_valid():
            for name, errors in form.errors.items():
                messages.error(request, f"{form.fields[name].label}: {' '.join(errors)}")
            return self.back(thing)
        try:
            messages.success(request, self.keep(thing, form.cleaned_data))
        except self.refusals as error:
            messages.error(request, str(error))
        return self.back(thing)

    def thing(self, **kwargs):
        """Return what the address names."""
        return

    def keep(self, thing, given: dict) -> str:
        """Do it; return the sentence that says what was done."""
        raise NotImplementedError

    def back(self, thing):
        """Lead to the page that the form was on."""
        return redirect("sampling")

    def signed(self) -> dict:
        """Return who does it and when."""
        return {"by": self.request.user.get_username(), "at": now()}

    def dated(self) -> dict:
        """Return who does it, when, and which day it is."""
        return {**self.signed(), "today": today()}
