"""The links of a page, and where it shows a number as no machine would read it."""

import re
from html.parser import HTMLParser
from urllib.parse import urlencode, urljoin, urlsplit

# Attributes that a person reads; a number may be written there as people write it.
FOR_PEOPLE = {
    *("data-label", "title", "aria-label", "alt", "placeholder", "content", "style", "points", "d"),
}
GROUPED = re.compile(r"(?<![\d.])\d{1,3}(?:,\d{3})+(?![\d.])")


class Links(HTMLParser):
    """The links of a page, the queries that its GET forms can ask, and its grouped numbers."""

    def __init__(self, address: str):
        """Begin; `feed` reads a page."""
        super().__init__()
        self.address, self.links, self.grouped = address, [], []
        self._form, self._select = None, ""

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
