"""Writes of the work: orders, access, tools, pulls, completion. Import from the module named."""
