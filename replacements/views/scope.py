"""Who may open a page, and which objects they find there. Another company's id answers 404."""

from django.contrib import messages
from django.contrib.auth.mixins import AccessMixin
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect
from django.views import View

from services_inventory.models import Document
from services_inventory.views.acts import Act, FormPage, Recording

from ..models import CompletionRecord, Component, Contractor, WorkOrder
from ..words import LANGUAGES, speaking

SEE = ("replacements.do_work", "replacements.view_all_work")
PLAN = ("replacements.plan_work",)
DO = ("replacements.do_work",)
REVIEW = ("replacements.review_work",)
ACCESS = ("replacements.record_access", "replacements.do_work")
ESTIMATE = ("replacements.do_work", "replacements.plan_work")
EXPLAIN = ("replacements.do_work", "replacements.review_work")


def in_crew_words(request):
    """Speak in the language and units that were chosen for a paper, and keep them for the next."""
    if "language" in request.GET or "units" in request.GET:
        chosen = {name: request.GET.get(name, "") for name in ("language", "units")}
        request.session["paper"] = {
            "language": chosen["language"] if chosen["language"] in LANGUAGES else "en",
            "units": "metric" if chosen["units"] == "metric" else "us",
        }
    paper = request.session.get("paper", {})
    return speaking(paper.get("language", "en"), paper.get("units") == "metric")


class WorkView(AccessMixin, Recording, View):
    """A page that needs one of its permissions; nobody signed in is sent to sign in."""

    permissions: tuple[str, ...] = SEE

    def dispatch(self, request, *args, **kwargs):
        if not request.user.is_authenticated:
            return self.handle_no_permission()
        if not self.lets_in(request.user):
            raise PermissionDenied
        return super().dispatch(request, *args, **kwargs)

    @classmethod
    def lets_in(cls, user) -> bool:
        """Tell whether a user holds one of the page's permissions; nobody signed in holds none."""
        return any(user.has_perm(permission) for permission in cls.permissions)

    @property
    def company(self) -> Contractor | None:
        """The company that the user works for, None for the utility's own staff."""
        membership = getattr(self.request.user, "membership", None)
        return membership.contractor if membership else None

    def order(self) -> WorkOrder:
        """The order of the address, if this user may see it."""
        orders = WorkOrder.objects.visible_to(self.request.user).select_related(
            "line__premise",
            "line__neighborhood",
            "line__decision",
            "contractor",
            "crew",
            "package",
        )
        return get_object_or_404(orders, pk=self.kwargs["pk"])

    def completion(self) -> CompletionRecord:
        """The completion record of the address, if this user may see its order."""
        records = CompletionRecord.objects.filter(
            work_order__in=WorkOrder.objects.visible_to(self.request.user)
        ).select_related("work_order__line__decision", "work_order__contractor", "pull", "review")
        return get_object_or_404(records, pk=self.kwargs["pk"])

    def components(self):
        """The tools that this user may see: their company's own; the utility sees all."""
        if self.company:
            return Component.objects.filter(contractor=self.company)
        if self.request.user.has_perm("replacements.view_all_work"):
            return Component.objects.all()
        return Component.objects.none()

    def refused(self, sentence: str, *where):
        """Tell why nothing was done."""
        return self.done(sentence, *where, level=messages.ERROR)


class WorkAct(Act, WorkView):
    """A form that records something, or a button."""


class WorkForm(FormPage, WorkView):
    """A page of one form."""

    records: tuple[str, ...] = ()  # who fills it in, where others may see the page

    def post(self, request, **kwargs):
        """Keep it, or show the page again."""
        if self.records and not any(request.user.has_perm(each) for each in self.records):
            raise PermissionDenied
        return super().post(request, **kwargs)


class OfOrder:
    """What is recorded is of the order that the address names."""

    page = "work_order"

    def thing(self, **kwargs):
        return self.order()

    def back(self, order):
        return redirect(self.page, order.pk)


class OrderAct(OfOrder, WorkAct):
    """A form on the page of an order."""


class OrderFormPage(OfOrder, WorkForm):
    """A page of one form about an order."""


def document_visible(document: Document, user) -> bool:
    """Tell whether a user may have a document: their company's; the utility, all of the work."""
    membership = getattr(user, "membership", None)
    if membership is not None:
        return document.owner_key == f"contractor:{membership.contractor_id}"
    return user.has_perm("replacements.view_all_work") and bool(
        document.owner_key.startswith("contractor:") or document.owner_key == "utility"
    )
