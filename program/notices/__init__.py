"""Notices: what each must say, and the letters that say it."""
