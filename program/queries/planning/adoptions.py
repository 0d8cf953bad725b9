"""Which plan was in force on a day."""

from datetime import date

from django.utils.timezone import localdate

from program.models import PlanAdoption


def adoption_on(day: date) -> PlanAdoption | None:
    """Return the latest adoption up to a day, if it was not taken back by then."""
    made = PlanAdoption.objects.select_related("plan").filter(adopted_at__date__lte=day)
    for one in made.order_by("-adopted_at"):
        if one.undone_at is None or localdate(one.undone_at) > day:
            return one
    return None
