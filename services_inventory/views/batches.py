"""Intake pages: upload, columns, dry run, progress, taking in, held rows, undo."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.dateparse import parse_date
from django.utils.functional import cached_property
from django.utils.safestring import mark_safe
from django.views.generic import TemplateView

from ..forms.intake import UploadForm
from ..intake.columns import BadColumnMap
from ..intake.reading import UnreadableFile
from ..models import Batch
from ..operations.batches import DAYS_KEPT, batch_open, batch_queue, batch_stop
from ..operations.columns import columns_choose, columns_previewed, sheet_open
from ..operations.own_words import file_check_again
from ..operations.photographs import documents_take_back
from ..operations.undo import undo_open
from ..queries.batches import (
    SHOWN_KINDS,
    batch_progress,
    batches_shown,
    columns_of,
    other_sheets,
    table_of,
)
from ..queries.held import held_open
from ..queries.moves import moves_of, moves_picture, said_by
from ..queries.own_words import own_words_of
from ..queries.past import withdrawals
from ..refused import Refused
from ..today import now, today
from .acts import Act, PageAct
from .permitted import Permitted


class IntakeView(Permitted):
    """Who may take in files."""

    permission_required = "services_inventory.intake"

    @cached_property
    def batch(self) -> Batch:
        """The batch the address names."""
        return get_object_or_404(Batch, pk=self.kwargs["pk"], kind__in=SHOWN_KINDS)


class BatchListView(PageAct, IntakeView, TemplateView):
    """The latest batches, and the upload form."""

    template_name = "services_inventory/batch_list.html"
    form = None

    def get_context_data(self, **kwargs):
        return super().get_context_data(
            batches=batches_shown(), form=self.form or UploadForm(today=today()), **kwargs
        )

    def filled(self, thing):
        return UploadForm(self.request.POST, self.request.FILES, today=today())

    def keep(self, thing, given):
        """Keep the uploaded file and lead to its columns."""
        batch = batch_open(
            kind=given["kind"], file=given["file"], parameters=self.form.parameters(),
            **self.signed(),
        )  # fmt: skip
        if batch.kind == "INTAKE":
            return redirect("batch_columns", batch.pk)
        batch_queue(batch=batch, step="CHECK" if batch.kind == "DOCUMENTS" else "")
        return redirect("batch", batch.pk)


class ColumnsView(PageAct, IntakeView, TemplateView):
    """Which column holds what: guessed, shown, correctable, remembered."""

    template_name = "services_inventory/batch_columns.html"

    def get(self, request, pk):
        return self._show(request.GET.get("sheet", ""))

    def _show(self, sheet: str, problem: str = "", status: int = 200, sent=None):
        try:
            found = columns_of(self.batch, today(), sheet, sent)
        except (UnreadableFile, BadColumnMap) as error:
            context = {"batch": self.batch, "problem": str(error)}
            unreadable = "services_inventory/batch_unreadable.html"
            return render(self.request, unreadable, context, status=422)
        context = {"batch": self.batch, "problem": problem, "kept_days": DAYS_KEPT, **found}
        return self.render_to_response(context, status=status)

    def thing(self, pk) -> Batch:
        return self.batch

    def keep(self, batch, given):
        sent = self.request.POST.dict()
        table = table_of(batch, sent.get("sheet", ""))
        columns_choose(batch=batch, table=table, chosen=sent, **self.signed())
        return redirect("batch", batch_queue(batch=batch, step="CHECK").pk)

    def refuse(self, batch):
        sent, (problem,) = self.request.POST.dict(), self.form.non_field_errors()
        return self._show(sent.get("sheet", ""), problem, 422, sent)


class ColumnsPreviewView(IntakeView, TemplateView):
    """The first rows as they would be understood by the choices of the form; nothing is kept."""

    template_name = "services_inventory/_columns_preview.html"
    http_method_names = ("post",)

    def post(self, request, pk):
        """Answer with the rows, or with what is wrong with the choices."""
        return self.render_to_response({"preview": columns_previewed(request.POST.dict(), today())})


class BatchView(IntakeView, TemplateView):
    """One batch: progress, counts, held rows, what can be done next."""

    template_name = "services_inventory/batch.html"

    def get_context_data(self, **kwargs):
        waiting = held_open(self.batch).count()
        return super().get_context_data(
            batch=self.batch,
            progress=batch_progress(self.batch, now()),
            held=held_open(self.batch)[:50],
            waiting=waiting,
            went_on=max(0, self.batch.counts.get("held", 0) - waiting),
            questions=self.batch.match_questions.waiting().count(),
            moves=moves_of(self.batch),
            picture=mark_safe(moves_picture(self.batch)),
            said=said_by(self.batch),
            own_words=own_words_of(self.batch),
            sheets=other_sheets(self.batch),
            true_since=parse_date(self.batch.parameters.get("true_since") or ""),
            **self._withdrawing(),
            **kwargs,
        )

    def _withdrawing(self) -> dict:
        """Return how the batch was withdrawn, and how it may yet be."""
        batch = self.batch
        may = batch.kind == "INTAKE" and self.request.user.has_perm("services_inventory.undo_batch")
        back = [one.never_true for one in withdrawals() if one.batch_id == batch.pk]
        return {
            "can_undo": may and batch.state == Batch.State.APPLIED,
            "can_reach_back": may and bool(back) and True not in back,
            "never_true": True in back,
        }


class ProgressView(TemplateView):
    """The progress bar alone, asked for again and again by a page; of the batches it may show."""

    template_name = "services_inventory/_progress.html"
    batches = Batch.objects.filter(kind__in=SHOWN_KINDS)

    def get_context_data(self, pk, **kwargs):
        batch = get_object_or_404(self.batches, pk=pk)
        return super().get_context_data(
            batch=batch, progress=batch_progress(batch, now()), **kwargs
        )


class BatchProgressView(IntakeView, ProgressView):
    """How far a file is."""


class BatchActionView(IntakeView, Act):
    """Take in, stop, or withdraw a batch: what the button says, if the batch's state allows it."""

    def thing(self, pk, action) -> Batch:
        return self.batch

    def keep(self, batch, given):
        return getattr(self, self.kwargs["action"])(batch)

    def back(self, batch):
        return redirect("batch", batch.pk)

    def apply(self, batch):
        """Take in what was checked; of a file of a regular source, lead to where that is said."""
        feed = batch.parameters.get("feed")
        if feed is not None and batch.state == Batch.State.CHECKED:
            told = "Say here why it is accepted or refused."
            return self.done(told, "feed", feed, level=messages.INFO)
        if batch.state in (Batch.State.CHECKED, Batch.State.STOPPED):
            batch_queue(batch=batch, step="APPLY")
        else:
            messages.warning(self.request, "This batch can't be taken in now; see its state.")
        return self.back(batch)

    def check(self, batch):
        """Have the file checked again, with the words as they stand now."""
        again = file_check_again(batch=batch, **self.signed())
        return self.done("Being checked again.", "batch", again.pk, level=messages.INFO)

    def sheet(self, batch):
        """Lead to the columns of another sheet of the workbook."""
        named = self.request.POST.get("sheet", "")
        opened = sheet_open(batch=batch, sheet=named, **self.signed())
        return redirect("batch_columns", opened.pk)

    def stop(self, batch):
        """Ask the worker to stop."""
        batch_stop(batch=batch)
        told = "Asked to stop. Nothing of the running step will be kept."
        return self.done(told, "batch", batch.pk, level=messages.INFO)

    def undo(self, batch):
        """Withdraw the batch whole; of pictures, take them off their lines again."""
        if not self.request.user.has_perm("services_inventory.undo_batch"):
            raise Http404
        if batch.kind == "DOCUMENTS":
            documents_take_back(batch=batch, **self.signed())
            return "Taken off its lines. The files stay on record."
        how = self.request.POST.get("how")
        if how not in ("FROM_TODAY", "NEVER_TRUE"):
            raise Refused("Say whether it counts no longer, or was never true.")
        undone = undo_open(batch=batch, never_true=how == "NEVER_TRUE", **self.signed())
        batch_queue(batch=undone)
        told = "Being withdrawn; standings will be as they were without it."
        return self.done(told, "batch", undone.pk, level=messages.INFO)
