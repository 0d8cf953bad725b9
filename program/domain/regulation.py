"""The values the program computes by, together with those of the inventory below it."""

from fractions import Fraction
from functools import cache
from pathlib import Path

from services_inventory.domain.regulation import Rules, inventory_rules, load

FOLDER = Path(__file__).resolve().parent.parent / "regulation"


@cache
def program_rules() -> Rules:
    """The federal values of the program and the inventory; lay overrides over them as needed."""
    return inventory_rules() | load(FOLDER)


RULES = program_rules()


def exact(number: object) -> Fraction:
    """Return a number as it is written, so that 0.1 is one tenth and not its binary neighbor.

    Raises
    ------
    ValueError: the text is not a finite number.
    """
    if isinstance(number, float) or not isinstance(number, int | Fraction):
        try:
            return Fraction(str(number))
        except (ValueError, ZeroDivisionError) as error:
            raise ValueError(f"{number!r} is not a number that can be counted with.") from error
    return Fraction(number)
