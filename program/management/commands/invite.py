"""Let somebody in from the command line: the first administrator, or who lost every way in."""

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from program.clock import now
from program.operations.people import Account, account_invite, account_link, second_step_reset
from program.roles import ADMINISTRATOR, CONTRACTOR, ROLES
from services_inventory.command_words import COMMAND_LINE
from services_inventory.refused import Refused


class Command(BaseCommand):
    """Make an account, or give an existing one a new link."""

    help = "Lets somebody in and prints the link by which they set a password."

    def add_arguments(self, parser):
        staff = [role for role in ROLES if role != CONTRACTOR]
        parser.add_argument("name", metavar="NAME", help="name to sign in with, such as j.osei")
        parser.add_argument("--full-name", default="", metavar="NAME", help="of a new account")
        parser.add_argument(
            "--role", default=ADMINISTRATOR, metavar="ROLE",
            help=f"of a new account: {', '.join(staff)} (an administrator by default)",
        )  # fmt: skip

        parser.add_argument(
            "--reset-second-step", action="store_true",
            help="for an administrator who lost the telephone and the recovery codes",
        )  # fmt: skip

    def handle(self, *args, **options):
        """Print the link, from the address that people open where it is set."""
        name = options["name"]
        try:
            user = get_user_model().objects.filter(username=name).first() or account_invite(
                username=name, by=COMMAND_LINE, at=now(),
                asked=Account(options["full_name"] or name, options["role"]),
            )  # fmt: skip
            if options["reset_second_step"]:
                why = "from the command line of the machine"
                second_step_reset(user=user, reason=why, by=COMMAND_LINE, at=now())
            path = account_link(user=user, by=COMMAND_LINE, at=now())
        except Refused as error:
            raise CommandError(str(error)) from error
        site = _site()
        where = "" if site else " behind the address that people open, http://localhost:8000 or so"
        self.stdout.write(f"Open this link within three days{where}: {site}{path}")


def _site() -> str:
    """Return the address that people open, as the settings have it; empty where they don't."""
    origins = (origin for origin in settings.CSRF_TRUSTED_ORIGINS if "*" not in origin)
    return next(origins, "").rstrip("/")
