"""Reads of the work, and the record put into the domain's own terms."""
