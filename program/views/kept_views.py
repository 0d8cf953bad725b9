"""Keeping views of lists."""

from django.contrib import messages
from django.contrib.auth.mixins import LoginRequiredMixin
from django.shortcuts import redirect
from django.views import View

from program.operations.kept_views import KeptViewError, view_keep, view_let_go


class KeptViewNewView(LoginRequiredMixin, View):
    """Keep the view that is open."""

    def post(self, request):
        asked = {name: request.POST.get(name, "") for name in ("path", "query", "name")}
        try:
            return redirect(view_keep(user=request.user, **asked).address)
        except KeptViewError as error:
            messages.error(request, str(error))
            return redirect(request.META.get("HTTP_REFERER") or "board")


class KeptViewEndView(LoginRequiredMixin, View):
    """Let a view go."""

    def post(self, request, pk):
        """Let it go; the list stays open."""
        path = view_let_go(user=request.user, pk=pk)
        messages.success(request, "The view is gone." if path else "That view was gone already.")
        return redirect(path or "board")
