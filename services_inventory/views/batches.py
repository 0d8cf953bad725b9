"""Intake pages: upload, columns, dry run, progress, taking in, held rows, undo."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils.dateparse import parse_date
from django.utils.safestring import mark_safe
from django.views import View
from django.views.generic import TemplateView

from ..forms.intake import UploadForm
from ..intake.columns import BadColumnMap
from ..intake.reading import UnreadableFile
from ..models import Batch
from ..operations.batches import DAYS_KEPT, batch_open, batch_queue, batch_stop
from ..operations.columns import columns_choose, columns_previewed
from ..operations.photographs import DocumentsRefused, documents_take_back
from ..operations.undo import undo_open
from ..queries.batches import SHOWN_KINDS, batch_progress, batches_shown, columns_of, table_of
from ..queries.held import held_open
from ..queries.moves import moves_of, moves_picture, said_by
from ..queries.past import withdrawals
from ..today import now, today
from .permitted import Permitted


class IntakeView(Permitted):
    """Who may take in files."""

    permission_required = "services_inventory.intake"

    def setup(self, request, *args, **kwargs):
        """Load the batch the address names."""
        super().setup(request, *args, **kwargs)
        if "pk" in kwargs:
            self.batch = Batch.objects.filter(pk=kwargs["pk"], kind__in=SHOWN_KINDS).first()

    def dispatch(self, request, *args, **kwargs):
        """Check who asks before saying what there is."""
        if self.has_permission() and "pk" in kwargs and self.batch is None:
            raise Http404
        return super().dispatch(request, *args, **kwargs)


class BatchListView(IntakeView, TemplateView):
    """The latest batches, and the upload form."""

    template_name = "services_inventory/batch_list.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give the batches and the form."""
        return super().get_context_data(
            batches=batches_shown(), form=self.form or UploadForm(today=today()), **kwargs
        )

    def post(self, request):
        """Keep the uploaded file and lead to its columns."""
        self.form = UploadForm(request.POST, request.FILES, today=today())
        if not self.form.is_valid():
            return self.render_to_response(self.get_context_data(), status=422)
        data = self.form.cleaned_data
        batch = batch_open(
            kind=data["kind"],
            by=request.user.get_username(),
            at=now(),
            file=data["file"],
            parameters=self.form.parameters(),
        )
        if batch.kind != "INTAKE":
            batch_queue(batch=batch, step="CHECK" if batch.kind == "DOCUMENTS" else "")
            return redirect("batch", batch.pk)
        return redirect("batch_columns", batch.pk)


class ColumnsView(IntakeView, View):
    """Which column holds what: guessed, shown, correctable, remembered."""

    def get(self, request, pk):
        return self._show(request, sheet=request.GET.get("sheet", ""))

    def _show(self, request, problem="", status=200, sheet="", sent=None):
        try:
            found = columns_of(self.batch, today(), sheet, sent)
        except (UnreadableFile, BadColumnMap) as error:
            return render(
                request,
                "services_inventory/batch_unreadable.html",
                {"batch": self.batch, "problem": str(error)},
                status=422,
            )
        context = {"batch": self.batch, "problem": problem, "kept_days": DAYS_KEPT, **found}
        return render(request, "services_inventory/batch_columns.html", context, status=status)

    def post(self, request, pk):
        """Keep the corrected map and have the file checked."""
        sent, sheet = request.POST.dict(), request.POST.get("sheet", "")
        try:
            table = table_of(self.batch, sheet)
            by = request.user.get_username()
            columns_choose(batch=self.batch, table=table, chosen=sent, by=by, at=now())
        except (BadColumnMap, UnreadableFile) as error:
            return self._show(request, str(error), 422, sheet, sent)
        batch_queue(batch=self.batch, step="CHECK")
        return redirect("batch", pk)


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
        """Give the batch as it stands."""
        waiting = held_open(self.batch).count()
        return super().get_context_data(
            batch=self.batch,
            progress=batch_progress(self.batch, now()),
            held=held_open(self.batch)[:50],
            waiting=waiting,
            went_on=max(0, self.batch.counts.get("held", 0) - waiting),
            questions=self.batch.match_questions.filter(decision=None).count(),
            moves=moves_of(self.batch),
            picture=mark_safe(moves_picture(self.batch)),
            said=said_by(self.batch),
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


class BatchProgressView(IntakeView, TemplateView):
    """The progress bar alone, asked for again and again by the page."""

    template_name = "services_inventory/_progress.html"

    def get_context_data(self, **kwargs):
        """Give the figures."""
        return super().get_context_data(
            batch=self.batch, progress=batch_progress(self.batch, now())
        )


class BatchActionView(IntakeView, View):
    """Take in, stop, or withdraw a batch."""

    def post(self, request, pk, action):
        """Do what the button says, if the batch's state allows it."""
        return getattr(self, action)(request)

    def apply(self, request):
        """Take in what was checked; of a file of a regular source, lead to where that is said."""
        feed = self.batch.parameters.get("feed")
        if feed is not None and self.batch.state == Batch.State.CHECKED:
            messages.info(request, "Say here why it is accepted or refused.")
            return redirect("feed", feed)
        if self.batch.state in (Batch.State.CHECKED, Batch.State.STOPPED):
            batch_queue(batch=self.batch, step="APPLY")
        else:
            messages.warning(request, "This batch can't be taken in now; see its state.")
        return redirect("batch", self.batch.pk)

    def stop(self, request):
        """Ask the worker to stop."""
        batch_stop(batch=self.batch)
        messages.info(request, "Asked to stop. Nothing of the running step will be kept.")
        return redirect("batch", self.batch.pk)

    def undo(self, request):
        """Withdraw the batch whole."""
        if not request.user.has_perm("services_inventory.undo_batch"):
            raise Http404
        if self.batch.kind == "DOCUMENTS":
            return self._take_off(request)
        how = request.POST.get("how")
        if how not in ("FROM_TODAY", "NEVER_TRUE"):
            messages.error(request, "Say whether it counts no longer, or was never true.")
            return redirect("batch", self.batch.pk)
        undone = undo_open(
            batch=self.batch,
            by=request.user.get_username(),
            at=now(),
            never_true=how == "NEVER_TRUE",
        )
        batch_queue(batch=undone)
        messages.info(request, "Being withdrawn; standings will be as they were without it.")
        return redirect("batch", undone.pk)

    def _take_off(self, request):
        """Take pictures off their lines again."""
        try:
            documents_take_back(batch=self.batch, by=request.user.get_username(), at=now())
        except DocumentsRefused as error:
            messages.error(request, str(error))
        else:
            messages.success(request, "Taken off its lines. The files stay on record.")
        return redirect("batch", self.batch.pk)
