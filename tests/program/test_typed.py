"""What was typed into a form that was refused is kept for one page, without secrets.

`tests/forms_typed.py` looks for it in the answer of every form of the program.
"""

from django.contrib.messages import ERROR
from django.test import TestCase

from program.typed import KEY, MOST_CHARACTERS


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
