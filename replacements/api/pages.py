"""The page on which a contractor lets devices in and shuts them out."""

from django import forms
from django.shortcuts import get_object_or_404, render

from services_inventory.today import now

from ..models import DeviceToken
from ..views.scope import DO, WorkView
from .authentication import LONGEST, DeviceError, device_let_in, device_shut_out


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
            try:
                token, secret = device_let_in(
                    user=request.user, by=self.by, at=now(), **form.cleaned_data
                )
                return self._show(DeviceForm(), token, secret)
            except DeviceError as error:
                form.add_error(None, str(error))
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


class DeviceShutOutView(WorkView):
    """Shutting a device out."""

    permissions = DO

    def post(self, request, pk):
        """Stop the device at once."""
        rows = DeviceToken.objects.filter(contractor=self.company)
        token = get_object_or_404(rows, pk=pk)
        device_shut_out(token=token, by=self.by, at=now())
        return self.done(f"{token.name} is shut out.", "device_list")
