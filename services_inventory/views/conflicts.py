"""Evidence that contradicts itself: the queue, the decision, and the second person's agreement."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404
from django.shortcuts import redirect, render
from django.views import View
from django.views.generic import TemplateView

from ..forms.evidence import KINDS, LIMIT_BYTES, DecisionForm, ProposalForm
from ..models import Proposal
from ..operations.conflicts import (
    BOTH,
    conflict_propose,
    conflict_resolve,
    proposal_agree,
    proposal_decline,
    sides,
)
from ..operations.documents import DocumentRefused, document_store
from ..operations.evidence import EvidenceRefused
from ..queries import keyset
from ..queries.conflicts import (
    CONFLICTS,
    conflict_for_page,
    open_conflicts,
    open_proposals,
    proposals_of,
    sides_of,
)
from ..queries.set_aside import HEADINGS, set_aside, set_aside_number
from ..sending import csv_answer
from ..today import now, today
from .acts import Act
from .lines import shown_page
from .permitted import Permitted

SHOWN = 200


class ConflictListView(Permitted, TemplateView):
    """The open conflicts, the longest open first, and the proposals that wait."""

    template_name = "services_inventory/conflict_list.html"

    def get_context_data(self, **kwargs):

        def ask(**at):
            return keyset.page(open_conflicts(), CONFLICTS, **at)

        return super().get_context_data(
            **shown_page(ask, self.request.GET),
            proposals=list(open_proposals()[:SHOWN]),
            **kwargs,
        )


class ConflictView(Permitted, View):
    """One conflict: both sides, and the decision."""

    def setup(self, request, *args, **kwargs):
        """Load the conflict, its sides, and what each answer would set aside."""
        super().setup(request, *args, **kwargs)
        self.conflict = conflict_for_page(kwargs["pk"])
        self.sides = sides_of(self.conflict) if self.conflict else []
        self.found = sides(self.conflict, now()) if self.conflict else None

    def get(self, request, pk):
        return self._show(DecisionForm(choices=self._choices()), 200)

    def _choices(self):
        choices = [(side["material"], self._choice(side)) for side in self.sides]
        if self.found and self.found.can_both_be_true:
            words = " and ".join(side["words"] for side in self.sides)
            choices.append((BOTH, f"Both are true: {words}; the more protective stands"))
        return choices

    def _choice(self, side: dict) -> str:
        words = side["words"].capitalize()
        if self.found.overruled(side["material"]):
            return f"{words} (less protective than what was seen: document and second person)"
        return words

    def _show(self, form, status):
        if self.conflict is None:
            raise Http404
        context = {
            "conflict": self.conflict,
            "sides": self.sides,
            "proposals": proposals_of(self.conflict),
            "form": form,
        }
        return render(self.request, "services_inventory/conflict.html", context, status=status)

    def post(self, request, pk):
        """Keep the decision, or the proposal of a less protective one."""
        if not request.user.has_perm("services_inventory.resolve_conflict"):
            raise PermissionDenied
        form = DecisionForm(request.POST, request.FILES, choices=self._choices())
        if self.conflict is None or not form.is_valid():
            return self._show(form, 422)
        try:
            return self._proposed(form) if self._is_proposal(form) else self._decided(form)
        except EvidenceRefused as problem:
            form.add_error(None, str(problem))
        except DocumentRefused as problem:
            form.add_error("document", str(problem))
        return self._show(form, 422)

    def _is_proposal(self, form) -> bool:
        return bool(self.found.overruled(form.cleaned_data["material"]))

    def _decided(self, form):
        conflict_resolve(
            conflict=self.conflict,
            material=form.cleaned_data["material"],
            reason=form.cleaned_data["reason"],
            by=self.request.user.get_username(),
            recorded_at=now(),
        )
        messages.success(self.request, "Decided. The line's category follows from what stands.")
        return redirect("line", self.conflict.line_id)

    def _proposed(self, form):
        data, user = form.cleaned_data, self.request.user
        if not data["document"]:
            raise DocumentRefused(
                "This is less protective than what was seen. Attach the document that shows it, or "
                "choose what protects; if in doubt, have somebody look."
            )
        by, at = user.get_username(), now()
        with transaction.atomic():
            document = document_store(
                file=data["document"], name=data["document"].name, kind="EVIDENCE", by=by, at=at,
                allowed=KINDS, limit_bytes=LIMIT_BYTES,
            )  # fmt: skip
            conflict_propose(
                conflict=self.conflict, material=data["material"], reason=data["reason"],
                document=document, by=by, account=user.pk, recorded_at=at,
            )  # fmt: skip
        messages.success(
            self.request,
            "Proposed. Nothing changes until a second person who may decide conflicts agrees.",
        )
        return redirect("conflict", self.conflict.pk)


class ProposalView(Permitted, Act):
    """A second person agrees with a proposal or declines it; whoever made it takes it back."""

    permission_required = "services_inventory.resolve_conflict"
    form_class, model = ProposalForm, Proposal

    def keep(self, proposal, given):
        said = {
            "proposal": proposal, "by": self.by, "account": self.request.user.pk,
            "recorded_at": now(), "reason": given["reason"],
        }  # fmt: skip
        if given["answer"] == ProposalForm.AGREE:
            proposal_agree(**said)
            told = "Agreed. The line's category follows from what stands."
            return self.done(told, "line", proposal.conflict.line_id)
        proposal_decline(**said)
        return "Kept. The conflict stays open."

    def back(self, proposal):
        return redirect("conflict", proposal.conflict_id)


class SetAsideView(Permitted, TemplateView):
    """The findings that do not stand, and who said so."""

    template_name = "services_inventory/set_aside.html"

    def get_context_data(self, **kwargs):
        rows = [row for _, row in zip(range(SHOWN), set_aside(), strict=False)]
        return super().get_context_data(rows=rows, number=set_aside_number(), shown=SHOWN, **kwargs)


class SetAsideCsvView(Permitted, View):
    """The same as CSV, all of them."""

    permission_required = "services_inventory.export_inventory"

    def get(self, request):
        rows = (row.cells for row in set_aside())
        return csv_answer(f"findings-set-aside-{today()}", HEADINGS, rows)
