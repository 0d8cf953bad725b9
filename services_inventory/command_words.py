"""What is typed behind a command: read, or refused in a sentence."""

import argparse
from collections.abc import Callable
from datetime import date
from math import isfinite

from django.contrib.auth import get_user_model
from django.core.management import CommandError

from services_inventory.domain.days import day_told

from .today import today

COMMAND_LINE = "command line"  # whom a change is put down to where no account is named


def past_day(text: str) -> date:
    """Return the day that was typed, or answer that it is none or has not come."""
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"{text[:40]!r} is no day; write it like 2029-12-31.") from error
    if day > today():
        raise CommandError(
            f"{day_told(day)} has not come yet; ask for a day up to {day_told(today())}."
        )
    return day


def account(name: str) -> str:
    """Return the name of an account, or answer that there is none of that name."""
    users = get_user_model().objects
    if name != COMMAND_LINE and ("\0" in name or not users.filter(username=name).exists()):
        raise CommandError(
            f"No account is called {name[:60]!r}. Name one, or leave --by out: then the record "
            f"says “{COMMAND_LINE}”."
        )
    return name


def at_most(characters: int) -> Callable[[str], str]:
    """Return a reader of texts of so many characters."""

    def read(text: str) -> str:
        if len(text) > characters:
            raise argparse.ArgumentTypeError(
                f"it has {len(text)} characters; write at most {characters}"
            )
        return text

    return read


def number_from(least: float, most: float) -> Callable[[str], float]:
    """Return a reader of numbers within limits."""

    def read(text: str) -> float:
        try:
            number = float(text)
        except ValueError:
            number = float("nan")
        if not (isfinite(number) and least <= number <= most):
            raise argparse.ArgumentTypeError(
                f"{text[:40]!r}; write a number from {least:g} to {most:g}"
            )
        return number

    return read
