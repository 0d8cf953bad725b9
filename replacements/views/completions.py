"""The completion record by the crew, and the utility's review of it."""

from django.shortcuts import get_object_or_404, render

from services_inventory.given import number_given
from services_inventory.models import Document
from services_inventory.operations.documents import DocumentRefused
from services_inventory.sending import file_as_kept
from services_inventory.today import now, today

from ..completion.checking import stop_said
from ..completion.photos import paper_keep
from ..domain.cautions import AFTER, Step, cautions_for
from ..domain.findings import Level
from ..domain.methods import is_pulled
from ..forms.completions import PHOTO_KINDS, CompletionForm, ReviewForm
from ..models import CompletionRecord
from ..operations.completions import (
    CompletionError,
    StopsShownFirst,
    completion_accept,
    completion_hand_in,
    completion_return,
    completion_take_back,
    completions_accept_many,
    completions_return_many,
    review_begin,
)
from ..queries.access import consent_state
from ..queries.estimate_told import estimate_shown
from ..queries.gate import latest_string
from ..queries.order_page import (
    completion_shown,
    pull_shown,
    string_shown,
    unlogged_shown,
)
from ..queries.photo_doubts import COMPARED
from ..queries.pull_review import pulls_by_order
from ..queries.review import last_record, photos_kept, waiting
from ..queries.review_page import compared, photos_beside
from .scope import DO, REVIEW, OrderAct, WorkForm, WorkView, document_visible


class CompletionView(WorkView):
    """Handing in what was done."""

    permissions = DO

    def get(self, request, pk):
        """Show the form; what was given back opens as it was handed in, with what is to mend."""
        order = self.order()
        last = last_record(order)
        form = CompletionForm.of(order, last, today())
        return self._show(order, form, photos_kept(order, (), last))

    def post(self, request, pk):
        """Hand the record in with its photos; its stops are shown first, and nothing is lost."""
        order, found = self.order(), []
        form = CompletionForm(request.POST, request.FILES, order=order)
        photos = self._photos(order, form)
        if form.is_valid():
            try:
                record = self._hand_in(order, form, photos)
                return self.done(f"Revision {record.revision} is handed in.", "work_order", pk)
            except StopsShownFirst as held:
                found = held.findings
                form.held_at(stop_said(f.rule, "")[0] for f in found if f.level is Level.STOP)
            except CompletionError as error:
                form.add_error(None, str(error))
        return self._show(order, form, photos, found)

    def _photos(self, order, form) -> list[Document]:
        """Keep what was sent beside what is kept already; a refused one is told at its field."""
        form.full_clean()
        sent = []
        for kind, file in form.photos():
            try:
                sent.append(
                    paper_keep(file=file, kind=kind, work_order=order, by=self.by, at=now())
                )
            except DocumentRefused as error:
                form.add_error(kind.replace("PHOTO_", "photo_", 1), str(error))
        ids = [number_given(pk, "A kept photo") for pk in self.request.POST.getlist("kept")]
        return photos_kept(order, sent, last_record(order), ids)

    def _hand_in(self, order, form, photos) -> CompletionRecord:
        return completion_hand_in(
            work_order=order, by=self.by, user_id=self.request.user.pk, at=now(), photos=photos,
            despite_stops="despite" in self.request.POST, **form.said(),
        )  # fmt: skip

    def _show(self, order, form, photos, stops=()):
        last = last_record(order)
        cautions = cautions_for(*AFTER, Step.TRAFFIC, pulled=is_pulled(order.method))
        form.mark(last)
        context = {
            "order": order, "form": form, "last": last, "cautions": cautions, "photos": photos,
            "stops": stops,
        }  # fmt: skip
        return render(self.request, "replacements/completion_form.html", context)


class CompletionTakeBackView(OrderAct):
    """Taking one's own record back before the review begins."""

    permissions = DO

    def keep(self, order, given):
        record, reason = last_record(order), self.request.POST.get("reason", "")
        if record is None:
            raise CompletionError("Nothing is handed in for this order.")
        completion_take_back(completion=record, reason=reason, **self.signed())
        told = "Taken back. It opens as you handed it in."
        return self.done(told, "work_order_completion", order.pk)


class ReviewQueueView(WorkView):
    """Records that wait for an answer, the oldest first; many accepted at once."""

    permissions = REVIEW
    confirmed_within = 30 * 60  # seconds since the password was shown

    def get(self, request):
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


class ReviewView(WorkForm):
    """One record beside its order, string, pull, photos, and what it will change."""

    permissions, form_class = REVIEW, ReviewForm
    template_name = "replacements/review.html"
    confirmed_within = 30 * 60  # seconds since the password was shown

    def thing(self, pk):
        return self.completion()

    def first(self, record):
        """Open the form; from now on its crew can't take the record back."""
        if record.handed_in_by != self.by and not hasattr(record, "review"):
            review_begin(completion=record, **self.signed())
        return ReviewForm()

    def keep(self, record, given):
        reasons, returning = given.get("reasons", ""), "return" in self.request.POST
        who = {"completion": record, "user_id": self.request.user.pk, **self.signed()}
        if returning:
            completion_return(**who, reasons=reasons, mend=self.form.mend())
        else:
            completion_accept(**who, despite=reasons)
        word = "returned" if returning else "accepted"
        return self.done(f"{record.work_order.number} is {word}.", "review_queue")

    def beside(self, record, form):
        order, shown = record.work_order, completion_shown(record, today())
        estimate, beside = order.estimates.order_by("-id").first(), form.beside
        side_by_side = compared(record)
        return {
            "order": order,
            "compared": side_by_side,
            "parts": [(*part, beside[part[0]]) for part in side_by_side["parts"]],
            "photos": [
                (photo, beside.get(photo["label"]))
                for photo in photos_beside(record, shown["photos"], PHOTO_KINDS)
            ],
            "photos_compared": COMPARED,
            "consent": consent_state(order.line, today()),
            "shown": shown,
            "string": string_shown(order, record.tool_string or latest_string(order), today()),
            "pulls": [pull_shown(pull) for pull in pulls_by_order([order.pk])[order.pk]],
            "unlogged": unlogged_shown(order),
            "estimate": estimate_shown(estimate, record.pull),
            "earlier": order.completions.select_related("review").exclude(pk=record.pk),
            "own": record.handed_in_by == self.by,
        }


class DocumentView(WorkView):
    """A stored file, as a download only; another company's id answers 404."""

    def get(self, request, pk):
        document = get_object_or_404(Document, pk=pk)
        if not document_visible(document, request.user):
            document = get_object_or_404(Document, pk=0)
        response = file_as_kept(
            document.file, document.sha256, document.name, content_type=document.content_type
        )
        response["X-Content-Type-Options"] = "nosniff"
        response["Content-Security-Policy"] = "default-src 'none'; sandbox"
        return response
