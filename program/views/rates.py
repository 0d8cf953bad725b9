"""The rate and pool page, the frozen pools' line lists, and freezing what is due."""

from datetime import date

from django.shortcuts import get_object_or_404
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.models import PoolFreeze
from program.operations.pools import pool_freeze, pools_freeze_due
from program.queries.pools import frozen_list
from program.queries.rates import counts_on, rate_on
from services_inventory.forms.days import PastDayForm
from services_inventory.sending import csv_streamed

from .acts import Act
from .permitted import Permitted


class RateView(Permitted, TemplateView):
    """Pool, replaced, annual and cumulative rate by program year, on today or a past day."""

    template_name = "program/rate.html"

    def get_context_data(self, **kwargs):
        """Give the rate on the day asked for, as was known on another."""
        current, asked = today(), self.request.GET
        said = {"on": asked.get("on") or current, "known": asked.get("known", "")}
        form = PastDayForm(said, today=current)
        when = form.days(now()) if form.is_valid() else {"day": current, "known_at": None}
        day, known_at = when["day"], when["known_at"]
        rate = rate_on(day, counts_on(day, current, known_at), known_at)
        return super().get_context_data(
            rate=rate,
            day=day,
            form=form,
            known=known_at and form.cleaned_data["known"],
            is_today=day == current and known_at is None,
            missing=[row.number for row in rate.years if row.frozen is None],
            **kwargs,
        )


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None


_LISTED = ("Location id", "Address", "Category on the first day", "On the list as")


class PoolListView(Permitted, View):
    """A frozen pool's line list as CSV, whose location ids give the pool's SHA-256."""

    def get(self, request, number):
        freeze = get_object_or_404(PoolFreeze, program_year=number)
        return csv_streamed(f"pool_year_{number:02d}", _LISTED, frozen_list(freeze))


class PoolFreezeView(Act):
    """Freeze every pool whose program year has begun, and say what was frozen."""

    permission_required, page = "program.manage_program", "rate"

    def keep(self, thing, given):
        day = _day(self.request.POST.get("baseline_day"))
        made = []
        if day:
            made = [pool_freeze(program_year=1, baseline_day=day, **self.signed())]
        made += pools_freeze_due(as_of=today(), **self.signed())
        names = "; ".join(f"program year {p.program_year}: {p.size:,} lines" for p in made)
        return f"Frozen: {names or 'nothing was due'}."
