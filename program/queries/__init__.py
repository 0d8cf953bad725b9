"""Reads across the inventory and the work: rates, pools, deadlines, submissions, boards."""
