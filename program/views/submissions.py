"""Submissions: draft with open questions, freeze, certify, amend, verify, download."""

from django.contrib import messages
from django.http import Http404, JsonResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.forms import AmendForm, CertifyForm, FreezeForm
from program.models import Submission
from program.operations.submission_batches import submissions_verify_open
from program.operations.submissions import (
    SubmissionError,
    submission_certify,
    submission_check_files,
    submission_draft,
)
from program.queries.amending import amend_preview
from program.queries.certification import questions_asked
from program.queries.layouts import layout_choices, layout_last_used, layout_words
from program.queries.submissions import (
    kept_until,
    ledger_head,
    signed_last,
    signing_sheet,
    submission_archive,
    submission_batches,
    submission_file_rows,
    submission_years,
    summary_rows,
    verified_last,
)
from program.submissions.schema import build_schema
from services_inventory.kept_files import KeptFile
from services_inventory.models import Batch, ServiceLine
from services_inventory.operations.batches import batch_open, batch_queue
from services_inventory.queries.batches import batch_progress
from services_inventory.sending import NotAsKept, file_as_kept, pdf_shown
from services_inventory.views.batches import ProgressView

from .acts import Act, PageAct
from .permitted import Permitted


class SubmissionListView(Permitted, TemplateView):
    """Every finished program year with its submissions."""

    template_name = "program/submission_list.html"

    def get_context_data(self, **kwargs):
        years = submission_years(today())
        return super().get_context_data(
            years=years,
            batches=submission_batches(),
            has_lines=bool(years) or ServiceLine.objects.exists(),
            **kwargs,
        )


class SubmissionDraftView(Permitted, TemplateView):
    """What the submission of a year would say, and what is still open."""

    template_name = "program/submission_draft.html"

    def get_context_data(self, year, **kwargs):
        """Give the draft, or the sentence that says why there is none."""
        context = super().get_context_data(year=year, **kwargs)
        try:
            context["draft"] = submission_draft(year=year, today=today(), at=now())
        except SubmissionError as error:
            context |= {"problem": str(error), "has_lines": ServiceLine.objects.exists()}
        batches = submission_batches(year, limit=1)
        context["batch"] = batches[0] if batches else None
        if context["batch"]:
            context["progress"] = batch_progress(context["batch"], now())
        context["can_freeze"] = self.request.user.has_perm("program.prepare_submission")
        context["form"] = FreezeForm(choices=layout_choices(), first=layout_last_used())
        return context


class SubmissionFreezeView(Act):
    """Hand the freeze of a year to the worker."""

    permission_required, page = "program.prepare_submission", "submission_draft"

    def filled(self, thing):
        choices, first = layout_choices(), layout_last_used()
        return FreezeForm(self.request.POST, choices=choices, first=first)

    def thing(self, year):
        return year

    def keep(self, year, given):
        _queue(self.request, year, f"Freeze the submission for {year}", layout=given["layout"])
        return self.back(year)

    def refuse(self, year):
        told = "That layout is not there any more. Choose one and try again."
        return self.done(told, self.page, year, level=messages.ERROR)


def _queue(request, year: int, title: str, **asked) -> None:
    running = (Batch.State.QUEUED, Batch.State.APPLYING)
    if Batch.objects.filter(kind="SUBMISSION", parameters__year=year, state__in=running).exists():
        messages.warning(request, f"Something runs for {year} already. Wait until it is done.")
        return
    parameters = {"year": year, "today": today().isoformat(), **asked}
    batch = batch_open(
        kind="SUBMISSION",
        by=request.user.get_username(),
        at=now(),
        title=title,
        parameters=parameters,
    )
    batch_queue(batch=batch)


class SubmissionProgressView(Permitted, ProgressView):
    """How far a freeze or a comparison is."""

    batches = Batch.objects.filter(kind="SUBMISSION")


class SubmissionView(Permitted, TemplateView):
    """One filed revision: totals, files, questions that were open, and what may be done."""

    template_name = "program/submission.html"
    certify_form = amend_form = None

    @cached_property
    def submission(self) -> Submission:
        """The revision the address names."""
        named = {name: self.kwargs[name] for name in ("year", "revision")}
        return get_object_or_404(Submission, **named)

    def certifying(self) -> CertifyForm:
        """Return the questions, with whom and with which words this account signed last."""
        initial = signed_last(self.request.user)
        return CertifyForm(asked=questions_asked(self.submission), initial=initial)

    def amending(self, *posted) -> AmendForm:
        """Return the form of an amendment, in the layout that this revision was frozen in."""
        used = layout_last_used(self.submission.facts.get("layout_ref"))
        return AmendForm(*posted, choices=layout_choices(), first=used)

    def get_context_data(self, **kwargs):
        user, submission = self.request.user, self.submission
        batches = submission_batches(submission.year, limit=1)
        return super().get_context_data(
            submission=submission,
            totals=summary_rows(submission),
            ledger=ledger_head(submission),
            files=submission_file_rows(submission),
            batch=batches[0] if batches else None,
            progress=batch_progress(batches[0], now()) if batches else None,
            verified=verified_last(submission),
            kept_until=kept_until(submission),
            certify_form=self.certify_form or self.certifying(),
            layout=layout_words(submission.facts.get("layout_ref", "")),
            amend_form=self.amend_form or self.amending(),
            can_certify=submission.state == "FROZEN"
            and user.has_perm("program.certify_submission"),
            can_amend=submission.state != "REPLACED"
            and user.has_perm("program.prepare_submission"),
            can_verify=user.has_perm("program.prepare_submission"),
            **kwargs,
        )


class SubmissionFileView(SubmissionView):
    """A file of a revision, as it was frozen."""

    def get(self, request, year, revision, kind):
        file = self.submission.files.filter(kind=kind).first()
        if file is None:
            raise Http404
        return file_as_kept(KeptFile(file.path), file.sha256)


class SubmissionArchiveView(SubmissionView):
    """All files of a revision as one ZIP."""

    def get(self, request, year, revision):
        if faults := submission_check_files(self.submission):
            raise NotAsKept(" ".join(faults))
        name, content = submission_archive(self.submission)
        answer = StreamingHttpResponse(content, content_type="application/zip")
        answer["Content-Disposition"] = f'attachment; filename="{name}"'
        return answer


class SubmissionPaperView(SubmissionView):
    """The certification to print, sign and send: at most two pages, as in the archive."""

    def get(self, request, year, revision):
        name, content = signing_sheet(self.submission)
        return pdf_shown(content, name)


class SubmissionSchemaView(Permitted, View):
    """The JSON Schema that the JSON files follow."""

    def get(self, request):
        answer = JsonResponse(build_schema(), json_dumps_params={"indent": 2})
        answer["Content-Disposition"] = 'attachment; filename="submission_schema.json"'
        return answer


class SubmissionCertifyView(PageAct, SubmissionView):
    """Certify a frozen revision."""

    permission_required = "program.certify_submission"
    confirmed_within = 5 * 60  # seconds since the password was shown
    http_method_names = ["post"]
    shown_as, page = "certify_form", "submission"

    def filled(self, thing):
        return CertifyForm(self.request.POST, asked=questions_asked(self.submission))

    def keep(self, thing, given):
        submission_certify(submission=self.submission, **self.signed(), **self.form.said)
        return "The submission is certified."


class SubmissionAmendView(SubmissionView):
    """What an amendment would change; and handing its freeze to the worker."""

    permission_required = "program.prepare_submission"
    template_name = "program/submission_amend.html"
    http_method_names = ["get", "post"]

    def get_context_data(self, **kwargs):
        if self.submission.state == Submission.State.REPLACED:
            raise Http404
        return super().get_context_data(preview=amend_preview(self.submission, now()), **kwargs)

    def post(self, request, year, revision):
        self.amend_form = self.amending(request.POST)
        if not self.amend_form.is_valid():
            return self.render_to_response(self.get_context_data(), status=422)
        _queue(
            request,
            year,
            f"Amend the submission for {year}",
            amends=self.submission.pk,
            **self.amend_form.cleaned_data,
        )
        return redirect("submission", year, revision)


class SubmissionVerifyAllView(Act):
    """Hand the comparison of every revision with the record to the worker."""

    permission_required, page = "program.prepare_submission", "submission_list"

    def keep(self, thing, given):
        opened = submissions_verify_open(**self.signed())
        for batch in opened:
            batch_queue(batch=batch)
        if opened:
            return f"{len(opened)} to verify; each page shows its result."
        none = "Nothing to verify: none is frozen, or all run already."
        return self.done(none, self.page, level=messages.WARNING)


class SubmissionVerifyView(Act):
    """Hand the comparison with the record to the worker."""

    permission_required, model = "program.prepare_submission", Submission
    page = "submission"

    def keep(self, one, given):
        title = f"Verify the submission for {one.year}, revision {one.revision}"
        _queue(self.request, one.year, title, verifies=one.pk)
        return self.back(one)
