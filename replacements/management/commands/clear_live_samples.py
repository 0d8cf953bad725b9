"""Remove the samples of live pulls that no log was made of, after their days."""

from django.core.management.base import BaseCommand

from services_inventory.today import now

from ...operations.pulls import live_samples_clear


class Command(BaseCommand):
    """What the night does with samples that nobody kept."""

    help = "Removes samples of live pulls that no log was made of (live_keep_days after the last)."

    def handle(self, *args, **options):
        removed = live_samples_clear(at=now())
        self.stdout.write(f"{removed:,} samples removed; their feeds keep figures and trace.")
