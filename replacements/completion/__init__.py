"""Reading what a contractor hands in: photos, logs, filled forms, a bundle of all of them."""
