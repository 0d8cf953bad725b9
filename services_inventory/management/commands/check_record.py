"""Check what must hold across the rows of the record."""

from django.core.management.base import BaseCommand

from ...queries.checks import breaches_of, checks
from ...today import today


class Command(BaseCommand):
    """Run every check."""

    help = "Checks that the record agrees with itself; exit code 1 and a sentence where it doesn't."

    def add_arguments(self, parser):
        parser.add_argument(
            "--in-turn",
            action="store_true",
            help="of seals, watched rows and documents, the newest and one older part in turn",
        )

    def handle(self, *args, **options):
        """Print each breach; end with 1 if there was any."""
        breaches, night = 0, today().toordinal() if options["in_turn"] else None
        for check in checks():
            found = breaches_of(check, night)
            breaches += len(found)
            title = (check.__doc__ or check.__name__).strip().splitlines()[0]
            self.stdout.write(f"{'breach' if found else 'holds '}  {title}")
            for sentence in found:
                self.stdout.write(f"        {sentence}")
        if breaches:
            raise SystemExit(1)
