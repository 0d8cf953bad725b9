"""The unit behind its address, once. Constructed."""

import pytest

from services_inventory.domain.addresses.written import with_unit


@pytest.mark.parametrize(
    ("address", "unit", "written"),
    [
        ("12 Mill St", "", "12 Mill St"),
        ("12 Mill St", "APT 3", "12 Mill St APT 3"),
        ("12 Mill St, Apt 3", "APT 3", "12 Mill St, Apt 3"),
        ("13 Mill St", "3", "13 Mill St 3"),
        ("", "APT 3", "APT 3"),
    ],
)
def test_the_unit_stands_once(address, unit, written):
    assert with_unit(address, unit) == written
