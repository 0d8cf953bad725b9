"""The tables shipped in each app's `reference/`, read once; nobody alters what they give."""

import csv
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


def _text(app: str, name: str) -> str:
    return (ROOT / app / "reference" / name).read_text(encoding="utf-8")


@cache
def toml_of(app: str, name: str) -> dict[str, Any]:
    """Return what a shipped TOML file of an app holds."""
    return tomllib.loads(_text(app, name))


@cache
def rows_of(app: str, name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a shipped CSV file of an app, as text."""
    return tuple(csv.DictReader(_text(app, name).splitlines(keepends=True)))
