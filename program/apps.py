"""Promises on top: the rate, the plan, the annual submission, notices, the public pages."""

from django.apps import AppConfig
from django.db.models.signals import post_delete, post_migrate, post_save


class ProgramConfig(AppConfig):
    name = "program"
    verbose_name = "Replacement program"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        """Keep roles in step with their table, and what a request read with what it writes."""
        from .asked_once import forget
        from .models import OwnValue, Utility
        from .roles import sync_roles

        post_migrate.connect(sync_roles, sender=self, dispatch_uid="program.roles")
        for model in (Utility, OwnValue):
            post_save.connect(forget, sender=model, dispatch_uid="program.forget")
            post_delete.connect(forget, sender=model, dispatch_uid="program.forget")
