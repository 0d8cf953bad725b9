"""Keeping views of lists."""

from django.contrib.auth.mixins import LoginRequiredMixin
from django.shortcuts import redirect

from program.operations.kept_views import view_keep, view_let_go
from program.rooms import keeps_views
from services_inventory.views.acts import Act


class KeptViewNewView(LoginRequiredMixin, Act):
    """Keep the view that is open."""

    def keep(self, thing, given):
        view, new = view_keep(user=self.request.user, **self.asked())
        told = f"Kept as {view.name}." if new else f"{view.name} was kept before; it is this now."
        return self.done(told, view.address)

    def asked(self) -> dict[str, str]:
        """Return what was sent."""
        return {name: self.request.POST.get(name, "") for name in ("path", "query", "name")}

    def back(self, thing):
        asked = self.asked()
        return redirect(
            f"{asked['path']}?{asked['query']}" if keeps_views(asked["path"]) else "board"
        )


class KeptViewEndView(LoginRequiredMixin, Act):
    """Let a view go; it stays open, so that it can be kept again."""

    def keep(self, thing, given):
        view = view_let_go(user=self.request.user, pk=self.kwargs["pk"])
        if view is None:
            return self.done("That view was gone already.", "board")
        told = f"{view.name} is no longer kept. Its filters are open: keep them again if you like."
        return self.done(told, view.address)
