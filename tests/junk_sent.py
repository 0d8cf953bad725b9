"""Junk in every parameter of every address: each answer says something, and none is an error.

A share each day, another one tomorrow; all of it with EXAMPLES=all.
"""

import inspect
import random
import re
from collections.abc import Iterator
from datetime import date
from urllib.parse import quote, urlencode

from django.db import transaction
from django.urls import resolve

from tests.access_table import TABLE
from tests.access_walk import addresses, filled
from tests.examples import SHARE
from tests.page_forms import Form

JUNK = (
    "", " ", "0", "-1", "+", "1e9", "NaN", "-inf", "9" * 19, "9" * 5000, "1,000", "0x10", "007",
    "\u00b2", "\u0661\u0662", "\0", "\ud800", "<b>'\"", "%", "%00", "../../etc/passwd", "; DROP",
    "2031-13-45", "0000-00-00", "99999-01-01", "2031-01-15T25:61", "[]", '{"a": {}}', "a" * 4000,
    "\U0001f600\u202e",
)  # fmt: skip
NUMBERS = ("0", "007", "9" * 19, "9" * 40)
ORDER = re.compile(r"/work/orders/\d+/")
OGC = {"bbox", "bbox-crs", "datetime", "limit", "token", "f", "category", "city", "use"}
# An administrator ends anybody's key; a view of another is told of as gone already.
OWN = {"map_key_end": "A", "kept_view_end": "MPACK"}
OF_MORE = {"notice_slot": "P", "work_order_new": "MA"}  # whose address names more than an id
A_DAY = 3  # of an address, and of a form
READ = re.compile(r'\bGET(?:\.get|\.getlist|\.pop)?[\[(]\s*"(\w+)"')
_day = random.Random(date.today().toordinal())


def share(found: list, count: int = A_DAY) -> list:
    """Return what of all that could be tried is tried today."""
    return found if SHARE == 1 else _day.sample(found, min(count, len(found)))


def coded(sent: dict) -> str:
    """Return fields as a browser codes them, and what no browser would send as well."""
    return urlencode(sent, doseq=True, errors="surrogatepass")


def junk_places(pattern: str, found: dict) -> list[str]:
    """Return an address with junk in place of each of its arguments in turn."""
    whole = filled(pattern, found)
    if "?P<" in pattern:
        return []
    paths = []
    for kind, name in re.findall(r"<(?:(\w+):)?(\w+)>", pattern):
        rest = {start: {**values} for start, values in found.items()}
        for junk in NUMBERS if kind == "int" else map(_quoted, filter(None, JUNK)):
            for values in rest.values():
                values[name] = junk
            paths.append(filled(pattern, rest or {pattern: {name: junk}}))
    return [path for path in paths if path != whole and len(path) < 8000]


def _quoted(junk: str) -> str:
    return quote(junk, safe="", errors="surrogatepass")


class JunkSent:
    """To be mixed into a test that has a town and its people."""

    def test_junk_in_any_parameter_of_any_address_is_no_error(self):
        """Ask each address for junk in its path, and in what its view or its pages ask it for."""
        asked, wrong, tried = self._asked(), [], 0
        for name, pattern in addresses():
            letters = TABLE.get(name) or "M"
            whole = filled(pattern, self.found)
            links = [
                f"{whole}?{coded({key: junk})}"
                for key in sorted(self._read(whole) | asked.get(name, set()))
                for junk in JUNK
            ]
            for path in share(links) + share(junk_places(pattern, self.found), 1):
                for letter in {letters[0], "N"} if SHARE > 1 else set(letters) | {"N"}:
                    wrong += self._answered(letter, path)
                    tried += 1
        assert tried > 1000, tried
        assert not wrong, "\n".join(wrong)

    def _asked(self) -> dict[str, set[str]]:
        """Return what the pages of the town ask of each address, by the address's name."""
        found: dict[str, set[str]] = {}
        for letter in {*self.walkers()} - {"N"}:
            for path in self.places(letter):
                for link in self.page(letter, path).links:
                    there, _, query = link.partition("?")
                    if query and not there.startswith("/static/"):
                        keys = {part.split("=")[0] for part in query.split("&")}
                        found.setdefault(resolve(there).view_name, set()).update(keys)
        return found

    @staticmethod
    def _read(path: str) -> set[str]:
        """Return the parameters that the module of an address's view reads by name."""
        view = inspect.unwrap(resolve(path).func)
        view = getattr(view, "view_class", view)
        named = set(getattr(view, "parameters", ())) | (OGC if path.endswith("/items") else set())
        return named | set(READ.findall(inspect.getsource(inspect.getmodule(view))))

    def _answered(self, letter: str, path: str) -> Iterator[str]:
        fault = None
        with transaction.atomic():
            answer = self.clients[letter].get(path)
            try:
                for _ in answer.streaming_content if answer.streaming else ():
                    pass
            except Exception as error:  # the answer had begun
                fault = error
            transaction.set_rollback(True)
        if fault or answer.status_code >= 500:
            yield f"{fault or answer.status_code} as {letter}: {path[:200]}"


def junk_posted(client, address: str, form: Form, sent: dict) -> Iterator[str]:
    """Send a form that is right but for junk in one field; yield where that is an error."""
    names = [one.name for one in form.fields if one.name and one.kind not in ("button", "file")]
    names = [name for name in dict.fromkeys(names) if not name.endswith("token")]
    for name, junk in share([(name, junk) for name in names for junk in JUNK]):
        given = {key: value for key, value in sent.items() if not callable(value)}
        with transaction.atomic():
            answer = client.post(
                address, coded({**given, name: junk}), "application/x-www-form-urlencoded"
            )
            transaction.set_rollback(True)
        if answer.status_code >= 500:
            yield f"{answer.status_code} at {address}: {name} is {junk[:40]!r}"


def _not_theirs(test, address: str) -> set[str]:
    """Return the contractors who do not see the order that an address is about."""
    order = ORDER.match(address)
    told = (
        {letter: test.clients[letter].get(order[0]).status_code for letter in "CK"} if order else {}
    )
    return {letter for letter, status in told.items() if status == 404}


def taken_by_others(test, view: str, letter: str, address: str, sent: dict) -> Iterator[str]:
    """Send a whole, right form as everybody who may not; yield who was not refused.

    Whoever may send one, but about their own: the other contractor is told of no such thing.
    """
    may = set(TABLE.get(view) or OF_MORE[view])
    others = set(test.clients) - may
    if resolve(address.split("?")[0]).kwargs:
        others |= {"C": {"K"}, "K": {"C"}}.get(letter, set())
        if address.startswith("/own/"):
            others = set(test.clients) - {letter, *OWN.get(view, "")}
        elif letter in "MPA" and {"C", "K"} <= may:
            others |= _not_theirs(test, address)
    for other in sorted(others):
        given = {key: value() if callable(value) else value for key, value in sent.items()}
        with transaction.atomic():
            answer = test.clients[other].post(address, given)
            transaction.set_rollback(True)
        led = answer.status_code == 302 and "/sign-in/" in answer["Location"]
        if answer.status_code not in (401, 403, 404) and not led:
            yield f"{answer.status_code} to {other}: {address}"
