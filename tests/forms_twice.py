"""Every form that records something, posted twice: rows are added once, and no seal is broken.

The same form is then sent by everybody who may not, and with junk in its fields (`junk_sent.py`).

The forms are read off the pages as every role meets them, and filled as a person might; what
cannot be guessed is in `FILLED`, and what must have happened before a page shows its form, in
`tests/forms_staged.py`. A page that takes a form and was never posted fails the test.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from itertools import groupby
from unittest.mock import patch

from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from django.urls import get_resolver, resolve, reverse

from program.clock import now, today
from program.models import Notice, PlanEdit, RowDigests, RowDigestsTaken, Seal, WrittenRow
from program.operations import row_digests, sealing
from program.queries import row_digests as digests_kept
from program.queries import seals as seals_kept
from services_inventory.models import Batch, SentOnce, ServiceLine
from services_inventory.templatetags.one_act import FIELD
from tests.forms_staged import STAGED
from tests.junk_sent import junk_posted, taken_by_others
from tests.page_forms import Field, Form
from tests.replacements.logs_made import make_clean_log
from tests.replacements.views.test_pages import START

DAY = "2031-01-15"
LIST = b"location id,address,system side material\nT-1,1 Twice St,lead\n"
HELD = b"location id,address,system side material,row,reason\nT-1,4 Twice St,qx,2,why\n"
WORDS = "Seen by the foreman"
# They sign somebody in or out, set a password, or open a file in the editor that saves it.
NOTHING_RECORDED = {
    "login", "logout", "second_step", "confirm", "layout_upload", "own_password", "set_password",
    "columns_preview", "rule_reading",
}  # fmt: skip
AT_THE_DOOR = {"login", "logout", "second_step", "confirm", "set_password"}  # see test_doors.py


AREAS = b'name,income,wkt\nTract,40000,"POLYGON ((-101 41, -100 41, -100 42, -101 41))"\n'
WORKS = b'name,year,wkt\nBrine St,2032,"LINESTRING (-100.3 41.5, -100.2 41.5)"\n'


def _file(name: str, content: bytes) -> Callable[[], SimpleUploadedFile]:
    return lambda: SimpleUploadedFile(name, content)


def _place() -> str:
    return ServiceLine.objects.filter(category="LEAD").first().location_id


def _street() -> str:
    return ServiceLine.objects.filter(category="LEAD").first().premise.street_key


def _preview() -> str:
    """Return where the page of a file's columns asks by a script what they would give."""
    return reverse("columns_preview", args=[Batch.objects.filter(kind="INTAKE").first().pk])


def _last_edit() -> str:
    last = PlanEdit.objects.filter(plan__state="DRAWN").order_by("id").last()
    return str(last.pk) if last else ""


def _letter() -> str:
    return f"N-{Notice.objects.exclude(delivered_on=None).first().pk}"


def _laboratory() -> bytes:
    return f"Location ID,Date sampled,Lead (ug/L)\n{_place()},2031-01-10,4\n".encode()


# What a form is filled with where a guess will not do; a function is asked for a fresh value.
FILLED: dict[str, dict] = {
    "words_asked": {"word-0": "LEAD"},
    "account_change": {"full_name": "K. Estrel", "reason": WORDS},
    "account_invite": {"username": "j.osei", "role": "Administrator"},
    "company_change": {"phone": "000-000-0109", "reason": WORDS},
    "batch_list": {"file": _file("list.csv", LIST)},
    "building": {"plumbing_year": "1931"},
    "chosen_orders": {"name": "Canal side", "due_on": DAY},
    "component_correct": {"serial": "another", "reason": WORDS},
    "customer_work_record": {"done_on": DAY},
    "drop_list": {"files": _file("form.xlsx", b"PK")},
    "evidence_record": {"material": "copper", "points_seen": "1", "observed_on": DAY},
    "force_constants": {"FLOW_STRESS_high": "3600", "reason": WORDS},
    "feed_list": {"name": "Another export"},
    "first_hour": {"connections": "31401"},
    "held_leave_out": {"which": "all", "reason": WORDS},
    "held_mend": {"c-2-1": "2 Twice St"},
    "held_replace": {"place": "1", "old": "1 Twice St", "new": "3 Twice St"},
    "held_upload": {"file": _file("held.csv", HELD)},
    "inquiry_place": {"location_id": _place},
    "match_decide": {"reason": WORDS},
    "match_take_back": {"reason": WORDS},
    "layout_edit": {"do": "save"},
    "line_access_act": {"given_by": WORDS, "changed_on": "2030-12-01"},
    "nearby_line": {"separation_in": "20"},
    "nearby_line_new": {"at_ft": "3", "separation_in": "20"},
    "notice_add": {"location_id": _place, "event": "SHUT_OFF"},
    "notice_returns": {"numbers": _letter, "why": WORDS},
    "payment_write": {"period_from": "2027-11-01"},
    # Both show what they would do first; kept is what was shown.
    "plan_change": {"keep": _last_edit},
    "plan_closure_new": {"street": _street, "first_day": DAY, "last_day": DAY, "keep": "1"},
    "plan_document_freeze": {"is_draft_meant": "on", "what_changed": WORDS},
    "plan_element_write": {"text": WORDS},
    "plan_census_new": {"file": _file("areas.csv", AREAS)},
    "plan_works_new": {"file": _file("works.csv", WORKS)},
    "proposal": {"reason": WORDS},
    "reinspection_list": {"first_day": "2027-11-01", "share_percent": "50"},
    "review": {"reasons": WORDS},
    "review_queue": {"reasons": WORDS},
    "own_value_end": {"day": "2031-03-01"},
    "residents": {"reason": WORDS},
    "rule_own": {"value": "60", "jurisdiction": "STATE"},
    "outreach_new": {"proof_words": WORDS},
    "sampling_file_new": {"file": lambda: SimpleUploadedFile("lab.csv", _laboratory())},
    "tool_set": {
        "ANTI_SEIZE_words": "A dab on each face",
        **{f"{age}_{n}": [] for age in ("old", "new") for n in (1, 2, 3)},
    },
    "utility": {"connections": "31401"},
    "validation_pick": {
        f"form-{n}-{name}": value
        for n, place in enumerate(("meter", "curb stop", "house"))
        for name, value in (("place", place), ("material", "copper"),
                            ("portion", "CUSTOMER" if n else "SYSTEM"))
    },
    "work_order_appointment": {"starts_at": "2031-01-20T09:00", "ends_at": "2031-01-20T10:00"},
    "work_order_appointment_close": {"state": "CANCELED", "outcome": WORDS},
    "work_order_checklist": {"BLADE_FACING": "yes"},
    "work_order_completion": {"outcome": "NO_ACCESS", "note": WORDS},
    "work_order_consent": {"given_by": WORDS},
    "work_order_pull": {"log": _file("log.csv", make_clean_log().encode())},
    "work_order_start": {
        name: value.replace("2028-04", "2031-01").replace("2028-03", "2030-12")
        .replace("01-10", "01-15").replace("01-20", "01-25")
        for name, value in START.items()
    },
}  # fmt: skip


def guessed(one: Field, day: date) -> str:
    """Return what a person might put into a field."""
    if one.kind == "select":
        return next(filter(None, one.options), "")
    by_kind = {"date": day.isoformat(), "number": one.given.get("min") or "1"}
    by_kind["datetime-local"] = f"{day}T09:00"
    return by_kind.get(one.kind, WORDS)


def filled(form: Form, name: str, button: Field, day: date) -> dict:
    """Return what is sent: what stands, a guess where something is asked, what is known."""
    sent = form.standing()
    for one in form.fields:
        missing = bool(one.name) and not any(sent.get(one.name, ()))
        if missing and one.kind == "radio":
            sent[one.name] = [one.value]
        elif missing and one.kind == "checkbox" and one.value != "on":
            sent[one.name] = [f.value for f in form.fields if f.name == one.name]
        elif missing and one.kind == "select" and one.name in ("year", "other", "to", "area"):
            sent[one.name] = [guessed(one, day)]
        elif missing and "required" in one.given and one.kind != "file":
            sent[one.name] = [guessed(one, day)]
    if button.name:
        sent[button.name] = [button.value]
    return {**sent, **FILLED.get(name, {})}


def fresh(sent: dict) -> dict:
    """Return what is sent with new files, as reading one uses it up."""
    return {name: value() if callable(value) else value for name, value in sent.items()}


def rows() -> dict[str, int]:
    """Return the number of rows of each table but those of sessions."""
    tables = [
        model._meta.db_table
        for model in apps.get_models()
        if model._meta.label not in ("sessions.Session", "program.SignedIn")
    ]
    with connection.cursor() as cursor:  # all in one question: it is asked for every form
        cursor.execute(f"SELECT {', '.join(f'(SELECT count(*) FROM {name})' for name in tables)}")
        return dict(zip(tables, cursor.fetchone(), strict=True))


WRITES = re.compile(
    r'(?:INSERT|UPDATE|DELETE|REPLACE)\b(?: OR \w+)?(?: INTO| FROM)?\s+"?(\w+)', re.I
)
CHAINED = {table._meta.db_table for table in (Seal, RowDigests, RowDigestsTaken)}


@contextmanager
def written() -> Iterator[set[str]]:
    """Give the tables that statements write to; to read all for every form would take minutes."""
    tables: set[str] = set()

    def noted(execute, sql, params, many, context):
        tables.update(WRITES.findall(sql))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(noted):
        yield tables


def of_tables(streams: Callable[[], dict], tables: set[str]) -> dict:
    """Return the streams of these tables."""
    return {name: one for name, one in streams().items() if one.table._meta.db_table in tables}


def broken(tables: set[str]) -> list[str]:
    """Return which seals and digests no longer hold of what was written to."""
    if tables & CHAINED:
        return [*seals_kept.seals_hold(), *digests_kept.rows_are_as_written()]
    of_seals = of_tables(seals_kept.streams, tables)
    chain = Seal.objects.filter(stream__in=of_seals).order_by("stream", "id")
    every = {seal.pk for seal in chain}
    found = [
        said
        for name, seals in groupby(chain, key=lambda seal: seal.stream)
        for said in seals_kept._differing(of_seals[name], seals, every)
    ]
    watched = of_tables(digests_kept.watched, tables)
    with patch.object(digests_kept, "watched", lambda: watched):
        return [*found, *digests_kept.rows_are_as_written()]


def sealed(tables: set[str]) -> None:
    """Seal what was written to, anew where a seal broke: what is staged is written by hand."""
    if broken(tables):
        for kept in (Seal, RowDigests, RowDigestsTaken, WrittenRow):
            kept.objects.all().delete()
        of_seals, watched = seals_kept.streams(), digests_kept.watched()
    else:
        of_seals = of_tables(seals_kept.streams, tables)
        watched = of_tables(digests_kept.watched, tables)
    with patch.object(row_digests, "watched", lambda: watched):
        row_digests.row_digests_take(at=now())
    with patch.object(sealing, "streams", lambda: of_seals):
        sealing.record_seal(at=now() + 2 * sealing.SETTLED)


def posted_twice(client: Client, path: str, sent: dict) -> str:
    """Return what is wrong with a form that is posted twice; nothing of it stays."""
    with transaction.atomic():
        said = _posted_twice(client, path, sent)
        transaction.set_rollback(True)
    return said


def _posted_twice(client: Client, path: str, sent: dict) -> str:
    before = SentOnce.objects.count()
    with written() as tables:
        first = client.post(path, fresh(sent))
    between = rows()
    if SentOnce.objects.count() == before:
        return f"refused ({first.status_code}): {_told(client, first)}"
    if wrong := broken(tables):
        return f"BROKE A SEAL: {wrong}"
    second = client.post(path, fresh(sent))
    after = rows()
    if after != between:
        more = {name: n - between[name] for name, n in after.items() if n != between[name]}
        return f"ADDED TWICE: {more}"
    if second.status_code != 302:
        return f"ANSWERED {second.status_code}"
    where = SentOnce.objects.order_by("id").last().answer["where"].replace("&", "&amp;")
    shown = client.get(second["Location"], follow=True).content.decode()
    if "lready recorded" not in shown or f'href="{where}"' not in shown:
        return f"LED TO {second['Location']} without a word or link"
    return ""


def _told(client: Client, answer) -> str:
    """Return the sentences that a refusal showed."""
    if answer.status_code == 302:
        answer = client.get(answer["Location"], follow=True)
    page = "" if answer.streaming else answer.content.decode()
    found = re.findall(
        r'class="(?:note note-error|error|errorlist)[^>]*>(.*?)</(?:p|ul|div|span)', page, re.DOTALL
    )
    return " | ".join(re.sub(r"<[^>]+>|\s+", " ", one).strip() for one in found)[:400]


class FormsTwice:
    """To be mixed into a test that has a town and its people."""

    def test_every_form_that_records_something_records_it_once(self):
        """Post each form twice, as the first of those who can, and count the rows."""
        self.done, self.why, self.wrong, self.shut = set(), {}, [], set()
        for letter, stage in STAGED:
            with transaction.atomic():
                with written() as tables:
                    path = stage(today())
                sealed(tables)
                self._try(letter, path, self.visit(letter, path).forms)
                transaction.set_rollback(True)
        for letter in "MPAC":
            for path in self.places(letter):
                self._try(letter, path, self.page(letter, path).forms)
        self._try("N", "/public/en/tell-us/", self.page("N", "/public/en/tell-us/").forms)
        assert not self.wrong, "\n".join(self.wrong)
        doubled = [said for said in self.why.values() if ": refused (" not in said]
        assert not doubled, "\n".join(doubled)
        missing = {view for view in taking_forms() if view not in {view for view, _ in self.done}}
        never = missing - NOTHING_RECORDED
        told = [f"{key[0]}: {said}" for key, said in self.why.items() if key[0] in never]
        assert not never, "\n".join([f"never posted: {sorted(never)}", *told])
        assert missing == NOTHING_RECORDED, "a form is no longer there, or records now"
        sent = {"location_id": "A"}
        self.wrong += taken_by_others(self, "columns_preview", "M", _preview(), sent)
        assert not self.wrong, "\n".join(self.wrong)
        assert NOTHING_RECORDED - self.shut <= AT_THE_DOOR | {"columns_preview"}, self.shut

    def _try(self, letter: str, path: str, forms: Iterable[Form]) -> None:
        """Post the forms of a page twice, unless forms like them were."""
        for form in forms:
            address = form.action.split("#")[0] or path
            view = resolve(address.split("?")[0]).view_name
            if view in NOTHING_RECORDED and view not in self.shut:
                self.shut.add(view)
                sent = filled(form, view, form.buttons[0], today())
                self.wrong += taken_by_others(self, view, letter, address, sent)
            if not any(one.name == FIELD for one in form.fields):
                continue
            key = (view, frozenset(f.name for f in form.fields if f.kind != "button"))
            for button in form.buttons:
                if key in self.done:
                    break
                sent = filled(form, view, button, today())
                said = posted_twice(self.clients[letter], address, sent)
                if said:
                    self.why[*key, button.value] = f"{path} as {letter}: {said}"
                else:
                    self.done.add(key)
                    self.wrong += taken_by_others(self, view, letter, address, sent)
                    self.wrong += junk_posted(self.clients[letter], address, form, sent)


def taking_forms() -> set[str]:
    """Return the names of the addresses that take a form; devices send keys of their own."""
    found = set()
    for name, view in views():
        kind = getattr(view, "view_class", None)
        takes = hasattr(kind, "post") or name == "public:tell_us"
        if takes and not getattr(view, "csrf_exempt", False):
            found.add(name)
    return found


def views(entries=None, space="") -> Iterator[tuple[str, Callable]]:
    """Yield (name with its namespace, view) of every address but those of the accounts."""
    for entry in get_resolver().url_patterns if entries is None else entries:
        if hasattr(entry, "url_patterns"):
            if entry.namespace != "admin":
                inner = f"{space}{entry.namespace}:" if entry.namespace else space
                yield from views(entry.url_patterns, inner)
        else:
            yield f"{space}{entry.name}", entry.callback
