"""The work in the middle: contractors, work orders, tool strings, pulls and their proof."""

from django.apps import AppConfig


class ReplacementsConfig(AppConfig):
    name = "replacements"
    verbose_name = "Replacements"
    default_auto_field = "django.db.models.BigAutoField"
