"""The addresses of the program, a town to visit them in, and who visits."""

import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

from django.contrib.auth import get_user_model
from django.test import TestCase, override_settings
from django.urls import get_resolver

from fixtures.demo import build_demo
from program.clock import now
from program.operations.row_digests import row_digests_take
from program.operations.sealing import SETTLED, record_seal
from services_inventory.bulk import on_postgresql
from tests.access_table import TABLE
from tests.access_things import things
from tests.links_on_page import Links
from tests.page_forms import Form, Forms

PEOPLE = {"M": "manager", "P": "compliance", "A": "admin", "C": "heron", "K": "kestrel"}
HAMLET = 320


@dataclass(frozen=True)
class Page:
    """What an address answered: its status, where it led, and of a page its forms and links.

    grouped : attributes with a number as people write it, where machines read
    """

    status: int
    led_to: str
    forms: tuple[Form, ...] = ()
    links: tuple[str, ...] = ()
    grouped: tuple[str, ...] = ()


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


class Reader(HTMLParser):
    """Reads a page once for both that look at it."""

    def __init__(self, path: str, text: str):
        super().__init__()
        self.links, self.forms = Links(path), Forms()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Tell both."""
        self.links.handle_starttag(tag, attrs)
        self.forms.handle_starttag(tag, attrs)

    def handle_endtag(self, tag):
        """Tell both."""
        self.links.handle_endtag(tag)
        self.forms.handle_endtag(tag)

    def handle_data(self, data):
        """Tell the one that reads words."""
        self.forms.handle_data(data)


class TownTest(TestCase):
    """A small invented town, its record sealed, with everybody signed in."""

    people = PEOPLE

    @classmethod
    def setUpClass(cls):
        """Keep the hamlet's files in a folder of their own."""
        cls.folder = tempfile.TemporaryDirectory()
        root = Path(cls.folder.name)
        cls.kept = override_settings(
            DATA_DIR=root, MEDIA_ROOT=root / "files", AXES_ENABLED=False, RATELIMIT_ENABLE=False
        )
        cls.kept.enable()
        # Not in setUpTestData: of what is set there, each test would get a copy, so an empty one.
        cls.pages: dict[tuple[str, str], Page] = {}
        super().setUpClass()

    @classmethod
    def tearDownClass(cls):
        """Put the settings back."""
        super().tearDownClass()
        cls.kept.disable()
        cls.folder.cleanup()

    @classmethod
    def setUpTestData(cls):
        """Build the town."""
        cls.build()
        cls.found = things()
        row_digests_take(at=now())
        record_seal(at=now() + 2 * SETTLED)

    @classmethod
    def build(cls):
        """Build the invented town, small."""
        build_demo(say=lambda text: None, report=lambda done, total: None, lines=HAMLET)

    def setUp(self):
        """Sign everybody in."""
        root = Path(self.folder.name)
        own = self.settings(DATA_DIR=root, MEDIA_ROOT=root / "files")
        own.enable()
        self.addCleanup(own.disable)
        self.clients = {letter: self.client_class() for letter in (*self.people, "N")}
        for letter, client in self.clients.items():
            client.raise_request_exception = False
            if letter != "N":
                client.force_login(get_user_model().objects.get(username=self.people[letter]))

    def walkers(self) -> list[str]:
        """Return as whom to walk through all: who may is the same on PostgreSQL, where one does."""
        return ["M"] if on_postgresql() else list(self.clients)

    def asked(self, said: str) -> set[str]:
        """Return as whom to ask for a page that is for those said; on PostgreSQL, the first."""
        return {*said[:1], "N"} if on_postgresql() else {*self.clients}

    def page(self, letter: str, path: str) -> Page:
        """Return what an address answers a role; asked once, as every test finds the same town."""
        if (letter, path) not in self.pages:
            self.pages[letter, path] = self.visit(letter, path)
        return self.pages[letter, path]

    def visit(self, letter: str, path: str) -> Page:
        """Ask for an address as a role."""
        answer = self.clients[letter].get(path)
        told = answer.status_code, answer.get("Location", "")
        if answer.streaming:  # read to its end: to close it would close the test's connection
            for _ in answer.streaming_content:
                pass
        elif "text/html" in answer.get("Content-Type", ""):
            read = Reader(path, answer.content.decode())
            links = dict.fromkeys(read.links.links)
            return Page(*told, tuple(read.forms.found), tuple(links), tuple(read.links.grouped))
        return Page(*told)

    def places(self, letter: str) -> Iterator[str]:
        """Yield the addresses that a role may open, each about a thing that exists."""
        for name, pattern in addresses():
            if letter in TABLE.get(name, ""):
                yield filled(pattern, self.found)
