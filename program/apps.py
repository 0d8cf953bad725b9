"""Promises on top: the rate, the plan, the annual submission, notices, the public pages."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ProgramConfig(AppConfig):
    name = "program"
    verbose_name = "Replacement program"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        """Keep roles in step with their table."""
        from .roles import sync_roles

        post_migrate.connect(sync_roles, sender=self, dispatch_uid="program.roles")
