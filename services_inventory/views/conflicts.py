"""Evidence that contradicts itself: the queue, the decision, and the second person's agreement."""

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404
from django.shortcuts import redirect
from django.utils.functional import cached_property
from django.views import View
from django.views.generic import TemplateView

from ..forms.evidence import KINDS, LIMIT_BYTES, DecisionForm, ProposalForm
from ..models import Conflict, Proposal
from ..operations.conflicts import (
    BOTH,
    conflict_propose,
    conflict_resolve,
    proposal_agree,
    proposal_decline,
    sides,
)
from ..operations.documents import DocumentRefused, document_store
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
from .acts import Act, PageAct
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


class ConflictView(PageAct, Permitted, TemplateView):
    """One conflict: both sides, what each answer would set aside, and the decision."""

    template_name = "services_inventory/conflict.html"
    form = None

    @cached_property
    def conflict(self) -> Conflict:
        """The conflict that the address names."""
        conflict = conflict_for_page(self.kwargs["pk"])
        if conflict is None:
            raise Http404
        return conflict

    @cached_property
    def sides(self) -> list[dict]:
        """Its sides as the page shows them."""
        return sides_of(self.conflict)

    @cached_property
    def found(self):
        """What each answer would set aside."""
        return sides(self.conflict, now())

    def get_context_data(self, **kwargs):
        """Give the sides, the proposals so far, and the form of a decision."""
        return super().get_context_data(
            conflict=self.conflict, sides=self.sides, proposals=proposals_of(self.conflict),
            form=self.form or DecisionForm(choices=self._choices()), **kwargs,
        )  # fmt: skip

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

    def thing(self, pk) -> Conflict:
        if not self.request.user.has_perm("services_inventory.resolve_conflict"):
            raise PermissionDenied
        return self.conflict

    def filled(self, conflict):
        sent = self.request.POST, self.request.FILES
        return DecisionForm(*sent, choices=self._choices())

    def field_of(self, error):
        return "document" if isinstance(error, DocumentRefused) else None

    def keep(self, conflict, given):
        """Keep the decision, or the proposal of a less protective one."""
        if self.found.overruled(given["material"]):
            return self._proposed(conflict, given)
        conflict_resolve(
            conflict=conflict, material=given["material"], reason=given["reason"], by=self.by,
            recorded_at=now(),
        )  # fmt: skip
        told = "Decided. The line's category follows from what stands."
        return self.done(told, "line", conflict.line_id)

    @transaction.atomic
    def _proposed(self, conflict, given):
        file = given["document"]
        if not file:
            raise DocumentRefused(
                "This is less protective than what was seen. Attach the document that shows it, or "
                "choose what protects; if in doubt, have somebody look."
            )
        document = document_store(
            file=file, name=file.name, kind="EVIDENCE", allowed=KINDS, limit_bytes=LIMIT_BYTES,
            **self.signed(),
        )  # fmt: skip
        conflict_propose(
            conflict=conflict, material=given["material"], reason=given["reason"],
            document=document, by=self.by, account=self.request.user.pk, recorded_at=now(),
        )  # fmt: skip
        told = "Proposed. Nothing changes until a second person who may decide conflicts agrees."
        return self.done(told, "conflict", conflict.pk)


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
