"""What devices send, whole and right: taken from the company whose it is, and from nobody else.

Each body is then sent with junk in each of its fields, and with what no field is for.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import asdict
from datetime import timedelta

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from program.clock import now, today
from replacements.models import Component, WorkOrder
from replacements.operations.visits import appointment_book
from tests.access_walk import addresses, filled
from tests.forms_twice import FILLED, views
from tests.junk_sent import JUNK, share
from tests.replacements.api.test_api import jpeg
from tests.replacements.factories import good_answers, safe_answers
from tests.replacements.logs_made import make_clean_log

# Beside the texts: what is a number, a list or a level where none is asked for.
OTHER = (None, True, -1, 2**70, 1.5, [], {}, [[[]]], {"": {"": None}}, "a" * 4000)
DEEP = (
    "[" * 40 + "]" * 40,
    '{"a":' * 9000 + "1" + "}" * 9000,
    "NaN",
    "1e999",
    '"\\ud800"',
    "9" * 9999,
)
REFUSED = {401, 403, 404}
# What is refused for what the order lacks in this town, past the question of whose it is.
NOT_YET = {"api_start": 422, "api_live": 409, "phone_checklist": 422}


def _photo() -> SimpleUploadedFile:
    return SimpleUploadedFile("pipe.jpg", jpeg())


def bodies(test) -> dict[str, tuple[str, Callable[[], dict]]]:
    """Return name of an address -> (its path, a function that makes what is sent)."""
    order = WorkOrder.objects.get(pk=test.found["api/v1/work-orders/"]["pk"])
    tools = Component.objects.filter(contractor=order.contractor)
    moment = now() + timedelta(days=1)
    day, soon = today().isoformat(), (moment + timedelta(hours=1)).isoformat()
    done = {"outcome": "NO_ACCESS", "finished_on": day, "note": "Nobody at home"}
    safe = json.loads(json.dumps(asdict(safe_answers()), default=str))
    answers = {"answers": good_answers()}
    booked = appointment_book(
        line=order.line, purpose="WORK", contractor=order.contractor, by="heron", at=now(),
        starts_at=moment + timedelta(days=2), ends_at=moment + timedelta(days=2, hours=1),
    )  # fmt: skip
    sample = {"sequence": 0, "time_s": 0, "force_lbf": 900, "distance_ft": 0}
    made: dict[str, Callable[[], dict]] = {
        "api_attempts": lambda: {"at": now().isoformat(), "method": "PHONE"},
        "api_consents": lambda: {"answer": "GIVEN", "answered_on": day, "given_by": "O. Marsh",
                                 "paper": _photo()},
        "api_appointments": lambda: {"purpose": "WORK", "starts_at": moment.isoformat(),
                                     "ends_at": soon},
        "api_appointment_close": lambda: {"state": "CANCELED", "outcome": "rain"},
        "api_start": lambda: safe,
        "api_strings": lambda: {"pulled_end": "UNKNOWN", "parts": [
            {"component": tool.pk} for tool in tools[:2]]},
        "api_estimates": lambda: {"plate_area_ft2": 4.5, "soil_psf": 2000, "resin": "PE4710",
                                  "temperature_f": 73, "minutes": 60},
        "api_pulls": lambda: {"pulled_on": day, "log": SimpleUploadedFile(
            "log.csv", make_clean_log().encode())},
        "api_live": lambda: {"feed": "logger 9", "samples": [sample]},
        "api_photos": lambda: {"photo": _photo(), "kind": "OLD_PIPE"},
        "api_completions": lambda: done,
        "api_answers": lambda: answers,
        "phone_checklist": lambda: answers,
        "phone_start": lambda: {"fields": FILLED["work_order_start"]},
        "phone_record": lambda: {"fields": done | {"method_used": order.method}},
    }  # fmt: skip
    patterns = dict(addresses())
    at = {name: filled(patterns[name], test.found) for name in made}
    at["api_appointment_close"] = f"/api/v1/appointments/{booked.pk}/closing/"
    return {name: (at[name], body) for name, body in made.items()}


def coded(body: dict) -> tuple[bytes | str, str]:
    """Return a body as a device codes it, and its kind."""
    if any(isinstance(value, SimpleUploadedFile) for value in body.values()):
        return encode_multipart(BOUNDARY, body), MULTIPART_CONTENT
    return json.dumps(body), "application/json"


def spoiled(body, junk) -> Iterator:
    """Yield a body with junk in place of each of its values in turn, however deep it lies."""
    for key in body if isinstance(body, dict) else range(len(body)):
        inner = body[key]
        rest = dict(body) if isinstance(body, dict) else list(body)
        yield (
            rest | {key: junk} if isinstance(rest, dict) else [*rest[:key], junk, *rest[key + 1 :]]
        )
        if isinstance(inner, (dict, list)):
            for one in spoiled(inner, junk):
                yield rest | {key: one} if isinstance(rest, dict) else [
                    *rest[:key], one, *rest[key + 1 :]
                ]  # fmt: skip


class ApiSent:
    """To be mixed into a test that has a town and its people."""

    def test_what_a_device_sends_is_taken_of_its_own_company_alone_and_junk_is_no_error(self):
        """Send each body as everybody; then spoil it."""
        given, wrong = bodies(self), []
        taking = {name for name, view in views() if getattr(view, "csrf_exempt", False)
                  and hasattr(getattr(view, "cls", None), "post")}  # fmt: skip
        assert taking - set(given) <= {"phone_part"}, "see tests/replacements/phone/test_parts.py"
        for name, (path, body) in given.items():
            for letter in self.clients:
                status = self._sent(letter, path, *coded(body()))
                good = (
                    status in REFUSED if letter != "C" else status in (200, 201, NOT_YET.get(name))
                )
                if not good:
                    wrong.append(f"{name} as {letter}: {status} {self.said}")
            wrong += self._junk(path, body)
        assert not wrong, "\n".join(wrong)

    def _junk(self, path: str, body: Callable[[], dict]) -> Iterator[str]:
        plain = {key: value for key, value in body().items() if not hasattr(value, "chunks")}
        kinds = [*JUNK, *OTHER]
        tried = [coded_json(one) for junk in kinds for one in spoiled(plain, junk)]
        tried += [f'{{"{key}": {deep}}}' for key in plain for deep in DEEP]
        for text in share(tried, 12):
            status = self._sent("C", path, text, "application/json")
            if status >= 500:
                yield f"{status} at {path}: {text[:200]}"
        if len(plain) != len(body()):
            for key in plain:
                for junk in share(list(JUNK), 2):
                    status = self._sent("C", path, *multipart(body() | {key: junk}))
                    if status >= 500:
                        yield f"{status} at {path}: {key} is {junk[:40]!r}"

    def _sent(self, letter: str, path: str, content, kind: str) -> int:
        with transaction.atomic():
            answer = self.clients[letter].generic("POST", path, content, kind)
            transaction.set_rollback(True)
        self.said = answer.content[:300]
        return answer.status_code


def coded_json(body) -> str:
    """Return a body as JSON, with what no text can hold written as its escape."""
    return json.dumps(body)


def multipart(body: dict) -> tuple[bytes, str]:
    """Return a form with a file; what no UTF-8 can hold goes as its bytes."""
    safe = {
        key: value.encode("utf-8", "surrogatepass").decode("latin-1")
        if isinstance(value, str)
        else value
        for key, value in body.items()
    }
    return encode_multipart(BOUNDARY, safe), MULTIPART_CONTENT
