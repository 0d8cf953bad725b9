"""Up to five scenarios side by side."""

from django.utils.safestring import mark_safe
from django.views.generic import TemplateView

from program.planning.charts import costs_svg, fan_chart_svg, year_map_svg
from program.queries.planning.pages import plans_shown
from program.queries.planning.side_by_side import MOST, plans_chosen, side_by_side
from program.views.permitted import Permitted
from services_inventory.given import number_given


class PlanSideBySideView(Permitted, TemplateView):
    """Small pictures of several plans, to the same scales; ?plan= once for each."""

    template_name = "program/plan_side_by_side.html"

    def get_context_data(self, **kwargs):
        given = [number_given(one, "Plan") for one in self.request.GET.getlist("plan")]
        numbers = [number for number in given if number is not None]
        plans = plans_chosen(numbers)
        found = side_by_side(plans) if plans else None
        for column in found["columns"] if found else ():
            column["pictures"] = [mark_safe(one) for one in _pictures(column, found)]
        return super().get_context_data(
            found=found,
            chosen=[plan.pk for plan in plans],
            plans=plans_shown(),
            most=MOST,
            left_out=max(0, len(set(numbers)) - MOST),
            **kwargs,
        )


def _pictures(column: dict, found: dict):
    """Our own drawings; every text in them is escaped there."""
    if found["box"]:
        yield year_map_svg(column["spots"], found["box"], "Areas by program year")
    if column["forecast"]:
        yield fan_chart_svg(column["forecast"], "Average rate", found["scale"], width=334)
    yield costs_svg(column["years"], found["years"], found["most"], "Cost by year")
