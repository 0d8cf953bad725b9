"""Who may open a page: checked before anything is looked up."""

from django.contrib.auth.mixins import PermissionRequiredMixin


class Permitted(PermissionRequiredMixin):
    """Nobody is sent to sign in; somebody is told that their role doesn't do this."""

    permission_required = "services_inventory.view_serviceline"

    def handle_no_permission(self):
        """Refuse a signed-in user outright instead of asking them to sign in again."""
        self.raise_exception = self.request.user.is_authenticated
        return super().handle_no_permission()
