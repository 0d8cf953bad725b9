"""How days and times are written on English pages."""
