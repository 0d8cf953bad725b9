"""The public form: what a resident tells or asks about a line, no account needed."""

from django import forms
from django.shortcuts import redirect
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from program import clock
from program.models import Inquiry
from program.operations.inquiries import PHOTO_KINDS, PHOTO_LIMIT_BYTES, inquiry_receive
from program.public.limits import HOUR, limited
from program.public.pages import page, spoken
from program.public.records import public_lines
from program.typed import typed
from services_inventory.domain.content_types import content_type_of
from services_inventory.operations.documents import DocumentRefused

ACCEPTED = "image/jpeg,image/png,image/heic,application/pdf,.heic"
MB = PHOTO_LIMIT_BYTES // 1024**2


class TellUsForm(forms.Form):
    """What a customer may tell us. `web_page` is empty unless a machine fills the form."""

    kind = forms.ChoiceField(
        label=_("What do you want to tell us?"),
        choices=[
            (Inquiry.Kind.WRONG_CATEGORY.value, _("The category of my line is wrong")),
            (Inquiry.Kind.REPLACED_BY_OWNER.value, _("I had my line replaced")),
            (Inquiry.Kind.PIPE_PHOTO.value, _("I send a photo of the pipe at the meter")),
            (Inquiry.Kind.OWNER_PLANS.value, _("I plan to replace my side of the line")),
            (Inquiry.Kind.WATER_TEST.value, _("Please test my water for lead")),
            (
                Inquiry.Kind.OWNER_AGREES.value,
                _("I own the building and agree that you replace the line"),
            ),
        ],
        widget=forms.RadioSelect,
        initial=Inquiry.Kind.WRONG_CATEGORY.value,
    )
    address_given = forms.CharField(
        label=_("Address or location identifier"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "street-address"}),
    )
    message = forms.CharField(
        label=_("What do you know about the pipe?"),
        help_text=_("For example: what it looks like where it enters the building."),
        max_length=5000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    replaced_on = forms.DateField(
        label=_("If it was replaced: on which day?"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    photo = forms.FileField(
        label=_("Photo or document"),
        help_text=format_lazy(_("Optional. JPEG, PNG, HEIC or PDF, at most {mb} MB."), mb=MB),
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": ACCEPTED}),
    )
    name = forms.CharField(
        label=_("Your name"),
        help_text=_("Optional. Never published."),
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    contact = forms.CharField(
        label=_("Telephone or e-mail"),
        help_text=_("Optional. Never published. Without it we send a letter to the address."),
        max_length=200,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "tel"}),
    )
    web_page = forms.CharField(required=False, max_length=200)

    def __init__(self, *args, **kwargs):
        """Tie each field to its hint and error, for those who hear the page."""
        super().__init__(*args, label_suffix="", **kwargs)
        for name, field in self.fields.items():
            if field.help_text and name != "kind":
                field.widget.attrs["aria-describedby"] = f"id_{name}_hint"

    def clean(self):
        """Ask for a name where somebody agrees: whoever plans the work has to find them."""
        given = super().clean()
        if given.get("kind") == Inquiry.Kind.OWNER_AGREES:
            for field in ("name", "contact"):
                if not given.get(field):
                    self.add_error(field, _("We need this to plan the work with you."))
        return given

    def clean_photo(self):
        """Refuse what cannot be kept, in the reader's language."""
        photo = self.cleaned_data["photo"]
        if photo is None:
            if self.cleaned_data.get("kind") == Inquiry.Kind.PIPE_PHOTO:
                raise forms.ValidationError(_("Choose the photo of the pipe."))
            return None
        if photo.size > PHOTO_LIMIT_BYTES:
            raise forms.ValidationError(
                format_lazy(_("The file is larger than {mb} MB. Send a smaller one."), mb=MB)
            )
        found = content_type_of(photo.read(4096))
        photo.seek(0)
        if found not in PHOTO_KINDS:
            raise forms.ValidationError(
                _("This is not a JPEG, PNG, HEIC or PDF file, whatever its name says.")
            )
        return photo

    def clean_replaced_on(self):
        """Refuse a day that has not come."""
        day = self.cleaned_data["replaced_on"]
        if day and day > clock.today():
            raise forms.ValidationError(_("This day lies ahead."))
        return day


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
@limited("tell-us", 8, HOUR, methods=("POST",))
@spoken
def tell_us(request):
    """Show the form, or keep what was sent."""
    if request.method != "POST":
        wanted = {"address_given": request.GET.get("line", "")[:200]}
        if request.GET.get("kind") in Inquiry.Kind.values:
            wanted["kind"] = request.GET["kind"]
        kept = typed(request)
        wanted |= {name: values[-1] for name, values in kept["sent"].items()} if kept else {}
        return page(request, "tell_us", {"form": TellUsForm(initial=wanted)})
    form = TellUsForm(request.POST, request.FILES)
    inquiry = _kept(request, form) if form.is_valid() else None
    if form.errors:
        return page(request, "tell_us", {"form": form}, status=422)
    if inquiry is not None:
        request.session["inquiry"] = inquiry.pk
    return redirect("public:thanks", language=request.LANGUAGE_CODE)


def _kept(request, form: TellUsForm) -> Inquiry | None:
    """Keep the message; nothing where a machine filled the hidden field or an error is shown."""
    given = dict(form.cleaned_data)
    if given.pop("web_page"):
        return None
    given["line"] = _line_at(given["address_given"])
    try:
        return inquiry_receive(
            **given, at=clock.now(), received_on=clock.today(), language=request.LANGUAGE_CODE
        )
    except DocumentRefused as error:  # what the form could not see
        form.add_error("photo", str(error))
        return None


def _line_at(text: str):
    from program.public.lookup import exact

    found = exact(text)
    return public_lines().filter(location_id=found[0]).first() if len(found) == 1 else None


@require_safe
@never_cache
@spoken
def thanks(request):
    """Say what happens now, and by when."""
    inquiry = Inquiry.objects.filter(pk=request.session.get("inquiry", 0)).first()
    return page(request, "thanks", {"inquiry": inquiry})
