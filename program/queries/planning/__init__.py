"""Reads behind the plan: the open pool, what is known of unknown lines, drawn plans and boards."""
