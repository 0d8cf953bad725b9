"""An address as it is written on a line: the street with its unit, once."""


def with_unit(address: str, unit: str) -> str:
    """Return an address with its unit behind it, unless it stands there already.

    Examples
    --------
    >>> with_unit("12 Mill St", "APT 3")
    '12 Mill St APT 3'
    >>> with_unit("12 Mill St Apt 3", "APT 3")
    '12 Mill St Apt 3'
    """
    if not unit or f" {address}".casefold().endswith(f" {unit.casefold()}"):
        return address
    return f"{address} {unit}".strip()
