"""The plan: which area, which program year, which crew, and how likely it is to hold.

Every module here computes on plain dataclasses: no database, no clock, no request. Heavy libraries
are imported inside the functions that use them, so that starting the program stays cheap.
"""
