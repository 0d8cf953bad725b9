"""How days and times are written on pages; Spanish pages take Django's own forms."""
