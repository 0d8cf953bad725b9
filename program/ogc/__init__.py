"""OGC API - Features, Part 1: Core (OGC 17-069r4), over the inventory."""
