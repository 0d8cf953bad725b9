"""The replacement plan document: words by element, print, freeze, publish, state, check."""

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.forms import PlanFreezeForm, PlanStatementForm, PlanTextForm
from program.models import PlanDocument, PlanText
from program.operations.plan_documents import (
    plan_document_check,
    plan_document_freeze,
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
from services_inventory.kept_files import KeptFile
from services_inventory.sending import file_as_kept, pdf_shown

from .acts import Act, PageAct
from .permitted import Permitted

WRITE, CERTIFY = "program.write_plan", "program.certify_submission"


class PlanDocumentView(Permitted, TemplateView):
    """Every element with what is known, written and missing; the frozen documents."""

    template_name = "program/plan_document.html"
    form = None

    def get_context_data(self, **kwargs):
        return super().get_context_data(
            **plan_document_board(today(), now()),
            form=self.form or PlanFreezeForm(),
            can_write=self.request.user.has_perm(WRITE),
            **kwargs,
        )


class PlanDocumentFreezeView(PageAct, PlanDocumentView):
    """Freeze the document as it is now."""

    permission_required, form_class = WRITE, PlanFreezeForm
    http_method_names = ["post"]

    def keep(self, thing, given):
        document = plan_document_freeze(as_of=today(), **given, **self.signed())
        told = f"{document} is frozen: {document.pages} pages."
        return self.done(told, "plan_document_frozen", document.number)


class PlanDocumentPrintView(Permitted, View):
    """The document as it would be now, as a PDF."""

    def get(self, request):
        drawn = plan_document_print(as_of=today(), at=now())
        return pdf_shown(drawn, "replacement-plan-not-frozen.pdf")


class PlanElementView(Permitted, TemplateView):
    """One element: what the rule asks, what the record says, what staff wrote."""

    template_name = "program/plan_element.html"
    form = None

    def get_context_data(self, element, **kwargs):
        """Give the element with its versions, the latest first."""
        found = element_of(element)
        if found is None:
            raise Http404
        versions = text_versions(element)
        return super().get_context_data(
            element=found,
            known=element_facts(element, today(), now()),
            versions=[(v, _changes(v, versions)) for v in versions],
            form=self.form or PlanTextForm(initial=_initial(versions)),
            can_write=self.request.user.has_perm(WRITE),
            **kwargs,
        )


class PlanElementWriteView(PageAct, PlanElementView):
    """Save the words as the next version."""

    permission_required, form_class = WRITE, PlanTextForm
    http_method_names = ["post"]

    def keep(self, thing, given):
        kept = plan_text_write(**self.kwargs, **given, **self.signed())
        return self.done(f"Kept as version {kept.version}.", "plan_document")

    def field_of(self, error):
        return "text"


class PlanElementRestoreView(Act):
    """Bring an earlier version's words back."""

    permission_required, model = WRITE, PlanText

    def keep(self, version, given):
        kept = plan_text_restore(version=version, **self.signed())
        return f"Version {version.version} stands again, as {kept.version}."

    def back(self, version):
        return redirect("plan_element", version.element)


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

    @cached_property
    def document(self) -> PlanDocument:
        """The document that the address names."""
        return get_object_or_404(PlanDocument, number=self.kwargs["number"])

    def get_context_data(self, **kwargs):
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
        kept = KeptFile(self.document.path)
        return file_as_kept(kept, self.document.sha256, as_attachment=False)


class PlanDocumentPublishView(Act):
    """Make it the document that the public reads."""

    permission_required, model = CERTIFY, PlanDocument
    page = "plan_document_frozen"

    def keep(self, document, given):
        plan_document_publish(document=document, **self.signed())
        return "The public reads this document now."


class PlanStatementView(PageAct, PlanDocumentFrozenView):
    """Certify that the plan is updated or unchanged."""

    permission_required, form_class = CERTIFY, PlanStatementForm
    http_method_names = ["post"]

    def keep(self, thing, given):
        plan_statement_make(document=self.document, **given, **self.signed())
        return self.done("The statement is kept.", "plan_document_frozen", self.document.number)
