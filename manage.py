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
    from services_inventory.command_faults import sentence_of

    try:
        execute_from_command_line(sys.argv)
    except BrokenPipeError:  # whoever read the output has enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(1) from None
    except KeyboardInterrupt:
        raise SystemExit("Stopped.") from None
    except Exception as error:
        sentence = sentence_of(error)
        if not sentence:
            raise
        raise SystemExit(sentence) from None


if __name__ == "__main__":
    main()
    # Python would look for garbage in all that was loaded as the process ends: a sixth of a short
    # command's time, for memory that is given back anyway.
    gc.freeze()
