"""The address of devices: work orders out, tool strings, pulls, photos and records in."""
