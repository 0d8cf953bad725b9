"""One line: its standing with reasons, its evidence, and recording or taking back evidence."""

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.functional import cached_property
from django.views import View
from django.views.generic import TemplateView

from ..domain.evidence import Portion
from ..forms.days import PastDayForm
from ..forms.evidence import KINDS, LIMIT_BYTES, WORDS, EvidenceForm, ReasonForm, WithdrawForm
from ..models import Document, Evidence, ServiceLine
from ..operations.documents import DocumentRefused, document_store
from ..operations.evidence import (
    evidence_record,
    evidence_record_again,
    evidence_withdraw,
)
from ..queries.buildings import building_facts
from ..queries.history import line_picture, line_story, says, standing_on
from ..queries.lines import line_for_page
from ..queries.locator import locator
from ..queries.past import past_standing
from ..queries.photographs import documents_of
from ..queries.said_categories import said_of
from ..sending import file_as_kept
from ..today import now, today
from .acts import Act, PageAct
from .inspections import InspectionForm
from .panels import line_panels
from .permitted import Permitted


class LineView(Permitted, View):
    """The page of one line; `?on=` adds what stood on a past day."""

    def get(self, request, pk):
        asked = request.GET.get("portion", "")
        start = {"portion": asked} if asked in Portion.__members__ else {}
        return shown_line(request, pk, EvidenceForm(initial=start), status=200)


def shown_line(request, pk: int, form: EvidenceForm, status: int):
    """Return the line's page with the evidence form as it stands."""
    line = line_for_page(pk)
    if line is None:
        raise Http404
    story = line_story(line, today())
    may_record = request.user.has_perm("services_inventory.record_evidence")
    context = {
        **story,
        "drawing": line_picture(story["portions"], "?portion=" if may_record else ""),
        "record_open": bool(form.is_bound or form.initial),
        **_past_day(request, line, story["changes"]),
        "line": line,
        "form": form,
        "words": WORDS,
        "building": building_facts(line.premise),
        "said": said_of(line),
        "locator": locator(line),
        "documents": documents_of(line),
        "panels": line_panels(request, line),
        **_inspections(line),
        "first_day": min((change.effective_on for change in story["changes"]), default=None),
    }
    return render(request, "services_inventory/line.html", context, status=status)


def _inspections(line: ServiceLine) -> dict:
    """Return those ordered here, and the form for one where none waits and nobody knows."""
    rows = line.inspection_orders.with_answers().order_by("-pk")
    orders, unknown = list(rows) if line.was_ordered else [], line.category == "UNKNOWN"
    for order in orders:
        order.waits = unknown and not (order.answered or order.withdrawn_at)
    wanted = unknown and not any(order.waits for order in orders)
    return {"inspections": orders, "look_form": InspectionForm() if wanted else None}


def _past_day(request, line: ServiceLine, changes) -> dict:
    """Return what stood on the day that `?on=` asks for, as was known on the day of `?known=`."""
    asked = bool(request.GET.get("on") or request.GET.get("known"))
    form = PastDayForm(request.GET if asked else {"on": today()}, today=today())
    if not asked or not form.is_valid() or not form.cleaned_data["on"]:
        return {"day_form": form}
    when = form.days(now())
    past = past_standing(line, **when)
    return {
        "day_form": form,
        "asked_day": form.cleaned_data["on"],
        "asked_known": form.cleaned_data["known"],
        "then": standing_on(changes, **when),
        "past": past,
        "past_drawing": line_picture(past["portions"]),
    }


class EvidenceView(Permitted, Act):
    """Recording evidence about a line; what cannot be true comes back beside its field."""

    permission_required = "services_inventory.record_evidence"
    form_class, model = EvidenceForm, ServiceLine

    @transaction.atomic
    def keep(self, line, given):
        file = given["document"]
        document = file and document_store(
            file=file, name=file.name, kind="EVIDENCE", allowed=KINDS, limit_bytes=LIMIT_BYTES,
            **self.signed(),
        )  # fmt: skip
        evidence_record(
            line=line, by=self.by, recorded_at=now(), document=document or None, **self.form.said()
        )
        return f"Recorded. {_stands(line)}"

    def field_of(self, error):
        return "document" if isinstance(error, DocumentRefused) else None

    def refuse(self, line):
        return shown_line(self.request, line.pk, self.form, status=422)

    def back(self, line):
        return redirect(f"{reverse('line', args=[line.pk])}#main")


def _stands(line: ServiceLine) -> str:
    category = line.get_category_display() or "not counted"
    return f"The line is {category}."


class WithdrawView(PageAct, Permitted, TemplateView):
    """Taking evidence back, with the reason and for which days."""

    permission_required = "services_inventory.record_evidence"
    template_name = "services_inventory/evidence_withdraw.html"
    form = None
    told = "Taken back."

    @cached_property
    def evidence(self) -> Evidence:
        """The evidence that the address names; decisions are left to those who decide conflicts."""
        rows = Evidence.objects.select_related("line__premise").filter(withdraws__isnull=True)
        found = get_object_or_404(rows, pk=self.kwargs["pk"])
        decides = self.request.user.has_perm("services_inventory.resolve_conflict")
        if found.resolves and not decides:
            raise PermissionDenied
        return found

    @cached_property
    def taken_back(self) -> Evidence | None:
        """The row that took it back, where one did."""
        return Evidence.objects.filter(withdraws=self.evidence).first()

    def asked(self, data=None):
        """Return the form."""
        return WithdrawForm(data, taken_back=self.taken_back is not None)

    def get_context_data(self, **kwargs):
        """Give what it says, and whether it was taken back."""
        return super().get_context_data(
            evidence=self.evidence, says=says(self.evidence), taken_back=self.taken_back,
            form=self.form or self.asked(), **kwargs,
        )  # fmt: skip

    def thing(self, pk) -> Evidence:
        return self.evidence

    def filled(self, evidence):
        return self.asked(self.request.POST)

    def keep(self, evidence, given):
        self.act()
        line = get_object_or_404(ServiceLine, pk=evidence.line_id)
        return self.done(f"{self.told} {_stands(line)}", "line", line.pk)

    def act(self) -> None:
        """Take it back."""
        said = self.form.said()
        evidence_withdraw(evidence=self.evidence, by=self.by, recorded_at=now(), **said)


class AgainView(WithdrawView):
    """Recording once more what was taken back by mistake."""

    template_name = "services_inventory/evidence_again.html"
    told = "Recorded again."

    def asked(self, data=None):
        """Return the form."""
        return ReasonForm(data)

    def act(self) -> None:
        """Record it again."""
        said = self.form.cleaned_data
        evidence_record_again(evidence=self.evidence, by=self.by, recorded_at=now(), **said)


class DocumentView(Permitted, View):
    """A stored document, always as a download under its checked content type."""

    def get(self, request, pk):
        document = get_object_or_404(Document, pk=pk)
        return file_as_kept(
            document.file, document.sha256, document.name, content_type=document.content_type
        )
