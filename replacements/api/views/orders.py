"""Work orders out; a safe start in."""

from drf_spectacular.utils import OpenApiParameter
from rest_framework.exceptions import NotFound
from rest_framework.response import Response

from services_inventory.today import now, today

from ...domain.safety import JobSafety
from ...models import WorkOrder
from ...operations.pulls import PullRefused, StartRefused, pull_start
from ...queries.stored import findings_kept
from ..base import DeviceView, PagesView
from ..described import Described, lists, reads, writes
from ..from_facts import facts_back
from ..problems import Problem
from ..serializers import DeviceSerializer, SafetyAnswersSerializer, WorkOrderSerializer, version_of

_STATE = OpenApiParameter(
    "state",
    str,
    description="Only orders in this state.",
    enum=[s for s in WorkOrder.State.values if s != "PLANNED"],
)


class Device(DeviceView):
    """Who the device speaks for, and what day it is there."""

    schema = Described()

    @reads(DeviceSerializer, "Who this device speaks for")
    def get(self, request):
        """Return the device's user and company."""
        token = request.auth
        data = {
            "user": request.user.get_username(),
            "company": request.user.membership.contractor.name,
            "device": token.name if token else "",
            "expires_at": token.expires_at if token else None,
            "today": today(),
            "now": now(),
        }
        return Response(DeviceSerializer(data).data)


class WorkOrderList(PagesView):
    """The company's released orders."""

    schema = Described()
    parameters = (*PagesView.parameters, "state")

    @lists(WorkOrderSerializer, "Work orders of the company, the newest first", _STATE)
    def get(self, request):
        """Return a page of orders."""
        rows = self.orders()
        state = request.query_params.get("state")
        if state is not None:
            if state not in WorkOrder.State.values:
                raise Problem(400, "bad-state", f"There is no state {state[:20]!r}.")
            rows = rows.filter(state=state)
        return self.page(rows, WorkOrderSerializer)


class WorkOrderDetail(DeviceView):
    """One order."""

    schema = Described()

    @reads(WorkOrderSerializer, "A work order")
    def get(self, request, pk: int):
        """Return the order, tagged with its version."""
        order = self.order(pk)
        return self.tagged(WorkOrderSerializer(order).data, _tag(order))


def _tag(order: WorkOrder) -> str:
    started = (order.safety or {}).get("recorded_at", "")
    return version_of(order) + (f"-{started[-20:]}" if started else "")


class WorkOrderStart(DeviceView):
    """The safety answers that the work starts with."""

    schema = Described()

    @writes(SafetyAnswersSerializer, WorkOrderSerializer, "Record a safe start", 200)
    def post(self, request, pk: int):
        """Record that the work starts, or say what forbids it."""
        order = self.order(pk)
        facts = facts_back(JobSafety, self.taken(SafetyAnswersSerializer))
        return self.once(lambda: self._start(order, facts))

    def _start(self, order: WorkOrder, facts: JobSafety) -> Response:
        self.fresh(order)
        by = self.request.user.get_username()
        try:
            pull_start(work_order=order, facts=facts, by=by, at=now())
        except StartRefused as error:
            raise Problem(
                422, "start-refused", str(error), findings=findings_kept(error.findings)
            ) from error
        except PullRefused as error:
            raise Problem(409, "not-open", str(error)) from error
        return Response(WorkOrderSerializer(order).data)


class Nowhere(DeviceView):
    """Any other address below the API."""

    schema = None
    authentication_classes = ()
    permission_classes = ()

    def initial(self, request, *args, **kwargs):
        """Say that nothing is here, whatever was asked of it."""
        super(DeviceView, self).initial(request, *args, **kwargs)
        raise NotFound("There is no such address; the schema is at /api/v1/schema/.")
