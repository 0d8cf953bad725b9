"""Days and hours as US utilities write them; `date` without an argument uses it everywhere."""

DATE_FORMAT = "M j, Y"
DATETIME_FORMAT = "M j, Y, H:i"
TIME_FORMAT = "H:i"
