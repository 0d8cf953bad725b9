"""The page on which a contractor lets devices in and shuts them out."""

from django import forms
from django.shortcuts import get_object_or_404, render

from services_inventory.today import now
from services_inventory.views.acts import refusals_on

from ..models import DeviceToken
from ..views.scope import DO, WorkAct, WorkView
from .authentication import LONGEST, device_let_in, device_shut_out


class DeviceForm(forms.Form):
    """A device to let in."""

    name = forms.CharField(
        label="Device", max_length=80, help_text="Such as “Truck 4 tablet”; you see it here later."
    )
    days = forms.IntegerField(
        label="For how many days", min_value=1, max_value=LONGEST.days, initial=90
    )


class DeviceListView(WorkView):
    """The company's devices, and letting one in."""

    permissions = DO

    def get(self, request):
        """Show the devices."""
        return self._show(DeviceForm())

    def post(self, request):
        """Let a device in; its token is shown this once."""
        form = DeviceForm(request.POST)
        if form.is_valid():
            with refusals_on(form):
                token, secret = device_let_in(
                    user=request.user, by=self.by, at=now(), **form.cleaned_data
                )
                return self._show(DeviceForm(), token, secret)
        return self._show(form)

    def _show(self, form, token=None, secret: str = ""):
        rows = DeviceToken.objects.filter(contractor=self.company).select_related("user")
        context = {
            "devices": rows.order_by("-id")[:200],
            "form": form,
            "token": token,
            "secret": secret,
            "now": now(),
        }
        status = 201 if token else 200
        response = render(self.request, "replacements/device_list.html", context, status=status)
        response["Cache-Control"] = "no-store"
        return response


class DeviceShutOutView(WorkAct):
    """Shutting a device out, at once."""

    permissions = DO

    def thing(self, pk):
        return get_object_or_404(DeviceToken, contractor=self.company, pk=pk)

    def keep(self, token, given):
        device_shut_out(token=token, **self.signed())
        return self.done(f"{token.name} is shut out.", "device_list")
