"""The pages of drops: send one, watch it, see each row's verdict, take back what needs fixing."""

from contextlib import suppress

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from services_inventory import progress
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_queue, batch_stop
from services_inventory.today import now

from ..models import WorkPackage
from ..views.scope import DO, SEE, WorkView
from .archive import DropRefused, one_file

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_SHOWN = 30
_WORDS = {
    "TAKEN": ("accepted for review", "GOOD"),
    "ALREADY": ("handed in before", "NOTE"),
    "FIX": ("needs fixing", "STOP"),
}


class DropView(WorkView):
    """A page of drops within the user's scope."""

    permissions = SEE

    def drops(self):
        """Return the drops that this user may see: their company's; the utility sees all."""
        rows = Batch.objects.filter(kind="COMPLETIONS")
        if self.company:
            return rows.filter(owner_key=f"contractor:{self.company.pk}")
        seen = self.request.user.has_perm("replacements.view_all_work")
        return rows if seen else rows.none()

    def drop(self) -> Batch:
        """Return the drop of the address; another company's answers 404."""
        return get_object_or_404(self.drops(), pk=self.kwargs["pk"])


def _sends(user) -> bool:
    """Tell whether a user is one of a contractor's people who hand in work."""
    return getattr(user, "membership", None) is not None and user.has_perm(DO[0])


class DropListView(DropView):
    """Sending a drop, and the drops sent before."""

    def get(self, request):
        return self._show()

    def post(self, request):
        files = request.FILES.getlist("files")
        if not _sends(request.user):
            return self.refused("Only a contractor's people send records.", "drop_list")
        if not files:
            return self._show("Choose the filled form with its logs and photos, or one zip.")
        try:
            return self._take(files)
        except DropRefused as error:
            return self._show(str(error))

    @staticmethod
    def read_ahead(request):
        """Pack what was dropped before the database is held; `post` says what cannot be."""
        if _sends(request.user):
            with suppress(DropRefused):
                request.drop = one_file(request.FILES.getlist("files"))

    def _take(self, files):
        batch = self._open(getattr(self.request, "drop", None) or one_file(files))
        batch_queue(batch=batch)
        return self.done("Received. Each row gets its verdict below.", "drop", batch.pk)

    def _open(self, file) -> Batch:
        return batch_open(
            kind="COMPLETIONS",
            by=self.by,
            at=now(),
            file=file,
            title=self.company.name,
            parameters={"contractor_id": self.company.pk, "user_id": self.request.user.pk},
            owner_key=f"contractor:{self.company.pk}",
        )

    def _show(self, error: str = ""):
        packages = WorkPackage.objects.filter(contractor=self.company) if self.company else ()
        context = {
            "drops": self.drops().order_by("-id")[:_SHOWN],
            "packages": packages,
            "company": self.company,
            "error": error,
        }
        status = 400 if error else 200
        return render(self.request, "replacements/drop_list.html", context, status=status)


class DropDetailView(DropView):
    """One drop with the verdict of each row."""

    def get(self, request, pk):
        batch = self.drop()
        rows = [
            row | dict(zip(("words", "level"), _WORDS[row["verdict"]], strict=True))
            for row in batch.result.get("rows", ())
        ]
        rows.sort(key=lambda row: (row["verdict"] != "FIX", row["row"]))
        context = {
            "batch": batch,
            "progress": _progress(batch),
            "rows": rows[:500],
            "more": max(0, len(rows) - 500),
            "own": batch.requested_by == self.by,
        }
        return render(request, "replacements/drop.html", context)


class DropProgressView(DropView):
    """How far a drop is."""

    def get(self, request, pk):
        batch = self.drop()
        context = {"batch": batch, "progress": _progress(batch)}
        return render(request, "services_inventory/_progress.html", context)


class DropReturnedView(DropView):
    """The rows that were not taken, as the same form."""

    def get(self, request, pk):
        batch = self.drop()
        if not batch.counts.get("held"):
            return self.refused("No row of this drop needs fixing.", "drop", pk)
        from ..packages.record_form import form_returned  # writes workbooks: loaded when needed

        return workbook(form_returned(batch), f"returned-{batch.pk}.xlsx")


class DropStopView(DropView):
    """Stopping a drop that is being taken in."""

    permissions = DO

    def post(self, request, pk):
        batch_stop(batch=self.drop())
        return self.done("It stops at the next row; what went in stays.", "drop", pk)


def workbook(content: bytes, name: str) -> HttpResponse:
    """Return a workbook to download."""
    response = HttpResponse(content, content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _progress(batch: Batch) -> dict:
    note = progress.read(batch.pk) or {}
    done, total = note.get("done", batch.done), note.get("total", batch.total)
    percent = 100 if not batch.is_running else int(100 * done / total) if total else 0
    return {"done": done, "total": total, "percent": percent, "message": note.get("message", "")}
