"""Taking files in: reading them, guessing their columns, checking and handing back rows.

The modules here that read, guess, check and write held rows know no database.
"""
