"""A form that was refused comes back with what was typed, whichever page it stands on."""

import re
import tempfile
from pathlib import Path

from django.contrib.auth import get_user_model
from django.contrib.messages import ERROR, get_messages
from django.db import transaction
from django.test import TestCase, override_settings

from fixtures.demo import build_demo
from program.typed import KEY, MOST_CHARACTERS
from tests.access_table import TABLE
from tests.access_things import things
from tests.page_forms import Form, Forms
from tests.test_access import HAMLET, PEOPLE, addresses, filled

SENT_ALONG = {"hidden", "button"}
BAD = "typed-back ~ 31 Foo"
TEXT = {
    "text",
    "date",
    "number",
    "datetime-local",
    "email",
    "search",
    "time",
    "month",
    "tel",
    "url",
}
# Nothing was typed that could be lost, or what was typed is meant to go.
NOT_ASKED = ("/sign-", "/admin/", "/public/", "/password")


def sent(form: Form) -> dict[str, str]:
    """Return a bad word in every field that takes words, and what stands in the hidden ones."""
    named = [one for one in form.fields if one.name]
    given = {one.name: one.value for one in reversed(named) if one.kind in SENT_ALONG}
    return given | {one.name: BAD for one in named if one.kind in {*TEXT, "textarea"}}


class EveryFormTest(TestCase):
    """Each form of each page of the invented town, refused."""

    @classmethod
    def setUpTestData(cls):
        """Build the town, small, with its files in a folder of their own."""
        cls.folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(cls.folder.cleanup)
        root = Path(cls.folder.name)
        cls.kept = override_settings(
            DATA_DIR=root, MEDIA_ROOT=root / "files", AXES_ENABLED=False, RATELIMIT_ENABLE=False
        )
        cls.kept.enable()
        cls.addClassCleanup(cls.kept.disable)
        build_demo(say=lambda text: None, report=lambda done, total: None, lines=HAMLET)
        cls.found = things()

    def setUp(self):
        """Use the town's own folder, which every test of a database is else led away from."""
        root = Path(self.folder.name)
        own = self.settings(DATA_DIR=root, MEDIA_ROOT=root / "files")
        own.enable()
        self.addCleanup(own.disable)

    def test_what_was_typed_is_in_the_answer_of_every_refused_form(self):
        """Fill every form with words that cannot be right, and look for them in the answer."""
        lost, refused = [], 0
        for letter, name in PEOPLE.items():
            self.client.force_login(get_user_model().objects.get(username=name))
            for place in self._places(letter):
                for form in self._forms(place):
                    told = self._refused(form.action or place, sent(form))
                    refused += told is not None
                    if told is not None and BAD not in told:
                        lost.append(f"{name}: {place} -> {form.action}: {sent(form)}")
        assert not lost, "\n".join(lost)
        assert refused > 60, refused

    def _places(self, letter):
        for name, pattern in addresses():
            path = filled(pattern, self.found)
            if letter in TABLE.get(name, "") and not path.startswith(NOT_ASKED):
                yield path

    def _forms(self, place):
        answer = self.client.get(place)
        if answer.streaming or "text/html" not in answer.get("Content-Type", ""):
            return []
        seen = {
            (re.sub(r"\d+", "0", form.action), tuple(one.name for one in form.fields)): form
            for form in Forms(answer.content.decode()).found
            if BAD in sent(form).values() and not form.action.startswith(NOT_ASKED)
        }
        return seen.values()

    def _refused(self, address, given):
        """Return the page that told of a refusal; None where there was none."""
        with transaction.atomic():
            answer = self.client.post(address, given, follow=True)
            transaction.set_rollback(True)
        if answer.status_code != 200 or answer.streaming:
            return None
        page = answer.content.decode()
        told = any(m.level >= ERROR for m in get_messages(answer.wsgi_request))
        wrong = told or "note-error" in page or 'class="error' in page or "errorlist" in page
        return page if wrong else None


class WhatIsKeptTest(TestCase):
    """For one page, without what must not be kept."""

    def test_kept_once_without_secrets_and_never_too_much(self):
        """Send what is refused, and look at the session."""
        from django.contrib.messages.middleware import MessageMiddleware
        from django.contrib.sessions.backends.db import SessionStore
        from django.test import RequestFactory

        from program.typed import KeepingStorage, typed

        for given, kept in (
            ({"why": "x", "password1": "p", "csrfmiddlewaretoken": "t"}, {"why": ["x"]}),
            ({"why": "x" * (MOST_CHARACTERS + 1)}, None),
            ({"why": ""}, None),
        ):
            request = RequestFactory().post("/somewhere/", given)
            request.session = SessionStore()
            MessageMiddleware(lambda r: None).process_request(request)
            storage = KeepingStorage(request)
            storage.add(20, "done")
            assert KEY not in request.session
            storage.add(ERROR, "Why: no")
            told = typed(request)
            assert (told and told["sent"]) == kept
            assert typed(request) is None
