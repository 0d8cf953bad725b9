"""How what takes long tells how far it is."""

from collections.abc import Callable

Report = Callable[[int, int], None]  # hears how much is done, and of how much
