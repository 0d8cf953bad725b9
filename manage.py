#!/usr/bin/env python
"""Run a management command of the program."""

import gc
import os
import sys


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError as error:
        raise SystemExit(
            "Django is not installed in this Python. Set up the virtual environment first; "
            "README.md has the one-line command."
        ) from error
    from django.core.exceptions import ImproperlyConfigured
    from django.db.utils import InterfaceError, OperationalError, ProgrammingError

    from services_inventory.domain.regulation import RegulationError

    try:
        execute_from_command_line(sys.argv)
    except (ImproperlyConfigured, RegulationError) as error:
        raise SystemExit(str(error)) from None
    except (InterfaceError, OperationalError, ProgrammingError) as error:
        text = str(error)
        if "no such table" in text or ("relation" in text and "does not exist" in text):
            raise SystemExit(
                "The database is not set up yet, or is of an older version. "
                "Run: python manage.py migrate"
            ) from None
        from services_inventory.database_away import database_away

        sentence = database_away(error)
        if sentence:
            raise SystemExit(
                f"{text.strip()}\n{sentence}\nDATABASE_URL says which database is meant; "
                "docs/deploy.md, where to look first."
            ) from None
        raise


if __name__ == "__main__":
    main()
    # Python would look for garbage in all that was loaded as the process ends: a sixth of a short
    # command's time, for memory that is given back anyway.
    gc.freeze()
