"""The same command, as some offices spell it."""

from services_inventory.management.commands.neighborhoods import Command

__all__ = ["Command"]
