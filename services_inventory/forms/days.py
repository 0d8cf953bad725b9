"""Asking for a past day."""

from datetime import datetime, time, timedelta
from urllib.parse import urlencode

from django import forms
from django.utils import timezone

from services_inventory.domain.days import day_told


def day_field(label: str, required: bool = True, help_text: str = "") -> forms.DateField:
    """Return a field for one day, with a sentence for what is none."""
    return forms.DateField(
        label=label,
        required=required,
        help_text=help_text,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "This is no day of the calendar; write it like 2030-12-31."},
    )


def end_of(day) -> datetime:
    """Return the last moment of a day (aware, this system's time zone)."""
    return timezone.make_aware(datetime.combine(day, time.max))


class PastDayForm(forms.Form):
    """A past day, and by which day something about it was known."""

    on = day_field("At the end of", required=False)
    known = day_field("As was known on (empty: today)", required=False)

    def __init__(self, data, *, today):
        """Keep the latest day that can be asked for."""
        super().__init__(data)
        self.today = today

    def clean_on(self):
        """Refuse a day to come."""
        return self._past("on")

    def clean_known(self):
        """Refuse a day to come."""
        return self._past("known")

    def _past(self, name: str):
        day = self.cleaned_data[name]
        if day and day > self.today:
            raise forms.ValidationError(
                f"{day_told(day)} has not come yet; ask for a day up to {day_told(self.today)}."
            )
        return day

    def days(self, now: datetime) -> dict:
        """Return what reads of a past day take: {day, known_at}."""
        known = self.cleaned_data["known"]
        return {
            "day": self.cleaned_data["on"],
            "known_at": min(end_of(known), now + timedelta(days=1)) if known else None,
        }


class CountsForm(PastDayForm):
    """Which day to count for, and what was known by which day."""

    on = day_field("Counts of the end of")

    def name(self) -> str:
        """Return the days as a file's name has them."""
        known = self.cleaned_data["known"]
        return f"{self.cleaned_data['on']}" + (f"_known_{known}" if known else "")

    def query(self) -> str:
        """Return the query part of this page's address."""
        return urlencode({k: v for k, v in self.cleaned_data.items() if v})
