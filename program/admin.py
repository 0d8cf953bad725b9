"""Accounts: the utility's particulars, people, and what they belong to."""

from django.contrib import admin

from .models import Utility


@admin.register(Utility)
class UtilityAdmin(admin.ModelAdmin):
    """The one water system of this program; a scenario's clock is not set here."""

    exclude = ("clock_stands_at",)
    list_display = ("name", "pwsid", "state", "population", "connections")

    def has_add_permission(self, request):
        """Allow the first only."""
        return super().has_add_permission(request) and not Utility.objects.exists()

    def has_delete_permission(self, request, obj=None):
        """Never: everything filed names it."""
        return False
