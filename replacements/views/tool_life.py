"""What is recorded at a tool beside its inspections; the contractor's tool sets."""

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect

from services_inventory.forms.reasons import TakeBackForm
from services_inventory.operations.taking_back import take_back
from services_inventory.views.acts import Act

from ..completion.photos import paper_keep
from ..domain.tool_strings import assembly_checks, shipped_groups
from ..forms.tool_life import (
    ConfirmForm,
    PaperForm,
    PhotoForm,
    RenewalForm,
    SetFactsForm,
    SetForm,
    WithdrawForm,
)
from ..models import ToolSet, ToolSetFacts
from ..operations.tools import (
    component_renew,
    component_show,
    rating_paper_attach,
    rating_paper_confirm,
    tool_record_withdraw,
    tool_set_add,
    tool_set_facts_enter,
)
from ..queries.tool_life import setup_back
from .scope import DO, SEE, WorkAct, WorkForm

CONFIRM = ("replacements.do_work", "replacements.review_work")


class ComponentActView(WorkAct):
    """Renewing a wear part, a photo, a paper attached or confirmed, a record taken back."""

    permissions = CONFIRM
    forms = {"renewal": RenewalForm, "paper": PaperForm, "confirm": ConfirmForm,
             "withdraw": WithdrawForm, "photo": PhotoForm}  # fmt: skip

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


class ToolSetListView(WorkForm):
    """The tool sets, and adding one."""

    permissions, records = SEE, DO
    form_class, template_name = SetForm, "replacements/tool_set_list.html"

    def thing(self):
        """Return the sets that this user may see; only a company adds one."""
        if self.request.method == "POST" and self.company is None:
            raise PermissionDenied
        return self.sets().order_by("contractor__name", "name")

    def sets(self):
        """The tool sets that this user may see."""
        rows = ToolSet.objects.select_related("contractor")
        return rows.filter(contractor=self.company) if self.company else rows

    def beside(self, sets, form):
        return {"sets": sets, "company": self.company}

    def keep(self, sets, given):
        made = tool_set_add(contractor=self.company, **given)
        return self.done(f"{made.name} is added; enter its set-up.", "tool_set", made.pk)

    def field_of(self, error):
        return "name"


class ToolSetView(ToolSetListView):
    """One tool set: what its maker's instructions say of the set-up, beside common practice."""

    form_class, template_name, page = SetFactsForm, "replacements/tool_set.html", "tool_set"

    def thing(self, pk):
        """Return the set of the address, if this user may see it."""
        return get_object_or_404(self.sets(), pk=pk)

    def first(self, tool_set):
        entry = tool_set.facts.standing().order_by("entered_at", "id").last()
        return SetFactsForm.of(entry and setup_back(entry))

    @property
    def taken_back(self) -> str | None:
        """The number of the entry that is to be taken back, if one is."""
        return self.request.POST.get("take_back")

    def filled(self, tool_set):
        return (TakeBackForm if self.taken_back else SetFactsForm)(self.request.POST)

    def keep(self, tool_set, given):
        if self.taken_back:
            entry = get_object_or_404(ToolSetFacts, pk=self.taken_back, tool_set=tool_set)
            take_back(row=entry, **given, **self.signed())
            return "The entry is withdrawn."
        tool_set_facts_enter(tool_set=tool_set, **self.signed(), **self.form.values())
        return f"The set-up of {tool_set.name} is entered."

    def field_of(self, error):
        return None

    def refuse(self, tool_set):
        return Act.refuse(self, tool_set) if self.taken_back else super().refuse(tool_set)

    def beside(self, tool_set, form):
        return {
            "tool_set": tool_set,
            "rows": [(check, form.of_check(check)) for check in assembly_checks() if check.of_set],
            "shipped": shipped_groups(),
            "entries": tool_set.facts.order_by("-entered_at", "-id"),
            "tools": tool_set.components.order_by("kind", "mark"),
        }
