"""Which columns say something of a person, and which are secrets: read from the list."""

from services_inventory.domain.reference import toml_of


def _said() -> dict[str, dict]:
    return toml_of("program", "personal_columns.toml")


def personal_columns() -> dict[str, list[str]]:
    """Return the columns that say something of a resident, by the table's label."""
    return _said()["resident"]


def secret_columns() -> dict[str, list[str]]:
    """Return the columns that let somebody in, by the table's label."""
    return _said()["secret"]


def pages_of_residents() -> dict[str, str]:
    """Return the pages that name residents, by the name of their address, with what each is of."""
    return _said()["opened"]


def erased_columns() -> dict[str, list[str]]:
    """Return the columns that are erased on request, by the table's label."""
    return _said()["erased"]
