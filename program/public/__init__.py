"""The inventory as anybody may see it, without an account (40 CFR 141.84(a), public access)."""
