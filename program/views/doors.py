"""Signing in: name and password, the second step, a password shown again, and having to wait."""

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import authenticate
from django.contrib.auth.views import LoginView, LogoutView, PasswordResetConfirmView
from django.shortcuts import redirect
from django.urls import reverse, reverse_lazy
from django.utils import translation
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext_lazy as _
from django.views.generic import FormView

from program.clock import now, standing_day
from program.doors import REST, given, owed, tongue
from program.operations.people import second_step_noted
from program.second_step import (
    must_have_second_step,
    picture,
    second_step_begin,
    second_step_confirm,
    second_step_of,
    second_step_passed,
)
from program.waits import remember_browser

WRONG_CODE = _(
    "That code is not right, was used before, or its half minute is over. Wait a little, then type "
    "the one that shows now."
)


class Door:
    """A page at the door: in every language, open to whoever still owes something."""

    at_the_door = True

    def dispatch(self, request, *args, **kwargs):
        """Answer in the reader's language."""
        self.language = request.LANGUAGE_CODE = tongue(request)
        with translation.override(self.language):
            answer = super().dispatch(request, *args, **kwargs)
            return answer.render() if hasattr(answer, "render") else answer

    def get_context_data(self, **kwargs):
        """Add the languages and where it goes on."""
        return super().get_context_data(
            language=self.language, languages=settings.LANGUAGES, next=self.onward(), **kwargs
        )

    def onward(self) -> str:
        """Return where it goes on: a page of ours."""
        asked = self.request.POST.get("next") or self.request.GET.get("next", "")
        hosts = {self.request.get_host()}
        own = url_has_allowed_host_and_scheme(asked, hosts, self.request.is_secure())
        return asked if own else reverse("board")


class SignInView(Door, LoginView):
    """The one place to sign in; whoever owes something more is led there."""

    template_name = "registration/login.html"

    def dispatch(self, request, *args, **kwargs):
        if request.waiting.is_authenticated:
            where = "confirm" if owed(request) == REST else "second_step"
            return redirect(f"{reverse(where)}?{urlencode({'next': self.asked_next(request)})}")
        return super().dispatch(request, *args, **kwargs)

    def asked_next(self, request) -> str:
        """Return where it was to go on, unread."""
        return request.POST.get("next") or request.GET.get("next", "")

    def get_context_data(self, **kwargs):
        """Say of the invented town that its accounts need less."""
        exempt = standing_day() is not None and not settings.DEMO_SECOND_STEP
        return super().get_context_data(exempt=exempt, **kwargs)

    def form_valid(self, form):
        """Let in; this browser is known from now on."""
        answer = super().form_valid(form)
        remember_browser(self.request, answer, form.get_user().get_username())
        return answer


class SignOutView(LogoutView):
    """Signing out, also of a session that still owes something."""

    at_the_door = True


class CodeForm(forms.Form):
    """Six digits, or a recovery code."""

    code = forms.CharField(
        label=_("Code"), max_length=40,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "autofocus": True}
        ),
    )  # fmt: skip


class SecondStepView(Door, FormView):
    """The second step; where there is none yet, the telephone for it is set up."""

    template_name, form_class = "registration/second_step.html", CodeForm

    def dispatch(self, request, *args, **kwargs):
        """Find who asks: somebody on the way in, or somebody who sets one up."""
        waits = request.waiting.is_authenticated and owed(request) != REST
        self.person = request.waiting if waits else request.user
        if not self.person.is_authenticated:
            return redirect("login")
        self.known = second_step_of(self.person) is not None
        if self.known and not waits:
            return redirect("own_account")
        return super().dispatch(request, *args, **kwargs)

    def get_context_data(self, **kwargs):
        """Give the picture that a telephone reads, where one is set up."""
        if not self.known and "codes" not in kwargs:
            device = second_step_begin(self.person)
            secret = device.config_url.split("secret=")[1].split("&")[0]
            kwargs |= {"picture": picture(device.config_url), "secret": secret}
        needed = must_have_second_step(self.person)
        return super().get_context_data(person=self.person, needed=needed, **kwargs)

    def form_valid(self, form):
        """Let in; whoever has set one up is shown the recovery codes, this once."""
        code = form.cleaned_data["code"]
        if self.known and second_step_passed(user=self.person, code=code):
            given(self.request)
            return redirect(self.onward())
        if not self.known and (codes := second_step_confirm(user=self.person, code=code)):
            given(self.request)
            second_step_noted(user=self.person, what="set up", at=now())
            told = self.get_context_data(codes=codes, stays=True)
            return shown_once(self.render_to_response(told))
        form.add_error("code", WRONG_CODE)
        return self.form_invalid(form)


class PasswordForm(forms.Form):
    """One's own password, once more."""

    password = forms.CharField(
        label=_("Password"), strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True}),
    )  # fmt: skip


class ConfirmView(Door, FormView):
    """A password shown again: after a rest, and before an act that is signed."""

    template_name, form_class = "registration/confirm.html", PasswordForm

    def dispatch(self, request, *args, **kwargs):
        rests = request.waiting.is_authenticated and owed(request) == REST
        self.person = request.waiting if rests else request.user
        if not self.person.is_authenticated:
            return redirect("login")
        return super().dispatch(request, *args, **kwargs)

    def get_context_data(self, **kwargs):
        return super().get_context_data(person=self.person, **kwargs)

    def form_valid(self, form):
        said = {"username": self.person.get_username(), "password": form.cleaned_data["password"]}
        if authenticate(self.request, **said) is None:
            form.add_error("password", _("That is not the password of this account."))
            return self.form_invalid(form)
        given(self.request)
        return redirect(self.onward())


class SetPasswordView(Door, PasswordResetConfirmView):
    """Where a link leads that an administrator gave."""

    template_name = "registration/set_password.html"
    success_url = reverse_lazy("login")

    def form_valid(self, form):
        messages.success(self.request, _("The password is set. Sign in with it."))
        return super().form_valid(form)


def shown_once(answer):
    """Mark an answer that shows a secret, so that no browser keeps it."""
    answer.status_code = 201
    answer["Cache-Control"] = "no-store"
    return answer
