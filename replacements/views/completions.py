"""The completion record by the crew, and the utility's review of it."""

from django.db import transaction
from django.http import FileResponse
from django.shortcuts import get_object_or_404, render

from services_inventory.given import number_given
from services_inventory.models import Document
from services_inventory.operations.documents import DocumentRefused
from services_inventory.today import now, today

from ..completion.photos import paper_keep
from ..domain.cautions import AFTER, Step, cautions_for
from ..domain.methods import is_pulled
from ..forms.completions import CompletionForm, ReviewForm
from ..models import CompletionRecord
from ..operations.completions import (
    CompletionError,
    completion_accept,
    completion_hand_in,
    completion_return,
    completions_accept_many,
    completions_return_many,
)
from ..queries.access import consent_state
from ..queries.estimate_told import estimate_shown
from ..queries.gate import latest_string, start_on_record
from ..queries.order_page import (
    completion_shown,
    pipes_shown,
    pull_shown,
    string_shown,
    unlogged_shown,
)
from ..queries.pull_review import pulls_by_order
from ..queries.review import waiting
from .scope import DO, REVIEW, WorkView, document_visible


class CompletionView(WorkView):
    """Handing in what was done."""

    permissions = DO

    def get(self, request, pk):
        """Show the form; a returned order says what was wrong above it."""
        order = self.order()
        initial = {
            "finished_on": today(),
            "length_ft": order.length_ft,
            "method_used": order.method,
            "pull": order.pulls.standing().order_by("-id").first(),
        }
        return self._show(order, CompletionForm(order=order, initial=initial))

    def post(self, request, pk):
        """Hand the record in with its photos; all of it or nothing."""
        order = self.order()
        form = CompletionForm(request.POST, request.FILES, order=order)
        if form.is_valid():
            try:
                with transaction.atomic():
                    record = self._hand_in(order, form)
                return self.done(f"Revision {record.revision} is handed in.", "work_order", pk)
            except (CompletionError, DocumentRefused) as error:
                form.add_error(None, str(error))
        return self._show(order, form)

    def _hand_in(self, order, form) -> CompletionRecord:
        at = now()
        photos = [
            paper_keep(file=file, kind=kind, work_order=order, by=self.by, at=at)
            for kind, file in form.photos()
        ]
        last = order.completions.order_by("-revision").first()
        sent = {photo.kind for photo in photos}
        kept = [p for p in last.photos.all() if p.kind not in sent] if last else []
        return completion_hand_in(
            work_order=order, by=self.by, user_id=self.request.user.pk, at=at,
            photos=[*photos, *kept], **form.said(),
        )  # fmt: skip

    def _show(self, order, form):
        last = order.completions.select_related("review").order_by("-revision").first()
        cautions = cautions_for(*AFTER, Step.TRAFFIC, pulled=is_pulled(order.method))
        context = {"order": order, "form": form, "last": last, "cautions": cautions}
        return render(self.request, "replacements/completion_form.html", context)


class ReviewQueueView(WorkView):
    """Records that wait for an answer, the oldest first; many accepted at once."""

    permissions = REVIEW

    def get(self, request):
        """Show the queue."""
        context = waiting(request.GET.get("after", ""), today(), self.by, request.user.pk)
        return render(request, "replacements/review_queue.html", context)

    def post(self, request):
        """Accept or return the ticked records; those that cannot be stay, with the reason."""
        ids = [number_given(pk, "A ticked record") for pk in request.POST.getlist("record") if pk]
        if not ids:
            return self.refused("Tick the records to answer.", "review_queue")
        answer = self._return if "return" in request.POST else self._accept
        try:
            said, refused = answer(ids)
        except CompletionError as error:
            return self.refused(str(error), "review_queue")
        for sentence in refused[:10]:
            self.refused(sentence, "review_queue")
        return self.done(f"{said}, {len(refused)} left.", "review_queue")

    def _accept(self, ids: list[int]) -> tuple[str, list[str]]:
        done = completions_accept_many(completion_ids=ids, **self._who())
        refused = [sentence for _, sentence in done.refused]
        return f"{len(done.accepted)} accepted", refused

    def _return(self, ids: list[int]) -> tuple[str, list[str]]:
        reasons = self.request.POST.get("reasons", "")
        sent, refused = completions_return_many(completion_ids=ids, reasons=reasons, **self._who())
        return f"{len(sent)} returned", refused

    def _who(self) -> dict:
        return {"by": self.by, "user_id": self.request.user.pk, "at": now()}


class ReviewView(WorkView):
    """One record beside its order, string, pull, photos, and what it will change."""

    permissions = REVIEW

    def get(self, request, pk):
        """Show the record."""
        return self._show(self.completion(), ReviewForm())

    def post(self, request, pk):
        """Accept or return the record."""
        record, form = self.completion(), ReviewForm(request.POST)
        form.is_valid()
        reasons, returning = form.cleaned_data.get("reasons", ""), "return" in request.POST
        who = {"completion": record, "by": self.by, "user_id": request.user.pk, "at": now()}
        try:
            if returning:
                completion_return(**who, reasons=reasons)
            else:
                completion_accept(**who, despite=reasons)
        except CompletionError as error:
            form.add_error(None, str(error))
            return self._show(record, form)
        word = "returned" if returning else "accepted"
        return self.done(f"{record.work_order.number} is {word}.", "review_queue")

    def _show(self, record: CompletionRecord, form):
        order = record.work_order
        estimate = order.estimates.order_by("-id").first()
        context = {
            "order": order,
            "pipes": pipes_shown(order),
            "consent": consent_state(order.line, today()),
            "shown": completion_shown(record, today()),
            "string": string_shown(order, record.tool_string or latest_string(order), today()),
            "pulls": [pull_shown(pull) for pull in pulls_by_order([order.pk])[order.pk]],
            "unlogged": unlogged_shown(order),
            "estimate": estimate_shown(estimate, record.pull),
            "earlier": order.completions.select_related("review").exclude(pk=record.pk),
            "start": start_on_record(order),
            "own": record.handed_in_by == self.by,
            "form": form,
        }
        return render(self.request, "replacements/review.html", context)


class DocumentView(WorkView):
    """A stored file, as a download only; another company's id answers 404."""

    def get(self, request, pk):
        """Send the file."""
        document = get_object_or_404(Document, pk=pk)
        if not document_visible(document, request.user):
            document = get_object_or_404(Document, pk=0)
        response = FileResponse(
            document.file.open("rb"),
            as_attachment=True,
            filename=document.name,
            content_type=document.content_type,
        )
        response["X-Content-Type-Options"] = "nosniff"
        response["Content-Security-Policy"] = "default-src 'none'; sandbox"
        return response
