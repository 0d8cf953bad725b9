"""Promises on top: the rate, the plan, the annual submission, notices, the public pages."""

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.core.checks import register
from django.db.models.signals import post_migrate, pre_save


class ProgramConfig(AppConfig):
    name = "program"
    verbose_name = "Replacement program"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        """Keep roles in step with their table, names as they are; meet who signs in."""
        from .doors import opened
        from .own_writes import note_own_writes
        from .replicas import acts_may_be_lost
        from .roles import name_stays, sync_roles

        note_own_writes()
        register(acts_may_be_lost, deploy=True)
        post_migrate.connect(sync_roles, sender=self, dispatch_uid="program.roles")
        pre_save.connect(name_stays, sender="auth.User", dispatch_uid="program.names")
        user_logged_in.connect(opened, dispatch_uid="program.doors")
