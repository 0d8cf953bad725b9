"""What a page leads to, and where it shows a number as no machine would read it."""

import re
from collections import Counter
from html.parser import HTMLParser
from urllib.parse import urlencode, urljoin, urlsplit

from django.urls import Resolver404, resolve

# Attributes that a person reads; a number may be written there as people write it.
FOR_PEOPLE = {
    *("data-label", "title", "aria-label", "alt", "placeholder", "content", "style", "points", "d"),
}
GROUPED = re.compile(r"(?<![\d.])\d{1,3}(?:,\d{3})+(?![\d.])")


class Page(HTMLParser):
    """The links of a page, the queries that its GET forms can ask, and its grouped numbers."""

    def __init__(self, address: str, text: str):
        """Read the page at once."""
        super().__init__()
        self.address, self.links, self.grouped = address, [], []
        self._form, self._select = None, ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Note what this tag leads to or asks."""
        given = {name: value or "" for name, value in attrs}
        for name, value in given.items():
            if name not in FOR_PEOPLE and GROUPED.search(value):
                self.grouped.append(f'<{tag} {name}="{value[:60]}">')
            asked = name.startswith("data-") and name != "data-pages" and value.startswith("/")
            if name in ("href", "src") or asked:  # a script adds the number to data-pages
                self._lead(value)
        if tag == "form":
            asks = given.get("method", "get").lower() == "get"
            self._form = (given.get("action") or self.address) if asks else None
        elif tag == "select":
            self._select = given.get("name", "")
        elif tag == "option" and self._form and self._select and given.get("value"):
            self._ask(self._select, given["value"])
        elif tag == "input" and self._form and given.get("type") in ("hidden", "radio"):
            self._ask(given.get("name", ""), given.get("value", ""))

    def handle_endtag(self, tag):
        """Leave a form or a choice."""
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = ""

    def _ask(self, name: str, value: str) -> None:
        self._lead(f"{self._form.split('?')[0]}?{urlencode({name: value})}")

    def _lead(self, link: str) -> None:
        whole = urlsplit(urljoin(self.address, link))
        if not whole.netloc and whole.scheme in ("", "http") and whole.path.startswith("/"):
            self.links.append(whole.path + (f"?{whole.query}" if whole.query else ""))


# So many pages of one address, asked in the same words, are looked at as one role.
OF_A_KIND = 2
NOT_PAGES = ("/static/", "/accounts/", "/sign-out/")


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
    waiting, seen, kinds, wrong = [(start, "") for start in starts], set(), Counter(), []
    while waiting:
        link, shown_on = waiting.pop(0)
        kind = kind_of(link)
        if link in seen or link.startswith(NOT_PAGES) or kinds[kind] >= OF_A_KIND:
            continue
        seen.add(link)
        kinds[kind] += 1
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


class LinksFollowed:
    """Every link leads where its reader may go, and no id is written for people."""

    def test_every_link_leads_where_its_reader_may_go_and_no_id_is_written_for_people(self):
        """Follow links from every page as every role; the ids stand above a million."""
        wrong = []
        for letter, client in self.clients.items():
            wrong += [f"{letter}: {one}" for one in followed(client, list(self.places(letter)))]
        assert not wrong, "\n  ".join(["", *wrong])
