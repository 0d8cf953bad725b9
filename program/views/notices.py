"""Notices: who is owed one by when, printing, delivery, returned mail, wording, certificate."""

from datetime import date

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.models import Notice, NoticeBatch
from program.notices import lists
from program.notices.forms import (
    LETTER_NUMBER,
    CorrectionForm,
    DeliveryForm,
    EventForm,
    FindForm,
    PrintForm,
    ReturnForm,
    WithdrawForm,
)
from program.notices.printing import came_back
from program.operations import notices as operations
from services_inventory.domain.days import day_told
from services_inventory.kept_files import KeptFile
from services_inventory.models import Batch
from services_inventory.operations.batches import batch_open, batch_queue, batch_stop
from services_inventory.queries.batches import batch_progress
from services_inventory.sending import file_as_kept
from services_inventory.views.acts import Act, say_faults
from services_inventory.views.batches import ProgressView

from .permitted import Permitted
from .tables import streamed_table

RUNS = Batch.objects.filter(kind__in=("NOTICES", "LETTERS"))


class NoticeView(Permitted):
    """Who may prepare and send notices."""

    permission_required = "program.send_notices"


class NoticeListView(NoticeView, TemplateView):
    """What is owed, by kind and day, overdue first; printing; the latest printings."""

    template_name = "program/notice_list.html"

    def get_context_data(self, **kwargs):
        groups = lists.owed_groups(today())
        running = RUNS.order_by("-id").first()
        return super().get_context_data(
            figures=lists.owed_figures(today()),
            groups=groups,
            more=sum(not row["overdue"] for row in groups) > lists.GROUPS,
            printings=lists.printings(),
            print_form=PrintForm(initial={"due_by": today()}),
            find_form=FindForm(),
            event_form=EventForm(),
            last=running,
            year=today().year - 1,
            **kwargs,
        )


class NoticeOweView(NoticeView, Act):
    """Ask the worker to bring the list up to today."""

    def keep(self, thing, given):
        batch = batch_open(
            kind="NOTICES", parameters={"as_of": today().isoformat()},
            title=f"Notices owed on {today()}", **self.signed(),
        )  # fmt: skip
        return redirect("notice_run", batch_queue(batch=batch).pk)


class NoticePrintView(NoticeView, Act):
    """Ask the worker to print letters."""

    form_class, page = PrintForm, "notice_list"

    def keep(self, thing, given):
        parameters = {
            **given, "due_by": given["due_by"].isoformat(), "dated": today().isoformat(),
        }  # fmt: skip
        title = f"Letters: {dict(self.form.fields['kind'].choices)[given['kind']]}"
        title += ", to chosen lines" if given["lines"] else ""
        batch = batch_open(kind="LETTERS", parameters=parameters, title=title, **self.signed())
        return redirect("notice_run", batch_queue(batch=batch).pk)


class NoticeRunView(NoticeView, TemplateView):
    """How far a run is and what came of it: files, letters not printed, delivery."""

    template_name = "program/notice_run.html"

    def get_context_data(self, pk, **kwargs):
        batch = get_object_or_404(RUNS, pk=pk)
        return super().get_context_data(
            batch=batch,
            progress=batch_progress(batch, now()),
            printing=NoticeBatch.objects.filter(batch=batch).select_related("proof").first(),
            form=DeliveryForm(initial={"on": today()}),
            correction_form=CorrectionForm(auto_id="id_correct_%s"),
            **kwargs,
        )


class NoticeProgressView(NoticeView, ProgressView):
    """How far a run is."""

    batches = RUNS


class NoticeStopView(NoticeView, Act):
    """Ask the worker to stop a run."""

    model, page = RUNS, "notice_run"

    def keep(self, batch, given):
        batch_stop(batch=batch)
        told = "Asked to stop. Nothing of the running step will be kept."
        return self.done(told, self.page, batch.pk, level=messages.INFO)


class NoticeFileView(NoticeView, View):
    """A file of letters, as it was printed."""

    def get(self, request, pk, name):
        printing = get_object_or_404(NoticeBatch, pk=pk)
        sums = {file["name"]: file["sha256"] for file in printing.files}
        if name not in sums:
            raise Http404
        return file_as_kept(KeptFile(f"letters/{printing.batch_id}/{name}"), sums[name])


class NoticeOwedView(NoticeView, TemplateView):
    """Single notices that are owed, a page at a time."""

    template_name = "program/notice_owed.html"

    def get_context_data(self, **kwargs):
        asked = self.request.GET
        kind = asked.get("kind", "") if asked.get("kind") in dict(lists.KIND_LABELS) else ""
        try:
            due_on = date.fromisoformat(asked["due"]) if asked.get("due") else None
            before = today() if asked.get("overdue") else None
            held = bool(asked.get("held"))
            rows, after = lists.owed_page(kind, due_on, asked.get("after", ""), before, held)
        except ValueError as error:
            raise Http404 from error
        return super().get_context_data(
            rows=[(row, lists.KIND_LABELS[row.kind]) for row in rows],
            after=after, kind=kind, due_on=due_on, overdue=before is not None, held=held,
            labels=lists.KIND_LABELS, as_of=today(), **kwargs,
        )  # fmt: skip


class NoticeFindView(NoticeView, TemplateView):
    """From the number on a letter to its notice; from a place to every letter about it."""

    template_name = "program/notice_found.html"

    def get(self, request):
        """Lead to the letter, show the place's letters, or say that there is none."""
        form = FindForm(request.GET)
        if not form.is_valid():
            say_faults(request, form)
            return redirect("notice_list")
        text = form.cleaned_data["reference"]
        number = text.upper().removeprefix("N-") if LETTER_NUMBER.match(text) else None
        if number and Notice.objects.filter(pk=int(number)).exists():
            return redirect("notice", int(number))
        found = lists.notices_at(text)
        if not found:
            messages.error(request, f"There is no letter and no line known as '{text}'.")
            return redirect("notice_list")
        shown = found[: lists.LINES]
        return self.render_to_response(
            {"text": text, "found": shown, "more": len(found) > len(shown)}
        )


class NoticeAddView(NoticeView, Act):
    """Put one notice on the list because of an event at a line."""

    form_class, page = EventForm, "notice_list"

    def keep(self, thing, given):
        line = given.pop("location_id")
        notice = operations.notice_add(line=line, by=self.by, as_of=today(), **given)
        if notice.due_on < today():
            late = f"This notice was due on {day_told(notice.due_on)}: it is late."
            messages.warning(self.request, late)
        return redirect("notice", notice.pk)


class NoticeDetailView(NoticeView, TemplateView):
    """One notice: why it is owed, what was sent, what came back."""

    template_name = "program/notice.html"

    def get_context_data(self, pk, **kwargs):
        notice = get_object_or_404(
            Notice.objects.select_related("line__premise", "notice_batch__batch"), pk=pk
        )
        return super().get_context_data(
            notice=notice,
            label=lists.KIND_LABELS[notice.kind],
            said=[(lists.VALUE_LABELS.get(key, key), said) for key, said in notice.values.items()],
            returns=notice.returns.order_by("id").prefetch_related("sent_again"),
            back=came_back().filter(notice__line=notice.line_id).order_by("-id").first(),
            corrections=notice.corrections.order_by("id"),
            delivery_form=DeliveryForm(initial={"on": today()}),
            return_form=ReturnForm(initial={"on": today()}),
            correction_form=CorrectionForm(
                initial={"on": notice.delivered_on, "means": notice.delivered_by},
                auto_id="id_correct_%s",
            ),
            withdraw_form=WithdrawForm(auto_id="id_withdraw_%s"),
            again_form=WithdrawForm(auto_id="id_again_%s"),
            as_of=today(),
            **kwargs,
        )


class CertificateView(NoticeView, TemplateView):
    """The notices of a calendar year, for the certificate of 1 July."""

    template_name = "program/notice_certificate.html"

    def get_context_data(self, year, **kwargs):
        if not 2024 <= year <= today().year:
            raise Http404
        years = range(today().year, 2023, -1)
        return super().get_context_data(found=lists.certificate(year), years=years, **kwargs)


class CertificateCsvView(NoticeView, View):
    """The same, notice by notice."""

    def get(self, request, year):
        if not 2024 <= year <= today().year:
            raise Http404
        rows = lists.certificate_rows(year)
        return streamed_table(lists.CERTIFICATE_COLUMNS, rows, f"notices-{year}.csv")


class NoticeOwedCsvView(NoticeView, View):
    """Who must get what, by when: every open notice."""

    def get(self, request):
        name = f"notices-owed-{today()}.csv"
        return streamed_table(lists.OWED_COLUMNS, lists.owed_rows(), name)
