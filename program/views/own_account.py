"""One's own account: password, second step, sessions, keys for map programs."""

from django.contrib import messages
from django.contrib.auth.mixins import LoginRequiredMixin
from django.contrib.auth.views import PasswordChangeView
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse_lazy
from django.views import View
from django.views.generic import TemplateView

from program.clock import machine_now, now
from program.doors import owe_second_step
from program.look import CHOICES, look_keep
from program.models import MapKey
from program.operations.people import map_key_end, map_key_make, second_step_noted, sessions_end
from program.queries.people import changes, map_keys_of, sessions_of
from program.second_step import (
    must_have_second_step,
    recovery_codes_write,
    second_step_of,
    second_step_remove,
)
from services_inventory.refused import Refused

from .doors import shown_once

CONFIRMED = 30 * 60  # seconds since the password was shown


class OwnAccountView(LoginRequiredMixin, TemplateView):
    """What stands of one's own account."""

    template_name = "registration/own_account.html"

    def get_context_data(self, **kwargs):
        user, moment = self.request.user, machine_now()
        return super().get_context_data(
            second_step=second_step_of(user), needed=must_have_second_step(user), record_now=now(),
            codes_left=user.recovery_codes.filter(used_at=None).count(),
            sessions=sessions_of(user, moment), here=self.request.session.session_key,
            map_keys=map_keys_of(user), changes=changes(account=user), looks=CHOICES, **kwargs,
        )  # fmt: skip


class OwnPasswordView(PasswordChangeView):
    """One's own password; sessions elsewhere end."""

    template_name = "registration/own_password.html"
    success_url = reverse_lazy("own_account")

    def form_valid(self, form):
        answer = super().form_valid(form)
        sessions_end(user=self.request.user, by=self.request.user.get_username(), at=now(),
                     but=self.request.session.session_key)  # fmt: skip
        messages.success(self.request, "Your password is changed. Other sessions have ended.")
        return answer


class OwnLookView(LoginRequiredMixin, View):
    """How pages look in this browser."""

    def post(self, request):
        messages.success(request, "Pages look so in this browser from now on.")
        return look_keep(request, redirect("own_account"))


class OwnSessionsView(LoginRequiredMixin, View):
    """Ending one's own sessions on other machines."""

    def post(self, request):
        """End one, or all but this."""
        ended = sessions_end(user=request.user, by=request.user.get_username(), at=now(),
                             key=request.POST.get("session", ""),
                             but=request.session.session_key)  # fmt: skip
        messages.success(request, f"{ended} session{'' if ended == 1 else 's'} ended.")
        return redirect("own_account")


class OwnCodesView(OwnAccountView):
    """New recovery codes; the older ones end."""

    confirmed_within = CONFIRMED

    def post(self, request):
        if second_step_of(request.user) is None:
            messages.error(request, "Set up the second step first; its codes come with it.")
            return redirect("own_account")
        codes = recovery_codes_write(request.user)
        second_step_noted(user=request.user, what="new recovery codes", at=now())
        return shown_once(self.render_to_response(self.get_context_data(codes=codes)))


class OwnSecondStepView(LoginRequiredMixin, View):
    """Changing the telephone, or doing without where the role allows it."""

    confirmed_within = CONFIRMED

    def post(self, request):
        """Forget the telephone; whoever needs one sets up the next at once."""
        if second_step_of(request.user) is not None:
            second_step_remove(request.user)
            second_step_noted(user=request.user, what="telephone removed", at=now())
            messages.success(request, "That telephone is good for nothing here any more.")
        needed = must_have_second_step(request.user)
        if needed:
            owe_second_step(request)
        return redirect("second_step" if needed else "own_account")


class MapKeyNewView(OwnAccountView):
    """Making a key for a map program."""

    confirmed_within = CONFIRMED

    def post(self, request):
        try:
            key, secret = map_key_make(
                user=request.user, name=request.POST.get("name", ""), at=now()
            )
        except Refused as error:
            messages.error(request, str(error))
            return redirect("own_account")
        told = self.get_context_data(made=key, secret=secret)
        return shown_once(self.render_to_response(told))


class MapKeyEndView(LoginRequiredMixin, View):
    """Ending a key: one's own, or anybody's by whoever manages people."""

    def post(self, request, pk):
        manages = request.user.has_perm("program.manage_people")
        found = MapKey.objects.all() if manages else MapKey.objects.filter(account=request.user)
        key = get_object_or_404(found, pk=pk)
        map_key_end(key=key, by=request.user.get_username(), at=now())
        messages.success(request, f"The key {key.name} is ended.")
        return redirect(*(["own_account"] if key.account == request.user
                          else ["account", key.account_id]))  # fmt: skip
