"""Evidence that contradicts itself: the queue, and the decision by a person."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import redirect, render
from django.views import View
from django.views.generic import TemplateView

from ..forms.evidence import DecisionForm
from ..operations.conflicts import conflict_resolve
from ..operations.evidence import EvidenceRefused
from ..queries import keyset
from ..queries.conflicts import CONFLICTS, conflict_for_page, open_conflicts, sides_of
from ..today import now
from .accepting import accepted
from .lines import shown_page
from .permitted import Permitted


class ConflictListView(Permitted, TemplateView):
    """The open conflicts, the longest open first."""

    template_name = "services_inventory/conflict_list.html"

    def get_context_data(self, **kwargs):
        """Give one page of them."""

        def ask(**at):
            return keyset.page(open_conflicts(), CONFLICTS, **at)

        return super().get_context_data(**shown_page(ask, self.request.GET), **kwargs)


class ConflictView(Permitted, View):
    """One conflict: both sides, and the decision."""

    def setup(self, request, *args, **kwargs):
        """Load the conflict and its sides."""
        super().setup(request, *args, **kwargs)
        self.conflict = conflict_for_page(kwargs["pk"])
        self.sides = sides_of(self.conflict) if self.conflict else []

    def get(self, request, pk):
        """Show it."""
        return self._show(DecisionForm(choices=self._choices()), 200)

    def _choices(self):
        return [(side["material"], side["words"]) for side in self.sides]

    def _show(self, form, status):
        if self.conflict is None:
            raise Http404
        context = {"conflict": self.conflict, "sides": self.sides, "form": form}
        return render(self.request, "services_inventory/conflict.html", context, status=status)

    def post(self, request, pk):
        """Keep the decision; the line's standing follows."""
        if not request.user.has_perm("services_inventory.resolve_conflict"):
            raise PermissionDenied
        form = DecisionForm(request.POST, choices=self._choices())
        if self.conflict is None or not accepted(form, self._decide, EvidenceRefused):
            return self._show(form, 422)
        messages.success(request, "Decided. The line's category follows from what stands.")
        return redirect("line", self.conflict.line_id)

    def _decide(self, data):
        by = self.request.user.get_username()
        return conflict_resolve(conflict=self.conflict, by=by, recorded_at=now(), **data)
