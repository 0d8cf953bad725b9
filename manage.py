#!/usr/bin/env python
"""Run a management command of the program."""

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
    from django.db.utils import OperationalError, ProgrammingError

    try:
        execute_from_command_line(sys.argv)
    except (OperationalError, ProgrammingError) as error:
        text = str(error)
        if "no such table" in text or ("relation" in text and "does not exist" in text):
            raise SystemExit(
                "The database is not set up yet, or is of an older version. "
                "Run: python manage.py migrate"
            ) from None
        raise


if __name__ == "__main__":
    main()
