"""The first rows of a file as they would be understood, before anything is checked."""

from collections.abc import Callable, Sequence
from datetime import date

from services_inventory.domain.categories import Category
from services_inventory.domain.days import day_told
from services_inventory.domain.evidence import Basis
from services_inventory.domain.materials import Connector, Material
from services_inventory.domain.plumbing import Plumbing, Treatment
from services_inventory.intake.checking import RowChecker
from services_inventory.intake.checking.own import NO_WORDS, OwnWords
from services_inventory.intake.columns import BadColumnMap, ColumnMap, made_of
from services_inventory.models.lines import LineUse
from services_inventory.models.places import PremiseKind

_WORDS = {one.value: one.label for one in (*Material, *Basis)}
_CATEGORIES = {one.value: one.label for one in Category}
_CONNECTORS = {one.value: one.label for one in Connector}
_CODES = {
    code: str(label)
    for code, label in (
        *PremiseKind.choices, *LineUse.choices,
        *((one.value, one.label) for one in (*Plumbing, *Treatment)),
    )
}  # fmt: skip
_SIDES = (("system", "system side"), ("customer", "customer side"))
_OTHERS = (
    ("premise_kind", "building"), ("plumbing", "plumbing"), ("treatment", "treatment"),
    ("line_use", "use"), ("city", ""), ("postcode", ""),
)  # fmt: skip


def preview(
    header: Sequence[str],
    rows: Sequence[tuple[int, Sequence]],
    columns: ColumnMap,
    as_of: date,
    own: Callable[[list[str]], OwnWords] = lambda headings: NO_WORDS,
) -> dict:
    """Return what each of the rows would say, or why it would be held.

    Returns
    -------
    dict
        `problem` where the map doesn't fit the file; `rows`, each with its `place`, its `sides`
        as (name, words), what it says besides (`others`), `held` and `left_out` as sentences.
    """
    try:
        own_here = own(made_of(columns, header).header)
        checker = RowChecker(columns, header, as_of=as_of, own=own_here)
    except BadColumnMap as error:
        return {"problem": str(error), "rows": []}
    found = []
    for number, cells in rows:
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
    return {"problem": "", "rows": found, "words": _words(checker)}


def _words(checker: RowChecker) -> list[str]:
    """Return the words that nobody has told of yet, each once."""
    return list(dict.fromkeys(one["word"] for one in checker.unread.told()))


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
        known = get("basis") or "NOT_STATED"
        stated = known != "NOT_STATED"
        words.append(f"by {_WORDS.get(known, '')}" if stated else "not stated how known")
    if get("installed_on") or get("installed_year"):
        laid = get("installed_on")
        words.append(f"laid {day_told(laid) if laid else get('installed_year')}")
    if get("diameter_in"):
        words.append(f"{get('diameter_in'):g} in")
    if get("observed_on"):
        words.append(f"seen {day_told(get('observed_on'))}")
    if get("former_material"):
        words.append(f"{_WORDS.get(get('former_material'), '')} before")
    return ", ".join(filter(None, words))


def _others(said: dict) -> str:
    told = ((label, str(said.get(name) or "")) for name, label in _OTHERS)
    others = [f"{label} {_CODES.get(words, words)}".strip() for label, words in told if words]
    if category := said.get("category"):
        others.append(f"the file calls it {_CATEGORIES[category]}")
    return "; ".join(others)
