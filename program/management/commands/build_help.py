"""The guides of `docs/`, built into the pages under Help."""

from django.conf import settings
from django.core.management.base import BaseCommand

from program.help.building import build_help


class Command(BaseCommand):
    """Build the guides."""

    help = "Builds the guides in docs/ into the pages under Help."
    requires_system_checks: list[str] = []

    def handle(self, *args, **options):
        """Build them where the web server looks for them."""
        build_help(settings.HELP_DIR)
        self.stdout.write("The guides are built; they stand under Help.")
