"""Every address, visited as every role and as nobody: open to whom it should be, to nobody else.

The list of addresses comes from the program itself. An address that is not in the table, or a
row whose address is gone, fails the test, so nothing is added without saying who may open it.
Things of one contractor are also asked for by the other, who must not learn that they exist.
"""

import re
import tempfile
from pathlib import Path

from django.contrib.auth import get_user_model
from django.test import TestCase, override_settings
from django.urls import Resolver404, get_resolver, resolve

from fixtures.demo import build_demo
from tests.access_table import TABLE
from tests.access_things import things
from tests.page_links import Page

PEOPLE = {"M": "manager", "P": "compliance", "A": "admin", "C": "heron", "K": "kestrel"}
REFUSALS = {401, 403, 404}
HAMLET = 320
# So many pages of one address, asked in the same words, are looked at as one role.
OF_A_KIND = 2
NOT_PAGES = ("/static/", "/accounts/", "/sign-out/")


def addresses(patterns=None, prefix="", space=""):
    """Yield (name with its namespace, pattern text) of every address but the account pages."""
    patterns = get_resolver().url_patterns if patterns is None else patterns
    for entry in patterns:
        text = prefix + str(entry.pattern)
        if text.startswith("accounts/"):
            continue
        if hasattr(entry, "url_patterns"):
            inner = f"{space}{entry.namespace}:" if entry.namespace else space
            yield from addresses(entry.url_patterns, text, inner)
        else:
            yield f"{space}{entry.name}", text


def filled(pattern: str, found: dict[str, object]) -> str:
    """Return the path of a pattern, its arguments taken from the longest prefix known."""
    prefix = max((start for start in found if pattern.startswith(start)), key=len, default="")
    values = found.get(prefix, {})
    return "/" + _written(pattern, values)


def _written(pattern: str, values: dict) -> str:
    """Return a pattern with its arguments written in, whether a path or a regular expression."""
    plain = re.sub(r"\(\?P<(\w+)>[^)]*\)", r"<\1>", pattern).replace("^", "").replace("$", "")
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda m: str(values.get(m[1], 1)), plain)


def who_opens(test: TestCase, path: str) -> str:
    """Return the letters of those whom a GET lets in (N for nobody signed in)."""
    letters = ""
    for letter, client in test.clients.items():
        client.raise_request_exception = False
        answer = client.get(path)
        status = answer.status_code
        letters += "!" if status >= 500 else ""
        to_sign_in = status == 302 and "/sign-in/" in answer["Location"] and path != "/sign-out/"
        if status not in REFUSALS and not to_sign_in:
            letters += letter
        if answer.streaming:  # read to its end: to close it would close the test's connection
            for _ in answer.streaming_content:
                pass
    return letters


def kind_of(link: str) -> tuple:
    """Return the name of a link's address and what it asks for, by which links are alike."""
    path, _, query = link.partition("?")
    asked = tuple(sorted(part.split("=")[0] for part in query.split("&") if part))
    try:
        return resolve(path).view_name, asked
    except Resolver404:
        return path, asked


def followed(client, starts: list[str]) -> list[str]:
    """Follow every kind of link from these pages on; return what a person would stumble over."""
    waiting, seen, kinds, wrong = [(start, "") for start in starts], set(), {}, []
    client.raise_request_exception = False
    while waiting:
        link, shown_on = waiting.pop(0)
        if link in seen or link.startswith(NOT_PAGES):
            continue
        kind = kind_of(link)
        if kinds.get(kind, 0) >= OF_A_KIND:
            continue
        seen.add(link)
        kinds[kind] = kinds.get(kind, 0) + 1
        answer = client.get(link)
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        if answer.status_code >= 400 and shown_on:
            wrong.append(f"{answer.status_code} at {link}, shown on {shown_on}")
        if answer.status_code == 302:
            waiting.append((answer["Location"], link))
        elif answer.get("Content-Type", "").startswith("text/html"):
            page = Page(link, body.decode())
            wrong += [f"{one} on {link}" for one in page.grouped]
            waiting += [(each, link) for each in page.links]
    return wrong


class EveryAddressTest(TestCase):
    """The whole address list against the table."""

    @classmethod
    def setUpClass(cls):
        """Keep the hamlet's files in a folder of their own."""
        cls.folder = tempfile.TemporaryDirectory()
        root = Path(cls.folder.name)
        cls.kept = override_settings(
            DATA_DIR=root, MEDIA_ROOT=root / "files", AXES_ENABLED=False, RATELIMIT_ENABLE=False
        )
        cls.kept.enable()
        super().setUpClass()

    @classmethod
    def tearDownClass(cls):
        """Put the settings back."""
        super().tearDownClass()
        cls.kept.disable()
        cls.folder.cleanup()

    @classmethod
    def setUpTestData(cls):
        """Build the invented town, small."""
        build_demo(say=lambda text: None, report=lambda done, total: None, lines=HAMLET)
        cls.found = things()

    def setUp(self):
        """Sign everybody in."""
        root = Path(self.folder.name)
        own = self.settings(DATA_DIR=root, MEDIA_ROOT=root / "files")
        own.enable()
        self.addCleanup(own.disable)
        self.clients = {}
        for letter, name in PEOPLE.items():
            self.clients[letter] = self.client_class()
            self.clients[letter].force_login(get_user_model().objects.get(username=name))
        self.clients["N"] = self.client_class()

    def test_every_address_is_open_to_whom_the_table_says_and_to_nobody_else(self):
        """Visit everything as everybody."""
        wrong = []
        for name, pattern in addresses():
            said = TABLE.get(name)
            opens = who_opens(self, filled(pattern, self.found))
            if said is None or set(said) != set(opens):
                wrong.append(f'    "{name}": "{opens}",  # said {said}')
        assert not wrong, "\n" + "\n".join(wrong)

    def test_the_table_names_no_address_that_is_gone(self):
        """Keep the table in step."""
        assert set(TABLE) <= {name for name, _ in addresses()}

    def test_every_link_leads_where_its_reader_may_go_and_no_id_is_written_for_people(self):
        """Follow links from every page as every role; the ids stand above a million."""
        wrong = []
        for letter, client in self.clients.items():
            starts = [filled(p, self.found) for n, p in addresses() if letter in TABLE.get(n, "")]
            wrong += [f"{letter}: {one}" for one in followed(client, starts)]
        assert not wrong, "\n  ".join(["", *wrong])

    def test_no_list_of_a_contractor_shows_the_other_ones_work(self):
        """Read each list as one contractor and look for the other's numbers."""
        from replacements.models import WorkOrder

        others = set(
            WorkOrder.objects.filter(contractor__members__user__username="kestrel").values_list(
                "number", flat=True
            )
        )
        for name, pattern in addresses():
            if "C" in TABLE.get(name, "") and "<" not in pattern:
                answer = self.clients["C"].get("/" + pattern)
                body = b"".join(answer.streaming_content) if answer.streaming else answer.content
                numbers = set(re.findall(rb"(?<![A-Z])W-\d{6}(?!_)", body))
                seen = [number for number in others if number.encode() in numbers]
                assert not seen, f"/{pattern} shows {seen[0]} of another contractor"
