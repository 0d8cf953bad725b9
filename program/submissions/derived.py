"""Columns that a layout adds to a list: parts of the address, and one value on every row."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from program.submissions.tables import Column
from services_inventory.domain.addresses import AddressKind, NormalAddress, normalize

Part = Callable[[NormalAddress], str]


def _house_number(address: NormalAddress) -> str:
    number = f"{address.number}-{address.range_to}" if address.range_to else address.number
    return f"{number} {address.fraction}".strip()


PARTS: Mapping[str, tuple[str, Part]] = {
    "house_number": ("Of the address: number, with fraction or range.", _house_number),
    "street": (
        "Of the address: the street; the whole address where it cannot be split.",
        lambda address: address.street,
    ),
    "pre_direction": (
        "Of the address: direction before the street's name.",
        lambda address: address.pre_direction,
    ),
    "street_name": (
        "Of the address: the street's name; the whole address where it cannot be split.",
        lambda address: address.street_name,
    ),
    "street_type": ("Of the address: St, Ave.", lambda address: address.street_type),
    "post_direction": (
        "Of the address: direction behind the street's name.",
        lambda address: address.post_direction,
    ),
    "unit": ("Of the address: apartment, suite, lot.", lambda address: address.unit),
}
_SPLIT = (AddressKind.STREET, AddressKind.RANGE, AddressKind.FRACTION)
_WHOLE = ("street", "street_name")  # take an address that cannot be split


def parts_of(fields: Iterable[str]) -> tuple[str, ...]:
    """Return the parts that a layout may add to a list with these columns."""
    known = tuple(fields)
    return tuple(key for key in PARTS if key not in known) if "address" in known else ()


def derived_column(key: str, heading: str, constants: Mapping[str, str]) -> Column:
    """Return an added column as it is written."""
    if key in constants:
        return Column(key, heading, "text", 16, f"The same on every row: {constants[key]}")
    return Column(key, heading, "text", 18, PARTS[key][0])


def with_derived(
    rows: Iterable[tuple], at: int | None, keys: Sequence[str], constants: Mapping[str, str]
) -> Iterator[tuple]:
    """Yield each row with the added values behind its own; `at` is the address's place.

    Examples
    --------
    >>> list(with_derived([("12 N Main St Apt 3",)], 0, ["house_number", "state"], {"state": "ZZ"}))
    [('12 N Main St Apt 3', '12', 'ZZ')]
    """
    for row in rows:
        text = (row[at] or "") if at is not None else ""
        address = normalize(text)
        yield (*row, *(constants.get(key) or _part(key, address, text) for key in keys))


def _part(key: str, address: NormalAddress, text: str) -> str:
    if address.kind in _SPLIT:
        return PARTS[key][1](address)
    return text if key in _WHOLE else ""
