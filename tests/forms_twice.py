"""Every form that records something, posted twice: rows are added once.

The forms are read off the pages, as every role meets them, and filled as a person might; what
cannot be guessed is in `FILLED`. A form that no test could post is named in `NOT_POSTED`, with
the reason; any other one that is missing fails the test.
"""

import re
from datetime import date

from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import resolve

from services_inventory.models import SentOnce
from services_inventory.templatetags.one_act import FIELD
from tests.page_forms import Field, Form, Forms

FILLED: dict[str, dict] = {}
NOT_POSTED: dict[str, str] = {}
PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108060000001f15c489"
    "0000000d49444154789c6360000002000001e221bc330000000049454e44ae426082"
)


def guessed(one: Field, day: date):
    """Return what a person might put into a field."""
    by_kind = {"date": day.isoformat(), "number": one.given.get("min") or "1", "checkbox": "on"}
    if one.kind == "select":
        return next(filter(None, one.options), "")
    if one.kind == "datetime-local":
        return f"{day}T09:00"
    return by_kind.get(one.kind, "Seen by the foreman")


def filled(form: Form, name: str, button: Field, day: date) -> dict:
    """Return what is sent: what stands, what is guessed where nothing stands, what is known."""
    sent = form.standing()
    for one in form.fields:
        empty = one.name and not any(sent.get(one.name, ()))
        if empty and one.kind == "radio" or empty and "required" in one.given:
            sent[one.name] = [one.value if one.kind == "radio" else guessed(one, day)]
        if one.kind == "file" and "required" in one.given:
            sent[one.name] = [SimpleUploadedFile("photo.png", PNG, "image/png")]
    if button.name:
        sent[button.name] = [button.value]
    known = FILLED.get(f"{name} {button.name}".strip(), FILLED.get(name, {}))
    return {**sent, **{field: value for field, value in known.items()}}


def rows() -> dict[str, int]:
    """Return the number of rows of each table but those of sessions."""
    return {
        model._meta.label: model.objects.count()
        for model in apps.get_models()
        if model._meta.app_label not in ("sessions", "admin")
    }


class TwiceTest:
    """To be mixed into a test that has a town, its clients and its things."""

    def posted_twice(self, client: Client, path: str, sent: dict) -> str:
        """Return what is wrong with a form that is posted twice; nothing of it stays."""
        with transaction.atomic():
            said = self._posted_twice(client, path, sent)
            transaction.set_rollback(True)
        return said

    def _posted_twice(self, client: Client, path: str, sent: dict) -> str:
        before = rows()
        first = client.post(path, sent)
        between = rows()
        if between["services_inventory.SentOnce"] == before["services_inventory.SentOnce"]:
            return f"refused ({first.status_code}): {told(client, first)}"
        for values in sent.values():
            for value in values if isinstance(values, list) else [values]:
                if hasattr(value, "seek"):
                    value.seek(0)
        second = client.post(path, sent)
        after = rows()
        if after != between:
            more = {name: n - between[name] for name, n in after.items() if n != between[name]}
            return f"added twice: {more}"
        if second.status_code != 302:
            return f"answered {second.status_code}"
        page = client.get(second["Location"], follow=True)
        kept = SentOnce.objects.order_by("id").last()
        shown = page.content.decode()
        if page.status_code != 200 or "lready recorded" not in shown:
            return f"led to {second['Location']} ({page.status_code}) without a word"
        if f'href="{kept.answer["where"]}"'.replace("&", "&amp;") not in shown:
            return "shows no link to what was recorded"
        return ""


def told(client: Client, answer) -> str:
    """Return the sentences that a refusal showed."""
    if answer.status_code == 302:
        answer = client.get(answer["Location"], follow=True)
    page = "" if answer.streaming else answer.content.decode()
    found = re.findall(
        r'class="(?:note note-error|error|errorlist|note note-caution)[^>]*>(.*?)</(?:p|ul|div|span)',
        page, re.DOTALL,
    )  # fmt: skip
    return " | ".join(re.sub(r"<[^>]+>|\s+", " ", one).strip() for one in found)[:600]


def forms_of(client: Client, path: str) -> list[tuple[str, str, Form]]:
    """Return (name of the address, path, form) of each form of a page that has a token."""
    client.raise_request_exception = False
    answer = client.get(path)
    if answer.streaming or "text/html" not in answer.get("Content-Type", ""):
        return []
    found = Forms(answer.content.decode()).found
    named = [(form.action.split("#")[0] or path, form) for form in found]
    return [
        (resolve(action.split("?")[0]).view_name, action, form)
        for action, form in named
        if any(one.name == FIELD for one in form.fields)
    ]
