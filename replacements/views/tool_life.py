"""What is recorded at a tool beside its inspections; the contractor's tool sets."""

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render

from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from services_inventory.today import now

from ..completion.photos import paper_keep
from ..domain.tool_strings import assembly_checks, shipped_groups
from ..forms.tool_life import (
    ConfirmForm,
    PaperForm,
    PhotoForm,
    RenewalForm,
    SetFactsForm,
    SetForm,
    TakeBackForm,
)
from ..models import ToolSet, ToolSetFacts
from ..operations.tools import (
    ToolError,
    component_renew,
    component_show,
    rating_paper_attach,
    rating_paper_confirm,
    tool_record_withdraw,
    tool_set_add,
    tool_set_facts_enter,
)
from ..queries.tool_life import setup_back
from .scope import DO, SEE, WorkAct, WorkView

CONFIRM = ("replacements.do_work", "replacements.review_work")


class ComponentActView(WorkAct):
    """Renewing a wear part, a photo, a paper attached or confirmed, a record taken back."""

    permissions = CONFIRM
    forms = {"renewal": RenewalForm, "paper": PaperForm, "confirm": ConfirmForm,
             "withdraw": TakeBackForm, "photo": PhotoForm}  # fmt: skip

    def thing(self, pk, action):
        tool = get_object_or_404(self.components(), pk=pk)
        if action != "confirm" and not self.request.user.has_perm(DO[0]):
            raise PermissionDenied
        return tool

    def filled(self, tool):
        return self.forms[self.kwargs["action"]](self.request.POST, self.request.FILES)

    def keep(self, tool, given):
        return getattr(self, self.kwargs["action"])(tool, given)

    def back(self, tool):
        return redirect("component", tool.pk)

    def renewal(self, tool, given) -> str:
        """Record a renewed wear part."""
        component_renew(component=tool, **self.signed(), **given)
        return "The renewal is recorded."

    def paper(self, tool, given) -> str:
        """Keep the paper of the rating."""
        key = f"contractor:{tool.contractor_id}"
        kept = paper_keep(file=given["paper"], kind="RATING", owner_key=key, **self.signed())
        rating_paper_attach(component=tool, document=kept, **self.signed())
        return "The paper is attached; now a second person reads the figure off it."

    def photo(self, tool, given) -> str:
        """Keep a photo of the tool."""
        key = f"contractor:{tool.contractor_id}"
        kept = paper_keep(file=given["photo"], kind="TOOL", owner_key=key, **self.signed())
        component_show(component=tool, photo=kept, **self.signed())
        return f"The photo of {tool.mark} is kept."

    def confirm(self, tool, given) -> str:
        """Confirm the rating by what was read."""
        paper = get_object_or_404(tool.papers, pk=given["number"])
        rating_paper_confirm(paper=paper, read_lbf=given["read_lbf"], **self.signed())
        return "The rating is confirmed."

    def withdraw(self, tool, given) -> str:
        """Take a record back."""
        tool_record_withdraw(component=tool, **self.signed(), **given)
        return "It is withdrawn, and counts no more."


class ToolSetListView(WorkView):
    """The tool sets, and adding one."""

    permissions = SEE

    def sets(self):
        """The tool sets that this user may see."""
        rows = ToolSet.objects.select_related("contractor").order_by("contractor__name", "name")
        return rows.filter(contractor=self.company) if self.company else rows

    def get(self, request):
        return self._show(SetForm())

    def post(self, request):
        if self.company is None or not request.user.has_perm(DO[0]):
            raise PermissionDenied
        form = SetForm(request.POST)
        if form.is_valid():
            try:
                made = tool_set_add(contractor=self.company, **form.cleaned_data)
                return self.done(f"{made.name} is added; enter its set-up.", "tool_set", made.pk)
            except ToolError as error:
                form.add_error("name", str(error))
        return self._show(form)

    def _show(self, form):
        context = {"sets": self.sets(), "form": form, "company": self.company}
        return render(self.request, "replacements/tool_set_list.html", context)


class ToolSetView(WorkView):
    """One tool set: what its maker's instructions say of the set-up, beside common practice."""

    permissions = SEE

    def tool_set(self) -> ToolSet:
        """The set of the address, if this user may see it."""
        rows = ToolSet.objects.select_related("contractor")
        rows = rows.filter(contractor=self.company) if self.company else rows
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def get(self, request, pk):
        tool_set = self.tool_set()
        entry = tool_set.facts.standing().order_by("entered_at", "id").last()
        return self._show(tool_set, SetFactsForm.of(entry and setup_back(entry)))

    def post(self, request, pk):
        """Enter what the instructions say, or take an entry back."""
        tool_set = self.tool_set()
        if not request.user.has_perm(DO[0]):
            raise PermissionDenied
        if "take_back" in request.POST:
            return self._take_back(tool_set)
        form = SetFactsForm(request.POST)
        if form.is_valid():
            try:
                tool_set_facts_enter(tool_set=tool_set, by=self.by, at=now(), **form.values())
                return self.done(f"The set-up of {tool_set.name} is entered.", "tool_set", pk)
            except ToolError as error:
                form.add_error(None, str(error))
        return self._show(tool_set, form)

    def _take_back(self, tool_set: ToolSet):
        number = self.request.POST["take_back"]
        entry = get_object_or_404(ToolSetFacts, pk=number, tool_set=tool_set)
        reason = self.request.POST.get("reason", "")
        try:
            take_back(row=entry, reason=reason, **self.signed())
        except Refused as error:
            return self.refused(str(error), "tool_set", tool_set.pk)
        return self.done("The entry is withdrawn.", "tool_set", tool_set.pk)

    def _show(self, tool_set: ToolSet, form):
        context = {
            "tool_set": tool_set,
            "form": form,
            "rows": [(check, form.of_check(check)) for check in assembly_checks() if check.of_set],
            "shipped": shipped_groups(),
            "entries": tool_set.facts.order_by("-entered_at", "-id"),
            "tools": tool_set.components.order_by("kind", "mark"),
        }
        return render(self.request, "replacements/tool_set.html", context)
