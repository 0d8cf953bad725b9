"""The rate and pool page, the frozen pools' line lists, and freezing what is due."""

from datetime import date

from django.contrib import messages
from django.http import StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.models import PoolFreeze
from program.operations.pools import PoolError, pool_freeze, pools_freeze_due
from program.queries.pools import frozen_list
from program.queries.rates import counts_on, rate_on
from services_inventory.domain.formulas import csv_pieces
from services_inventory.forms.days import PastDayForm

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


def _day(text: str | None, otherwise: date | None) -> date | None:
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return otherwise


_LISTED = ("Location id", "Address", "Category on the first day", "On the list as")


class PoolListView(Permitted, View):
    """A frozen pool's line list as CSV, whose location ids give the pool's SHA-256."""

    def get(self, request, number):
        freeze = get_object_or_404(PoolFreeze, program_year=number)
        return StreamingHttpResponse(
            csv_pieces(_LISTED, frozen_list(freeze)),
            content_type="text/csv; charset=utf-8",
            headers={"Content-Disposition": f'attachment; filename="pool_year_{number:02d}.csv"'},
        )


class PoolFreezeView(Permitted, View):
    """Freeze every pool whose program year has begun."""

    permission_required = "program.manage_program"

    def post(self, request):
        """Freeze, and say what was frozen."""
        said = {"by": request.user.get_username(), "at": now()}
        day = _day(request.POST.get("baseline_day"), None)
        made = []
        try:
            if day:
                made = [pool_freeze(program_year=1, baseline_day=day, **said)]
            made += pools_freeze_due(as_of=today(), **said)
        except PoolError as error:
            messages.error(request, str(error))
        else:
            names = "; ".join(f"program year {p.program_year}: {p.size:,} lines" for p in made)
            messages.success(request, f"Frozen: {names or 'nothing was due'}.")
        return redirect("rate")
