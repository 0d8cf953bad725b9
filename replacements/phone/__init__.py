"""The work on a phone: one order a screen, with or without a network."""
