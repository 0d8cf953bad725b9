"""The first rows of a file as they would be understood, before anything is checked."""

from collections.abc import Sequence
from datetime import date

from services_inventory.domain.categories import Category
from services_inventory.domain.evidence import Basis
from services_inventory.domain.materials import Connector, Material
from services_inventory.intake.checking import RowChecker
from services_inventory.intake.checking.own import NO_WORDS, OwnWords
from services_inventory.intake.columns import BadColumnMap, ColumnMap

_WORDS = {one.value: one.label for one in (*Material, *Basis)}
_CATEGORIES = {one.value: one.label for one in Category}
_CONNECTORS = {one.value: one.label for one in Connector}
_SIDES = (("system", "system side"), ("customer", "customer side"))
_OTHERS = (
    ("premise_kind", "building"), ("plumbing", "plumbing"), ("treatment", "treatment"),
    ("line_use", "use"), ("city", ""), ("postcode", ""),
)  # fmt: skip


def preview(
    header: Sequence[str],
    rows: Sequence[Sequence],
    columns: ColumnMap,
    as_of: date,
    own: OwnWords = NO_WORDS,
) -> dict:
    """Return what each of the rows would say, or why it would be held.

    Returns
    -------
    dict
        `problem` where the map doesn't fit the file; `rows`, each with its `place`, its `sides`
        as (name, words), what it says besides (`others`), `held` and `left_out` as sentences.
    """
    try:
        checker = RowChecker(columns, header, as_of=as_of, own=own)
    except BadColumnMap as error:
        return {"problem": str(error), "rows": []}
    found = []
    for number, cells in enumerate(rows, start=1):
        checked = checker.check_many([(number, list(cells))])
        said = {name: column[0] for name, column in checked.columns.items() if column}
        found.append(
            {
                "number": number,
                "place": _place(said),
                "sides": [(label, _side(said, side)) for side, label in _SIDES],
                "connector": _CONNECTORS.get(said.get("connector_material") or "", ""),
                "others": _others(said),
                "held": [f"{one.column}: {one.sentence}" for one in checked.problems],
                "left_out": [f"{one.column}: {one.sentence}" for one in checked.notes],
            }
        )
    return {"problem": "", "rows": found}


def _place(said: dict) -> str:
    parts = [said.get("location_id"), said.get("address")]
    if said.get("latitude") is not None:
        parts.append(f"{said['latitude']:.5f}, {said['longitude']:.5f}")
    return " · ".join(str(part) for part in parts if part)


def _side(said: dict, side: str) -> str:
    def get(name):
        return said.get(f"{side}_{name}")

    words = [_WORDS.get(get("material") or "", "")]
    if get("material") and get("material") != "UNKNOWN":
        words.append(f"by {_WORDS.get(get('basis') or 'NOT_STATED', '')}")
    if get("installed_on") or get("installed_year"):
        words.append(f"laid {get('installed_on') or get('installed_year')}")
    if get("diameter_in"):
        words.append(f"{get('diameter_in'):g} in")
    if get("observed_on"):
        words.append(f"seen {get('observed_on')}")
    if get("former_material"):
        words.append(f"{_WORDS.get(get('former_material'), '')} before")
    return ", ".join(filter(None, words))


def _others(said: dict) -> str:
    told = ((label, str(said.get(name) or "")) for name, label in _OTHERS)
    others = [
        f"{label} {words.replace('_', ' ').lower() if label else words}".strip()
        for label, words in told
        if words
    ]
    if category := said.get("category"):
        others.append(f"the file calls it {_CATEGORIES[category]}")
    return "; ".join(others)
