"""The replacement plan document: words by element, print, freeze, publish, state, check."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.forms import PlanFreezeForm, PlanStatementForm, PlanTextForm
from program.models import PlanDocument, PlanText
from program.operations.plan_documents import (
    PlanDocumentError,
    plan_document_check,
    plan_document_freeze,
    plan_document_path,
    plan_document_print,
    plan_document_publish,
    plan_statement_make,
    plan_text_restore,
    plan_text_write,
)
from program.plan_document.elements import element_of
from program.queries.layouts import text_changes
from program.queries.plan_document import element_facts
from program.queries.plan_documents import plan_document_board, text_versions
from services_inventory.sending import file_as_kept

from .permitted import Permitted

WRITE, CERTIFY = "program.write_plan", "program.certify_submission"


class PlanDocumentView(Permitted, TemplateView):
    """Every element with what is known, written and missing; the frozen documents."""

    template_name = "program/plan_document.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give the document as it would be now."""
        return super().get_context_data(
            **plan_document_board(today(), now()),
            form=self.form or PlanFreezeForm(),
            can_write=self.request.user.has_perm(WRITE),
            **kwargs,
        )


class PlanDocumentFreezeView(PlanDocumentView):
    """Freeze the document as it is now."""

    permission_required = WRITE
    http_method_names = ["post"]

    def post(self, request):
        """Freeze it, or say what is missing."""
        self.form = PlanFreezeForm(request.POST)
        if self.form.is_valid():
            said = self.form.cleaned_data | {"by": request.user.get_username(), "at": now()}
            try:
                document = plan_document_freeze(as_of=today(), **said)
            except PlanDocumentError as error:
                self.form.add_error(None, str(error))
            else:
                messages.success(request, f"{document} is frozen: {document.pages} pages.")
                return redirect("plan_document_frozen", document.number)
        return self.render_to_response(self.get_context_data(), status=422)


class PlanDocumentPrintView(Permitted, View):
    """The document as it would be now, as a PDF."""

    def get(self, request):
        """Send it; nothing is kept."""
        answer = HttpResponse(
            plan_document_print(as_of=today(), at=now()), content_type="application/pdf"
        )
        answer["Content-Disposition"] = 'inline; filename="replacement-plan-not-frozen.pdf"'
        return answer


class PlanElementView(Permitted, View):
    """One element: what the rule asks, what the record says, what staff wrote."""

    form = None
    status = 200

    def get(self, request, element):
        found = element_of(element)
        if found is None:
            raise Http404
        versions = text_versions(element)
        page = {
            "element": found,
            "known": element_facts(element, today(), now()),
            "versions": [(v, _changes(v, versions)) for v in versions],
            "form": self.form or PlanTextForm(initial=_initial(versions)),
            "can_write": request.user.has_perm(WRITE),
        }
        return render(request, "program/plan_element.html", page, status=self.status)


class PlanElementWriteView(PlanElementView):
    """Save the words as the next version."""

    permission_required = WRITE
    http_method_names = ["post"]

    def post(self, request, element):
        """Keep them, or show them again with what is wrong."""
        self.form = PlanTextForm(request.POST)
        if self.form.is_valid():
            said = self.form.cleaned_data | {"by": request.user.get_username(), "at": now()}
            try:
                kept = plan_text_write(element=element, **said)
            except PlanDocumentError as error:
                self.form.add_error("text", str(error))
            else:
                messages.success(request, f"Kept as version {kept.version}.")
                return redirect("plan_document")
        self.status = 422
        return self.get(request, element)


class PlanElementRestoreView(Permitted, View):
    """Bring an earlier version's words back."""

    permission_required = WRITE

    def post(self, request, element, version):
        """Write them again as the latest."""
        found = get_object_or_404(PlanText, element=element, version=version)
        try:
            kept = plan_text_restore(version=found, by=request.user.get_username(), at=now())
        except PlanDocumentError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"Version {version} stands again, as {kept.version}.")
        return redirect("plan_element", element)


def _changes(version: PlanText, versions: list[PlanText]) -> list[str]:
    before = next((v for v in versions if v.version == version.version - 1), None)
    return text_changes(before.text, version.text) if before else []


def _initial(versions: list[PlanText]) -> dict:
    last = versions[0] if versions else PlanText(version=0)
    return {"text": last.text, "taken_from": last.taken_from, "based_on": last.version}


class PlanDocumentFrozenView(Permitted, TemplateView):
    """One frozen document: its proof, what was missing, statements made of it."""

    template_name = "program/plan_document_frozen.html"
    form = None

    def setup(self, request, *args, **kwargs):
        """Load the document that the address names."""
        super().setup(request, *args, **kwargs)
        self.document = PlanDocument.objects.filter(number=kwargs["number"]).first()

    def dispatch(self, request, *args, **kwargs):
        """Check who asks before saying what there is."""
        if self.has_permission() and self.document is None:
            raise Http404
        return super().dispatch(request, *args, **kwargs)

    def get_context_data(self, **kwargs):
        """Give the document with what this role may do."""
        document = self.document
        return super().get_context_data(
            document=document,
            wrong=plan_document_check(document),
            statements=document.statements.order_by("-id"),
            form=self.form or PlanStatementForm(initial={"year": today().year - 1}),
            can_certify=self.request.user.has_perm(CERTIFY) and not document.is_draft,
            **kwargs,
        )


class PlanDocumentFileView(PlanDocumentFrozenView):
    """The PDF as it was frozen."""

    def get(self, request, number):
        path = plan_document_path(self.document)
        return file_as_kept(path, self.document.sha256, as_attachment=False)


class PlanDocumentPublishView(PlanDocumentFrozenView):
    """Make it the document that the public reads."""

    permission_required = CERTIFY
    http_method_names = ["post"]

    def post(self, request, number):
        try:
            plan_document_publish(document=self.document, by=request.user.get_username(), at=now())
        except PlanDocumentError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, "The public reads this document now.")
        return redirect("plan_document_frozen", number)


class PlanStatementView(PlanDocumentFrozenView):
    """Certify that the plan is updated or unchanged."""

    permission_required = CERTIFY
    http_method_names = ["post"]

    def post(self, request, number):
        self.form = PlanStatementForm(request.POST)
        if self.form.is_valid():
            said = self.form.cleaned_data | {"by": request.user.get_username(), "at": now()}
            try:
                plan_statement_make(document=self.document, **said)
            except PlanDocumentError as error:
                self.form.add_error(None, str(error))
            else:
                messages.success(request, "The statement is kept.")
                return redirect("plan_document_frozen", number)
        return self.render_to_response(self.get_context_data(), status=422)
