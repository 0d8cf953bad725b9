"""Everything that reads the record."""
