"""The guides in `docs/` as pages under Help, built by MkDocs in a theme of the house's own."""
