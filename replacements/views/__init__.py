"""Pages of the work: thin, permission first, objects only within what the user may see."""
