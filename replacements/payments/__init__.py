"""Quantities of accepted work, what they are paid, and the statement of a period."""
