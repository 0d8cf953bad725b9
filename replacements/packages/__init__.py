"""What a contractor carries away from a work package: print pack, record form, map files."""
