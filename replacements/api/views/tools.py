"""The contractor's tools out; tool strings and checklist answers in."""

from django.shortcuts import get_object_or_404
from rest_framework.response import Response

from services_inventory.today import now

from ...domain.pipes import PipeError
from ...models import Component, ToolStringRecord
from ...operations.tools import ToolError, assembly_answer_many, tool_string_record
from ..base import DeviceView, PagesView
from ..described import Described, lists, reads, writes
from ..problems import Problem, refused_as
from ..serializers import (
    AnswersInSerializer,
    ComponentSerializer,
    StringInSerializer,
    StringSerializer,
)


class ComponentList(PagesView):
    """The company's tools."""

    schema = Described()

    @lists(ComponentSerializer, "Tools of the company")
    def get(self, request):
        """Return a page of tools."""
        rows = Component.objects.filter(contractor_id=request.user.membership.contractor_id)
        return self.page(rows, ComponentSerializer)


class ToolStringList(PagesView):
    """Tool strings of an order."""

    schema = Described()

    @lists(StringSerializer, "Tool strings recorded for an order")
    def get(self, request, pk: int):
        """Return a page of strings."""
        rows = self.order(pk).tool_strings.prefetch_related("parts__component", "answers")
        return self.page(rows, StringSerializer)

    @writes(StringInSerializer, StringSerializer, "Record the tool string of an order")
    def post(self, request, pk: int):
        """Record a string, part by part, and return what its check found."""
        order, given = self.order(pk), self.taken(StringInSerializer)
        return self.once(lambda: self._record(order, given))

    def _record(self, order, given: dict) -> Response:
        self.fresh(order)
        try:
            made = tool_string_record(
                work_order=order,
                parts=self._parts(order, given["parts"]),
                pulled_end=given["pulled_end"],
                by=self.request.user.get_username(),
                at=now(),
            )
        except (ToolError, PipeError) as error:
            raise Problem(422, "string-refused", str(error)) from error
        return Response(StringSerializer(made).data, status=201)

    def _parts(self, order, rows: list[dict]):
        ids = [row["component"] for row in rows]
        found = Component.objects.filter(contractor_id=order.contractor_id).in_bulk(ids)
        missing = [str(pk) for pk in ids if pk not in found]
        if missing:
            raise ToolError(f"The company has no tool {', '.join(missing)}.")
        return [(found[row["component"]], row["orientation"]) for row in rows]


class ToolStringDetail(DeviceView):
    """One tool string."""

    schema = Described()

    @reads(StringSerializer, "A tool string")
    def get(self, request, pk: int):
        """Return the string with its findings and answers."""
        return self.tagged(StringSerializer(_string(self, pk)).data)


class ToolStringAnswers(DeviceView):
    """Answers to the assembly checklist of a string."""

    schema = Described()

    @writes(AnswersInSerializer, StringSerializer, "Answer rows of the assembly checklist")
    def post(self, request, pk: int):
        """Add answers by the device's user, now; of one row the last given counts."""
        string, given = _string(self, pk), self.taken(AnswersInSerializer)
        return self.once(lambda: self._answer(string, given["answers"]))

    def _answer(self, string: ToolStringRecord, answers: list[dict]) -> Response:
        with refused_as("answer-refused"):
            assembly_answer_many(
                tool_string=string,
                answers=answers,
                by=self.request.user.get_username(),
                at=now(),
            )
        return Response(StringSerializer(_string(self, string.pk)).data, status=201)


def _string(view: DeviceView, pk: int) -> ToolStringRecord:
    rows = ToolStringRecord.objects.filter(work_order__in=view.orders())
    return get_object_or_404(rows.prefetch_related("parts__component", "answers"), pk=pk)
