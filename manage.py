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
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
