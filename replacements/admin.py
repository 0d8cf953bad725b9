"""Accounts: contractors, their crews, and which company a user works for."""

from django.contrib import admin

from .models import Contractor, Crew, Membership


class CrewInline(admin.TabularInline):
    """The crews of a contractor."""

    model = Crew
    extra = 0


@admin.register(Contractor)
class ContractorAdmin(admin.ModelAdmin):
    """A company; one that has work is set inactive, not deleted."""

    list_display = ("name", "active", "phone", "email")
    inlines = (CrewInline,)

    def has_delete_permission(self, request, obj=None):
        """Never: work orders name it."""
        return False


@admin.register(Membership)
class MembershipAdmin(admin.ModelAdmin):
    """Which company's work a user sees; nobody without one sees any contractor's page."""

    list_display = ("user", "contractor")
