"""Force estimates of an order: the same inputs, rules and refusals as its page."""

from rest_framework.exceptions import ValidationError
from rest_framework.response import Response

from services_inventory.today import now

from ...forms.pulls import EstimateForm
from ...operations.pulls import EstimateRefused, estimate_make
from ..base import PagesView
from ..described import Described, lists, writes
from ..estimates import EstimateInSerializer, EstimateSerializer
from ..problems import Problem


class EstimateList(PagesView):
    """Force estimates of an order's latest tool string."""

    schema = Described()

    @lists(EstimateSerializer, "Force estimates of an order")
    def get(self, request, pk: int):
        """Return a page of estimates, the newest first."""
        return self.page(self.order(pk).estimates.all(), EstimateSerializer)

    @writes(EstimateInSerializer, EstimateSerializer, "Estimate the force of an order's pull")
    def post(self, request, pk: int):
        """Estimate from what is known now and what is sent, and keep it with its inputs."""
        order, given = self.order(pk), self.taken(EstimateInSerializer)
        form = _form(order, given)
        return self.once(lambda: self._estimate(order, form))

    def _estimate(self, order, form: EstimateForm) -> Response:
        self.fresh(order)
        by = self.request.user.get_username()
        try:
            made = estimate_make(work_order=order, by=by, at=now(), **form.given())
        except (EstimateRefused, ValueError) as error:
            raise Problem(422, "estimate-refused", str(error)) from error
        return Response(EstimateSerializer(made).data, status=201)


def _form(order, given: dict) -> EstimateForm:
    """Return the page's form, filled; what it does not take is refused field by field."""
    measured = given.pop("measured", {})
    form = EstimateForm.asked_of(order, {**given, **measured})
    known = {field.name for field in form.measurable}
    strange = sorted(set(measured) - known)
    if strange:
        asked = ", ".join(sorted(known)) or "nothing"
        raise ValidationError(
            {"measured": [f"For this order there is no {strange[0][:40]}; there is: {asked}."]}
        )
    if not form.is_valid():
        raise ValidationError({
            name if name in given else "measured": [f"{form.fields[name].label}: {' '.join(said)}"]
            for name, said in form.errors.items()
        })  # fmt: skip
    return form
