"""The contractor's tools, their inspections, and the string of an order with its checklist."""

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, render

from services_inventory.today import now, today
from services_inventory.views.acts import refusals_on

from ..domain.cautions import STRING, Step, cautions_for
from ..domain.methods import pulled_as
from ..domain.pipes import PipeError
from ..domain.tool_strings import NO_SET, BadComponent, Need, checks_for, parts_of
from ..forms.tool_life import PaperForm, PhotoForm, RenewalForm
from ..forms.tools import (
    ChecklistForm,
    ComponentForm,
    InspectionForm,
    RetireForm,
    StringForm,
    measures_of,
    rope_told,
)
from ..models import Component
from ..operations.tools import (
    ToolError,
    assembly_answer_many,
    component_add,
    component_correct,
    component_inspect,
    component_put_back,
    component_retire,
    tool_string_propose,
    tool_string_record,
)
from ..queries.checklist import checklist_shown, setup_of
from ..queries.gate import latest_string
from ..queries.tool_page import doubts_of, history_of, standing_of
from .scope import DO, WorkForm, WorkView
from .tool_life import CONFIRM

SHOWN = 15  # tools on a page


class ComponentListView(WorkView):
    """The catalog: each tool with its state on the day."""

    def get(self, request):
        tools = (
            self.components().select_related("contractor").order_by("contractor", "kind", "mark")
        )
        page = Paginator(tools, SHOWN).get_page(request.GET.get("page"))
        context = {"tools": standing_of(page, today()), "page": page, "company": self.company}
        return render(request, "replacements/component_list.html", context)


class ComponentNewView(WorkForm):
    """Adding a tool to the catalog."""

    permissions, template_name = DO, "replacements/component_form.html"

    def first(self, thing):
        return ComponentForm(sets=_sets(self.company))

    def post(self, request):
        """Add the tool; without a script, show the fields of another kind first."""
        if self.company is None:
            raise PermissionDenied
        if "swap" in request.POST:
            form = ComponentForm(initial=request.POST.dict(), sets=_sets(self.company))
            return self.show(None, form)
        return super().post(request)

    def filled(self, thing):
        return ComponentForm(self.request.POST, sets=_sets(self.company))

    def keep(self, thing, given):
        tool = component_add(contractor=self.company, **self.signed(), **self.form.values())
        return self.done(f"{tool.mark} is in the catalog.", "component", tool.pk)


class ComponentCorrectView(WorkForm):
    """Correcting what the catalog says of a tool."""

    permissions, template_name = DO, "replacements/component_form.html"

    def thing(self, pk):
        return get_object_or_404(self.components(), pk=pk)

    def first(self, tool):
        return ComponentForm.of(tool)

    def filled(self, tool):
        return ComponentForm(self.request.POST, tool=tool, sets=_sets(tool.contractor))

    def beside(self, tool, form):
        return {"tool": tool}

    def keep(self, tool, given):
        component_correct(component=tool, **self.signed(), **self.form.values())
        return self.done(f"{tool.mark} is corrected.", "component", tool.pk)


class ComponentView(WorkView):
    """One tool with its inspections; inspecting and retiring it."""

    def component(self) -> Component:
        """The tool of the address, if this user may see it."""
        return get_object_or_404(self.components().select_related("contractor"),
                                 pk=self.kwargs["pk"])  # fmt: skip

    def get(self, request, pk):
        tool = self.component()
        return self._show(tool, InspectionForm(kind=tool.kind), RetireForm())

    def post(self, request, pk):
        """Record an inspection, or retire the tool or put it back."""
        if not request.user.has_perm("replacements.do_work"):
            raise PermissionDenied
        tool, retiring = self.component(), "reason" in request.POST
        inspect = InspectionForm(None if retiring else request.POST, kind=tool.kind)
        retire = RetireForm(request.POST if retiring else None)
        form = retire if retiring else inspect
        if form.is_valid():
            with refusals_on(form):
                return self.done(self._record(tool, form, retiring), "component", pk)
        return self._show(tool, inspect, retire)

    def _record(self, tool: Component, form, retiring: bool) -> str:
        if retiring:
            back = tool.retired_on is not None
            change = component_put_back if back else component_retire
            change(component=tool, by=self.by, at=now(), **form.cleaned_data)
            return f"{tool.mark} is {'in use again' if back else 'retired'}."
        component_inspect(component=tool, by=self.by, at=now(), **form.values())
        return f"The inspection of {tool.mark} is recorded."

    def _show(self, tool: Component, inspect, retire):
        ((_, known, level, words),) = standing_of([tool], today())
        inspections = tool.inspections.order_by("-inspected_on", "-id")
        context = {
            "tool": tool,
            "known": known,
            "inspections": [(row, rope_told(row.findings.get("rope", {}))) for row in inspections],
            "state": (level, words),
            "history": history_of(tool, known),
            "doubts": doubts_of(known, today()),
            "renewals": tool.renewals.order_by("-done_on", "-id"),
            "papers": tool.papers.select_related("document").order_by("-id"),
            "may_confirm": any(self.request.user.has_perm(each) for each in CONFIRM),
            "measures": measures_of(tool),
            "changes": tool.changes.order_by("-id"),
            "inspect_form": inspect,
            "renewal_form": RenewalForm(auto_id="renewal_%s"),
            "paper_form": PaperForm(auto_id="paper_%s"),
            "photo_form": PhotoForm(auto_id="photo_%s"),
            "retire_form": retire,
        }
        return render(self.request, "replacements/component.html", context)


class StringEntryView(WorkView):
    """The string of an order, part by part, starting from what the program proposes."""

    permissions = DO

    def get(self, request, pk):
        order = self.order()
        proposed, sentence = _proposed(order)
        chosen = proposed.parts if proposed else ()
        form = _string_form(order, chosen=chosen)
        return self._show(order, form, proposed, sentence)

    def post(self, request, pk):
        order = self.order()
        form = _string_form(order, request.POST)
        if form.is_valid():
            try:
                made = tool_string_record(
                    work_order=order, parts=form.parts(), by=self.by, at=now(),
                    pulled_end=form.cleaned_data.get("pulled_end", "UNKNOWN"),
                )  # fmt: skip
                said = {"": "no findings", "NOTE": "notes only"}.get(made.worst_level)
                said = said or f"worst finding: {made.worst_level.lower()}"
                return self.done(f"The string is recorded; {said}.", "work_order", pk)
            except (ToolError, PipeError) as error:
                form.add_error(None, str(error))
        return self._show(order, form, *_proposed(order))

    def _show(self, order, form, proposed, sentence):
        context = {"order": order, "form": form, "proposed": proposed, "sentence": sentence,
                   "parts": [need.kind.label.lower() for need in parts_of()[pulled_as(order.method)]
                             if need.need is not Need.WRONG],
                   "cautions": cautions_for(Step.ASSEMBLY)}  # fmt: skip
        response = render(self.request, "replacements/string_form.html", context)
        response.needs_camera = True
        return response


def _string_form(order, data=None, **known):
    """Return the form with the tools that may be chosen, and each other with what it waits for."""
    rows = Component.objects.filter(contractor_id=order.contractor_id, retired_on__isnull=True)
    usable, out_of_use = [], []
    for row, tool, *_ in standing_of(rows.order_by("kind", "mark"), today()):
        if tool and tool.overloads:
            out_of_use.append((row, tool.overloads[-1].told))
        else:
            usable.append(row)
    form = StringForm(data, components=usable, method=pulled_as(order.method), **known)
    form.out_of_use = out_of_use
    return form


def _sets(contractor):
    return contractor.tool_sets.order_by("name") if contractor else ()


def _proposed(order):
    try:
        return tool_string_propose(work_order=order, as_of=today()), ""
    except (PipeError, BadComponent) as error:
        return None, str(error)


class ChecklistView(WorkView):
    """The assembly checklist of the latest string."""

    permissions = DO

    def get(self, request, pk):
        return self._show(self.order())

    def post(self, request, pk):
        order = self.order()
        string = latest_string(order)
        form = ChecklistForm(request.POST, checks=_checks(order, string))
        if string is not None and form.is_valid():
            with refusals_on(form):
                rows = assembly_answer_many(
                    tool_string=string, answers=form.answers(), by=self.by, at=now()
                )
                return self.done(f"{len(rows)} answers are recorded.", "work_order_checklist", pk)
        return self._show(order, form)

    def _show(self, order, form=None):
        string = latest_string(order)
        if string is None:
            return self.refused("Record the tool string first.", "work_order", order.pk)
        form = form or ChecklistForm(checks=_checks(order, string))
        shown = checklist_shown(order, string)
        rows = [(form[row["check"].check], row) for row in shown["rows"]]
        context = {"order": order, "form": form, "rows": rows, "checklist": shown,
                   "cautions": cautions_for(*STRING)}  # fmt: skip
        return render(self.request, "replacements/checklist.html", context)


def _checks(order, string):
    setup = setup_of(order, string) if string else NO_SET
    return checks_for(order.new_material, setup, pulled_as(order.method))
