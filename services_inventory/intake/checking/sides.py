"""What a row says of both sides of a line at once, given to each side."""

from datetime import date

from services_inventory.domain.days import day_told
from services_inventory.intake.checking.batches import Findings

SIDES = ("system", "customer")


def shared_among_sides(columns: dict[str, list]) -> dict[str, list]:
    """Give what both sides share to each, split installed into year and day."""
    shared_source = columns.pop("source", None), columns.pop("source_words", None)
    shared_installed = columns.pop("year_installed", None)
    shared_observed = columns.pop("observed_on", None)
    shared_size = columns.pop("diameter_in", None)
    _answered(columns)
    _verified(columns, ("system", "customer"))
    for side in SIDES:
        _fill(columns, f"{side}_basis", shared_source[0])
        _fill(columns, f"{side}_words", shared_source[1])
        _fill(columns, f"{side}_observed_on", shared_observed)
        _fill(columns, f"{side}_diameter_in", shared_size)
        found = columns.pop(f"{side}_installed", None)
        if found is not None and shared_installed is not None:
            pairs = zip(found, shared_installed, strict=True)
            found = [own if own.year else both for own, both in pairs]
        found = found or shared_installed
        if found is not None:
            columns[f"{side}_installed_year"] = [when.year for when in found]
            columns[f"{side}_installed_on"] = [when.on for when in found]
    _fill(columns, "connector_basis", shared_source[0])
    _fill(columns, "connector_words", shared_source[1])
    for name in (*SIDES, "connector"):
        if f"{name}_words" in columns:
            columns[f"{name}_source"] = columns.pop(f"{name}_words")
    return columns


def _verified(columns: dict[str, list], sides: tuple[str, ...]) -> None:
    """Let a field verification stand for how a side is known, where one was made."""
    both = columns.pop("verified_by", None), columns.pop("verified_by_words", None)
    for side in sides:
        found = columns.pop(f"{side}_verified_by", None)
        words = columns.pop(f"{side}_verified_by_words", None)
        for by, said in ((found, words), both):
            if by is not None:
                _prefer(columns, f"{side}_basis", f"{side}_words", by, said)


def _prefer(columns: dict[str, list], basis: str, words: str, by: list, said: list | None) -> None:
    empty = [""] * len(by)
    known, known_words = columns.get(basis, empty), columns.get(words, empty)
    seen = [one not in ("", "NOT_STATED") for one in by]
    columns[basis] = [n if s else k or n for n, k, s in zip(by, known, seen, strict=True)]
    pairs = zip(said or empty, known_words, seen, strict=True)
    columns[words] = [n if s else k or n for n, k, s in pairs]


# Yes to lead solder, beside what is known of the pipe inside.
_SOLDERED = {"": "COPPER_LEAD_SOLDER", "COPPER": "COPPER_LEAD_SOLDER"}
_SOLDERED |= {"GALVANIZED": "GALVANIZED_AND_SOLDER"}


def _answered(columns: dict[str, list]) -> None:
    """Turn what was answered with yes or no into what it says of a portion or a place."""
    for side in SIDES:
        found = columns.pop(f"{side}_was_lead", None)
        if found is not None:
            lead = [one if one == "LEAD" else "" for one in found]
            _fill(columns, f"{side}_former_material", lead)
    for name in ("lead_connector", "connector_present"):
        _fill(columns, "connector_material", columns.pop(name, None))
    solder = columns.pop("lead_solder", None)
    if solder is not None:
        pipes = columns.get("plumbing") or [""] * len(solder)
        columns["plumbing"] = [
            _SOLDERED.get(pipe, pipe) if one == "YES" else pipe
            for pipe, one in zip(pipes, solder, strict=True)
        ]


def _fill(columns: dict[str, list], name: str, shared: list | None) -> None:
    if shared is None:
        return
    own = columns.get(name)
    columns[name] = shared if own is None else [a or b for a, b in zip(own, shared, strict=True)]


def check_order_of_days(columns: dict[str, list], findings: Findings) -> None:
    """Hold rows in which a side was seen before it was laid; a year begins on its first day."""
    for side in SIDES:
        seen = columns.get(f"{side}_observed_on")
        years, laid = (columns.get(f"{side}_installed_{name}") for name in ("year", "on"))
        if years is None or seen is None or not any(seen):
            continue
        for at, seen_on in enumerate(seen):
            laid_on = seen_on and (laid[at] or years[at] and date(years[at], 1, 1))
            if laid_on and seen_on < laid_on:
                when = day_told(laid[at]) if laid[at] else years[at]
                why = (
                    f"The {side} side was seen on {day_told(seen_on)}, before it was laid ({when})."
                )
                findings.add(at, "", None, why)
