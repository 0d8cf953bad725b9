"""Pages of the program."""
