"""Sheets for the truck and the pit: one page each, large enough for gloves and rain."""
