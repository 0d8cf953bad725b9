"""Every form of every page, refused: what was typed comes back, whichever page it stands on."""

import re

from django.contrib.messages import ERROR, get_messages
from django.db import transaction

from tests.access_walk import PEOPLE
from tests.page_forms import Form

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


class FormsTyped:
    """To be mixed into a test that has a town and its people."""

    def test_what_was_typed_is_in_the_answer_of_every_refused_form(self):
        """Fill every form with words that cannot be right, and look for them in the answer."""
        lost, refused = [], 0
        for letter in PEOPLE:
            for place, form in self._forms(letter):
                told = self._refused(letter, form.action or place, sent(form))
                refused += told is not None
                if told is not None and BAD not in told:
                    lost.append(f"{letter}: {place} -> {form.action}: {sent(form)}")
        assert not lost, "\n".join(lost)
        assert refused > 60, refused

    def _forms(self, letter):
        seen = {}
        for place in self.places(letter):
            for form in () if place.startswith(NOT_ASKED) else self.page(letter, place).forms:
                if BAD in sent(form).values() and not form.action.startswith(NOT_ASKED):
                    action = re.sub(r"\d+", "0", form.action or place)
                    seen[action, tuple(one.name for one in form.fields)] = place, form
        return seen.values()

    def _refused(self, letter, address, given):
        """Return the page that told of a refusal; None where there was none."""
        with transaction.atomic():
            answer = self.clients[letter].post(address, given, follow=True)
            transaction.set_rollback(True)
        if answer.status_code != 200 or answer.streaming:
            return None
        page = answer.content.decode()
        told = any(m.level >= ERROR for m in get_messages(answer.wsgi_request))
        wrong = told or "note-error" in page or 'class="error' in page or "errorlist" in page
        return page if wrong else None
