"""Layouts of primacy agencies: edit, try on the record, save a version, restore, download."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.forms import LayoutForm, LayoutUploadForm
from program.models import LayoutVersion
from program.operations.layouts import layout_restore, layout_save
from program.queries.layouts import (
    layout_tried,
    layout_versions,
    own_layouts,
    shipped_layout,
    text_changes,
)
from program.submissions.derived import PARTS
from program.submissions.layouts import (
    Layout,
    LayoutError,
    layout_in_full,
    layout_text,
    parse_layout,
    shipped_layouts,
)
from program.submissions.tables import CODES, SHEETS
from services_inventory.refused import Refused
from services_inventory.sending import attached

from .acts import Act
from .permitted import Permitted

PREPARE = "program.prepare_submission"


class LayoutListView(Permitted, TemplateView):
    """Every layout: the agency's own, and what ships."""

    template_name = "program/layout_list.html"
    upload_form = None

    def get_context_data(self, **kwargs):
        return super().get_context_data(
            own=own_layouts(),
            shipped=shipped_layouts(),
            upload_form=self.upload_form or LayoutUploadForm(),
            can_edit=self.request.user.has_perm(PREPARE),
            **kwargs,
        )


class LayoutUploadView(LayoutListView):
    """Open an uploaded TOML file in the editor; nothing is saved yet."""

    permission_required = PREPARE
    http_method_names = ["post"]

    def post(self, request):
        self.upload_form = LayoutUploadForm(request.POST, request.FILES)
        if not self.upload_form.is_valid():
            return self.render_to_response(self.get_context_data(), status=422)
        text = self.upload_form.cleaned_data["file"]
        return _editor(request, LayoutForm(initial={"text": text}), text, tried=True)


class LayoutEditView(Permitted, View):
    """The editor: start from a layout, try the text on the record, save it."""

    permission_required = PREPARE

    def get(self, request):
        """Open a copy of a shipped layout, or an own one in its latest version."""
        layout_id = request.GET.get("from", "standard")
        versions = layout_versions(layout_id)
        if versions:
            text, base = versions[0].text, versions[0].version
        else:
            text, base = layout_text(_copied(_shipped_or_404(layout_id))), None
        form = LayoutForm(initial={"text": text, "based_on": base})
        return _editor(request, form, text, tried=False)

    def post(self, request):
        """Try it, or save it as the next version."""
        form = LayoutForm(request.POST)
        valid = form.is_valid()
        text = form.data.get("text", "")
        if not valid or request.POST.get("do") != "save":
            return _editor(request, form, text, tried=valid, status=200 if valid else 422)
        try:
            saved = layout_save(**form.cleaned_data, by=request.user.get_username(), at=now())
        except LayoutError:
            pass  # the trial below names each fault
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{saved} was saved.")
            return redirect("layout_version", saved.layout_id, saved.version)
        return _editor(request, form, text, tried=True, status=422)


def _shipped_or_404(layout_id: str) -> Layout:
    layout = shipped_layout(layout_id)
    if layout is None:
        raise Http404
    return layout


def _copied(layout: Layout) -> Layout:
    """Return a layout in full under an id that staff are to change."""
    full = layout_in_full(layout)
    return Layout(
        "own_layout", "Own layout", f"Started from {layout.name}.",
        full.dates, full.sheets, full.codes,
    )  # fmt: skip


def _editor(request, form, text: str, *, tried: bool, status: int = 200):
    parts = [(key, comment) for key, (comment, _) in PARTS.items()]
    page = {"form": form, "sheets": SHEETS.values(), "codes": CODES, "parts": parts}
    page |= _tried(text) if tried else {}
    return render(request, "program/layout_edit.html", page, status=status)


def _tried(text: str) -> dict:
    """Return the first rows of the record in a layout, or what is wrong with it."""
    try:
        return {"tried": layout_tried(parse_layout(text, name="The layout"), today(), now())}
    except LayoutError as error:
        lines = text.replace("\r\n", "\n").split("\n")
        return {"faults": [(fault, _pointed_at(lines, fault)) for fault in error.faults]}


def _pointed_at(lines: list[str], fault) -> str:
    """Return the faulty line with a mark below the place."""
    if not fault.line or fault.line > len(lines):
        return ""
    return f"{lines[fault.line - 1][:120]}\n{' ' * (min(fault.column, 120) - 1)}^"


class LayoutView(Permitted, TemplateView):
    """One layout as it stands: a shipped one, or the latest or a chosen version of an own one."""

    template_name = "program/layout.html"

    def get_context_data(self, layout_id, version=None, **kwargs):
        """Give the text, the versions, and the first rows in it."""
        text, shown, versions = _text_of(layout_id, version)
        before = next((v for v in versions if shown and v.version == shown.version - 1), None)
        return super().get_context_data(
            layout_id=layout_id,
            name=shown.name if shown else _shipped_or_404(layout_id).name,
            text=text,
            shown=shown,
            versions=versions,
            latest=versions[0] if versions else None,
            changes=text_changes(before.text, shown.text) if before else [],
            can_edit=self.request.user.has_perm(PREPARE),
            **_tried(text),
            **kwargs,
        )


def _text_of(layout_id: str, number: int | None):
    """Return a layout's text, the version shown (None of a shipped one) and all its versions."""
    versions = layout_versions(layout_id)
    if not versions and number is None:
        return layout_text(_shipped_or_404(layout_id)), None, []
    shown = next((v for v in versions if number in (None, v.version)), None)
    if shown is None:
        raise Http404
    return shown.text, shown, versions


class LayoutFileView(Permitted, View):
    """A layout as a TOML file."""

    def get(self, request, layout_id, version=None):
        text, shown, _ = _text_of(layout_id, version)
        name = f"{layout_id}-v{shown.version}.toml" if shown else f"{layout_id}.toml"
        return attached(text, name, "application/toml")


class LayoutRestoreView(Act):
    """Save an earlier version again as the latest."""

    permission_required, model, page = PREPARE, LayoutVersion, "layout_version"

    def keep(self, found, given):
        saved = layout_restore(version=found, **self.signed())
        told = f"Version {found.version} is the latest again, as version {saved.version}."
        return self.done(told, self.page, saved.layout_id, saved.version)
