"""The phone's shell, its worker, what it keeps for the pit, and where it sends what was filled."""

import hashlib
from collections.abc import Iterable, Iterator
from datetime import date

from django.contrib.staticfiles import finders
from django.http import JsonResponse
from django.shortcuts import render
from django.template.loader import get_template
from django.templatetags.static import static
from django.utils.decorators import method_decorator
from django.views.decorators.csrf import ensure_csrf_cookie
from rest_framework.response import Response

from services_inventory.today import now, today

from ..api.base import DeviceView
from ..api.problems import Problem
from ..api.serializers import (
    AnswersInSerializer,
    CompletionSerializer,
    StringSerializer,
    WorkOrderSerializer,
)
from ..api.views.records import hand_in
from ..api.visiting import AccessSerializer
from ..domain.findings import Level
from ..domain.methods import is_pulled
from ..domain.pull_force import RANGE_COVERS
from ..forms.completions import CompletionForm
from ..forms.safety import StartForm
from ..models import CompletionReview, ToolStringRecord, WorkOrder
from ..operations.completions import StopsShownFirst
from ..operations.pulls import PullRefused, StartRefused, pull_start
from ..operations.tools import ToolError, assembly_answer_many
from ..packages.given import given_of
from ..queries.checklist import checklist_told
from ..queries.estimate_told import figures_told
from ..queries.gate import findings_on_record, latest_estimate, latest_string
from ..queries.ground import ground_findings, lines_near
from ..queries.stored import findings_kept
from ..queries.together import last_of, rows_of, together
from ..queries.visits import access_of
from ..views.scope import DO, WorkView
from .card import drawing_kept
from .described import forms_described

ASSETS = (
    "program/house.css",
    "program/parts.css",
    "program/tables.css",
    "program/mark.svg",
    "replacements/phone/phone.css",
    "replacements/phone/phone.js",
    "replacements/phone/store.js",
    "replacements/phone/outbox.js",
    "replacements/phone/list.js",
    "replacements/phone/work.js",
    "replacements/phone/card.js",
    "replacements/phone/card_asked.js",
    "replacements/phone/card_data.js",
    "replacements/phone/rules.js",
    "replacements/phone/picture.js",
    "replacements/phone/drawing.js",
    "replacements/phone/words.js",
    "replacements/phone/sizes.js",
    "replacements/phone/told.js",
    "replacements/phone/sent.js",
    "replacements/phone/signature.js",
    "replacements/phone/visits.js",
    "replacements/phone/asked.js",
    "replacements/phone/drafts.js",
)
KEPT_ORDERS = 400


def assets_version() -> str:
    """Return a digest of the phone's files: a changed file makes a new cache."""
    digest = hashlib.sha256()
    for name in ASSETS:
        with open(finders.find(name), "rb") as file:
            digest.update(file.read())
    digest.update(get_template("replacements/phone/worker.js").template.source.encode())
    return digest.hexdigest()[:12]


@method_decorator(ensure_csrf_cookie, name="dispatch")
class PhoneView(WorkView):
    """The shell: the same for every order; its script shows the rest from what the phone keeps."""

    permissions = DO

    def get(self, request):
        return render(request, "replacements/phone/shell.html", {"company": self.company})


class PhoneWorkerView(WorkView):
    """The service worker, under the phone's own address so that it may serve only that."""

    permissions = DO

    def get(self, request):
        """Send the worker with the files that it keeps."""
        context = {"version": assets_version(), "assets": [static(name) for name in ASSETS]}
        response = render(
            request, "replacements/phone/worker.js", context, content_type="text/javascript"
        )
        response["Cache-Control"] = "no-cache"
        return response


class PhoneFormsView(WorkView):
    """The questions, kept on the phone."""

    permissions = DO

    def get(self, request):
        return JsonResponse(forms_described())


class PhoneOrders(DeviceView):
    """The orders that are to be done, with what a crew must know of each."""

    schema = None

    def get(self, request):
        """Send the company's released orders."""
        states = (WorkOrder.State.RELEASED, WorkOrder.State.RETURNED)
        rows = self.orders().filter(state__in=states).order_by("due_on", "id")[:KEPT_ORDERS]
        told = {"user": request.user.get_username(), "today": today()}
        with together(rows) as orders:
            return Response(told | {"orders": list(orders_kept(orders))})


def orders_kept(orders: Iterable[WorkOrder]) -> Iterator[dict]:
    """Yield what a phone keeps of each order; the serializers are built once for all of them."""
    shapes = WorkOrderSerializer(), StringSerializer(), AccessSerializer()
    of_order, of_string, of_access = (shape.to_representation for shape in shapes)
    for order in orders:
        string = latest_string(order)
        yield {
            **of_order(order),
            "tool_string": of_string(string) if string else None,
            "access": of_access(access_of(order.line, order.contractor, today())),
            **_kept(order, string),
        }


def _kept(order: WorkOrder, string: ToolStringRecord | None) -> dict:
    estimate, given = latest_estimate(order), given_of(order)
    return {
        "method_words": order.method_label,
        "system_words": order.line.get_system_material_display().lower(),
        "customer_words": order.line.get_customer_material_display().lower(),
        "old_pipe": given["old_pipe"],
        "new_pipe": given["new_pipe"],
        "estimate": _estimate(estimate) if estimate else None,
        "pulled": is_pulled(order.method),
        "ground": _ground(order),
        "against_start": findings_kept(findings_on_record(order, today())),
        "checklist": checklist_told(order, string) if string else None,
        "drawing": drawing_kept(order, string) if string else None,
        "started": _started(order),
        "given_back": _given_back(order),
    }


def _given_back(order: WorkOrder) -> dict | None:
    """Return the record that was given back, as the phone's form opens with it."""
    last = last_of(order, "completions")
    review = getattr(last, "review", None)
    if review is None or review.answer not in CompletionReview.GIVEN_BACK:
        return None
    said = CompletionForm.as_handed_in(last)
    pull = said.pop("pull")
    photos = rows_of(last, "photos")
    return {
        "fields": {name: _as_typed(value) for name, value in said.items()},
        "pull": pull,
        "photos": [{"id": p.pk, "kind": p.kind.removeprefix("PHOTO_")} for p in photos],
        "mend": review.mend,
        "answer": review.get_answer_display(),
    }


def _as_typed(value) -> str:
    if isinstance(value, bool) or value is None:
        return "on" if value else ""
    return value.isoformat() if isinstance(value, date) else str(value)


def _ground(order: WorkOrder) -> dict:
    lines = sorted(lines_near(order), key=lambda row: (row.at_ft is None, row.at_ft or 0))
    findings = [f for f in ground_findings(order, today()) if f.level is not Level.NOTE]
    return {"lines": [str(line) for line in lines], "findings": findings_kept(findings)}


def _estimate(made) -> dict:
    """Return the figures as page and sheet show them, in words, so that a phone rounds nothing."""
    said = [f for f in made.result.get("findings", ()) if f["level"] != Level.NOTE]
    told = {"verdict": made.verdict, "covers": RANGE_COVERS, "findings": said}
    return {**figures_told(made), **told}


def _started(order: WorkOrder) -> dict | None:
    """Return the ticket of an earlier start, so that it is not typed again."""
    ticket = ((order.safety or {}).get("answers") or {}).get("ticket")
    names = {"number": "ticket_number", "valid_from": "ticket_from", "expires_on": "ticket_to"}
    return {field: ticket.get(name) or "" for name, field in names.items()} if ticket else None


class PhoneStart(DeviceView):
    """The safety answers of a start, as the page's form asks them."""

    schema = None

    def post(self, request, pk: int):
        """Record the start, or say what forbids it."""
        order = self.order(pk)
        form = StartForm(_fields(request), pulls=is_pulled(order.method))
        _refuse_form(form)
        return self.once(lambda: self._start(order, form))

    def _start(self, order: WorkOrder, form: StartForm) -> Response:
        self.fresh(order)
        try:
            pull_start(
                work_order=order,
                facts=form.facts(),
                by=self.request.user.get_username(),
                at=now(),
                on=form.cleaned_data["on"],
            )
        except StartRefused as error:
            kept = findings_kept(error.findings)
            raise Problem(422, "start-refused", str(error), findings=kept) from error
        except PullRefused as error:
            raise Problem(409, "not-open", str(error)) from error
        return Response({"said": "The start is on record."}, status=201)


class PhoneChecklist(DeviceView):
    """Answers to the assembly checklist of an order's latest string."""

    schema = None

    def post(self, request, pk: int):
        order, given = self.order(pk), self.taken(AnswersInSerializer)
        return self.once(lambda: self._answer(order, given["answers"]))

    def _answer(self, order: WorkOrder, answers: list[dict]) -> Response:
        string = order.tool_strings.order_by("-id").first()
        if string is None:
            raise Problem(422, "no-string", f"{order.number} has no tool string on record yet.")
        try:
            assembly_answer_many(
                tool_string=string, answers=answers, by=self.request.user.get_username(), at=now()
            )
        except ToolError as error:
            raise Problem(422, "answer-refused", str(error)) from error
        return Response({"said": "The answers are on record."}, status=201)


class PhoneRecord(DeviceView):
    """A completion record, as the page's form asks it."""

    schema = None

    def post(self, request, pk: int):
        """Hand the record in with the photos and the pull that were sent before."""
        order = self.order(pk)
        form = CompletionForm(_fields(request), order=order)
        _refuse_form(form)
        return self.once(lambda: self._hand_in(order, form))

    def _hand_in(self, order: WorkOrder, form: CompletionForm) -> Response:
        self.fresh(order)
        given = form.said() | {"photos": _ids(self.request.data.get("photos"))}
        pull = _ids([self.request.data.get("pull")])
        given["pull"] = pull[0] if pull else None
        given["despite_stops"] = self.request.data.get("despite") is True
        try:
            record = hand_in(order, given, self.request.user)
        except StopsShownFirst as held:
            said = "Not handed in yet. Put it right, or send it as it is and say why in the note."
            found = findings_kept(held.findings)
            raise Problem(422, "stops-first", said, findings=found) from held
        return Response(CompletionSerializer(record).data, status=201)


def _fields(request) -> dict[str, str]:
    fields = request.data.get("fields") if isinstance(request.data, dict) else None
    if not isinstance(fields, dict):
        raise Problem(400, "no-fields", "Send the filled fields by name.")
    return {str(name): "" if value is None else str(value) for name, value in fields.items()}


def _ids(values) -> list[int]:
    if not isinstance(values, list):
        return []
    return [value for value in values[:60] if isinstance(value, int) and 0 < value < 2**62]


def _refuse_form(form) -> None:
    if form.is_valid():
        return
    errors = [
        {"pointer": f"/fields/{name}", "detail": f"{_label(form, name)}{' '.join(sentences)}"}
        for name, sentences in form.errors.items()
    ]
    raise Problem(422, "not-filled", "Some answers cannot be taken; see errors.", errors=errors)


def _label(form, name: str) -> str:
    return f"{form.fields[name].label}: " if name in form.fields else ""
