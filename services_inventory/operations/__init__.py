"""Everything that writes the record, one named operation each."""
