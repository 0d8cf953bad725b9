"""One line: its standing with reasons, its evidence, and recording or taking back evidence."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views import View

from ..domain.evidence import Portion
from ..forms.days import PastDayForm
from ..forms.evidence import KINDS, LIMIT_BYTES, WORDS, EvidenceForm, ReasonForm, WithdrawForm
from ..models import Document, Evidence, ServiceLine
from ..operations.documents import DocumentRefused, document_store
from ..operations.evidence import (
    EvidenceRefused,
    evidence_record,
    evidence_record_again,
    evidence_withdraw,
)
from ..queries.buildings import building_facts
from ..queries.history import drawn, line_story, says, standing_on
from ..queries.lines import line_for_page
from ..queries.locator import locator
from ..queries.past import past_standing
from ..queries.photographs import documents_of
from ..queries.said_categories import said_of
from ..sending import file_as_kept
from ..today import now, today
from .accepting import accepted
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
        "drawing": drawn(story["portions"], "?portion=" if may_record else ""),
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
        "first_day": min((change.effective_on for change in story["changes"]), default=None),
    }
    return render(request, "services_inventory/line.html", context, status=status)


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
        "past_drawing": drawn(past["portions"]),
    }


class EvidenceView(Permitted, View):
    """Recording evidence about a line."""

    permission_required = "services_inventory.record_evidence"

    def post(self, request, pk):
        """Record it; what cannot be true comes back beside its field."""
        line = get_object_or_404(ServiceLine, pk=pk)
        form = EvidenceForm(request.POST, request.FILES)
        try:
            if form.is_valid():
                self._record(line, form)
                messages.success(request, f"Recorded. {_stands(line)}")
                return redirect(f"{reverse('line', args=[pk])}#main")
        except EvidenceRefused as problem:
            form.add_error(None, str(problem))
        except DocumentRefused as problem:
            form.add_error("document", str(problem))
        return shown_line(request, pk, form, status=422)

    def _record(self, line: ServiceLine, form: EvidenceForm) -> None:
        by, at, file = self.request.user.get_username(), now(), form.cleaned_data["document"]
        with transaction.atomic():
            document = file and document_store(
                file=file,
                name=file.name,
                kind="EVIDENCE",
                by=by,
                at=at,
                allowed=KINDS,
                limit_bytes=LIMIT_BYTES,
            )
            evidence_record(
                line=line, by=by, recorded_at=at, document=document or None, **form.said()
            )


def _stands(line: ServiceLine) -> str:
    category = line.get_category_display() or "not counted"
    return f"The line is {category}."


class WithdrawView(Permitted, View):
    """Taking evidence back, with the reason and for which days."""

    permission_required = "services_inventory.record_evidence"
    template_name = "services_inventory/evidence_withdraw.html"

    def setup(self, request, *args, **kwargs):
        super().setup(request, *args, **kwargs)
        self.evidence = (
            Evidence.objects.select_related("line__premise")
            .filter(pk=kwargs["pk"], withdraws__isnull=True)
            .first()
        )
        self.taken_back = Evidence.objects.filter(withdraws=kwargs["pk"]).first()

    def dispatch(self, request, *args, **kwargs):
        """Leave decisions to those who decide conflicts, once it is known who asks."""
        if self.has_permission() and self.evidence is None:
            raise Http404
        decided = self.evidence is not None and self.evidence.resolves
        if decided and not request.user.has_perm("services_inventory.resolve_conflict"):
            raise PermissionDenied
        return super().dispatch(request, *args, **kwargs)

    def form(self, data=None):
        """Return the form."""
        return WithdrawForm(data, taken_back=self.taken_back is not None)

    def get(self, request, pk):
        return self._show(self.form(), 200)

    def _show(self, form, status):
        context = {
            "evidence": self.evidence,
            "says": says(self.evidence),
            "taken_back": self.taken_back,
            "form": form,
        }
        return render(self.request, self.template_name, context, status=status)

    def post(self, request, pk):
        form = self.form(request.POST)
        if not accepted(form, lambda data: self.act(form), EvidenceRefused):
            return self._show(form, 422)
        line = get_object_or_404(ServiceLine, pk=self.evidence.line_id)
        messages.success(request, f"{self.done} {_stands(line)}")
        return redirect("line", line.pk)

    done = "Taken back."

    def act(self, form):
        """Take it back."""
        by = self.request.user.get_username()
        return evidence_withdraw(evidence=self.evidence, by=by, recorded_at=now(), **form.said())


class AgainView(WithdrawView):
    """Recording once more what was taken back by mistake."""

    template_name = "services_inventory/evidence_again.html"
    done = "Recorded again."

    def form(self, data=None):
        """Return the form."""
        return ReasonForm(data)

    def act(self, form):
        """Record it again."""
        return evidence_record_again(
            evidence=self.evidence,
            by=self.request.user.get_username(),
            recorded_at=now(),
            **form.cleaned_data,
        )


class DocumentView(Permitted, View):
    """A stored document, always as a download under its checked content type."""

    def get(self, request, pk):
        document = get_object_or_404(Document, pk=pk)
        return file_as_kept(
            document.file.path, document.sha256, document.name, content_type=document.content_type
        )
