"""Who may open a page of the program."""

from django.contrib.auth.mixins import PermissionRequiredMixin


class Permitted(PermissionRequiredMixin):
    """Nobody is sent to sign in; somebody whose role doesn't do this is told so."""

    permission_required = "program.view_boards"

    def handle_no_permission(self):
        """Send nobody to sign in; refuse somebody."""
        self.raise_exception = self.request.user.is_authenticated
        return super().handle_no_permission()
