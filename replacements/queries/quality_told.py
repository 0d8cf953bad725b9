"""What a record says of tests, flushing and handing over, in words for who reviews it."""

from collections.abc import Iterable
from datetime import date

from services_inventory.domain.days import day_told

from ..domain.completion import disinfection_words
from ..models import CompletionRecord

_HEADINGS = {
    "pressure_test": "Pressure test",
    "tracer": "Tracer wire",
    "depths_ft": "Cover, ft",
    "found_in": "Size found, in.",
    "disinfection": "Disinfection",
    "crew_flush": "Flushed by the crew",
    "premise_flush": "Flushed in the house",
    "lead": "Lead",
    "household": "Household",
}
_PLAIN = {
    "static_psi": "Static pressure",
    "leading_outside_in": "Leading end, outside",
    "cut_off_ft": "Gripped end cut off",
    "bonding_checked": "Electrical ground checked",
    "restored_on": "Ground put back",
    "returned_to_service_on": "Water returned",
}
# Longest ending first: what a name ends in is its unit.
_UNITS = {
    "_mg_l": "mg/L", "_ft_s": "ft/s", "_months": "months", "_psi": "psi", "_ohm": "ohm",
    "_ft": "ft", "_in": "in.", "_lb": "lb", "minutes": "min", "hours": "h", "_on": "",
}  # fmt: skip


def quality_told(record: CompletionRecord) -> list[tuple[str, str]]:
    """Return (heading, words) of each part of the quality record that was filled in."""
    quality = record.quality
    told = [
        (heading, "; ".join(_parts(quality[name])))
        for name, heading in _HEADINGS.items()
        if quality.get(name)
    ]
    told += [
        (heading, _value(name, quality[name]))
        for name, heading in _PLAIN.items()
        if quality.get(name) not in (None, "", False)
    ]
    return [(heading, words) for heading, words in told if words]


def _parts(values: dict) -> Iterable[str]:
    for name, value in values.items():
        if value is None or value == "":
            continue
        if name == "method":
            yield disinfection_words(value)
        elif isinstance(value, bool):
            yield f"{_words(name)}: {'yes' if value else 'no'}"
        else:
            yield f"{_words(name)} {_value(name, value)}".strip()


def _ending(name: str) -> str:
    return next((ending for ending in _UNITS if name.endswith(ending)), "")


def _words(name: str) -> str:
    ending = _ending(name)
    return name.removesuffix(ending).replace("_", " ").strip().lower()


def _value(name: str, value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name.endswith("_on"):
        return day_told(date.fromisoformat(value))
    shown = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{shown} {_UNITS.get(_ending(name), '')}".strip()
