"""Check what must hold across the rows of the record."""

from django.core.management.base import BaseCommand

from ...queries.checks import checks


class Command(BaseCommand):
    """Run every check."""

    help = "Checks that the record agrees with itself; exit code 1 and a sentence where it doesn't."

    def handle(self, *args, **options):
        """Print each breach; end with 1 if there was any."""
        breaches = 0
        for check in checks():
            found = list(check())
            breaches += len(found)
            title = (check.__doc__ or check.__name__).strip().splitlines()[0]
            self.stdout.write(f"{'breach' if found else 'holds '}  {title}")
            for sentence in found:
                self.stdout.write(f"        {sentence}")
        if breaches:
            raise SystemExit(1)
