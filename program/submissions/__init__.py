"""The annual submission: what is said, in which files, and the recount that checks it."""
