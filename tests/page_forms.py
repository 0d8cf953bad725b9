"""The forms that pages show: read out of a page's HTML, and filled as a person might."""

from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass
class Field:
    """A field as its page shows it; of a choice, what can be chosen."""

    kind: str
    name: str
    value: str = ""
    given: dict = field(default_factory=dict)
    options: list[str | None] = field(default_factory=list)


@dataclass
class Form:
    """A form that sends something: where to, and its fields."""

    action: str
    fields: list[Field] = field(default_factory=list)

    @property
    def buttons(self) -> list[Field]:
        """The buttons that say which of several acts is meant, or one that says nothing."""
        return [f for f in self.fields if f.kind == "button" and f.name] or [Field("button", "")]

    def standing(self) -> dict[str, list[str]]:
        """Return what a browser would send of the form as the page shows it, buttons left out."""
        sent: dict[str, list[str]] = {}
        for one in self.fields:
            if not one.name or one.kind in ("button", "file"):
                continue
            if one.kind in ("checkbox", "radio") and "checked" not in one.given:
                continue
            sent.setdefault(one.name, []).append(one.value)
        return sent


class Forms(HTMLParser):
    """The forms of a page that send something."""

    def __init__(self, page: str = ""):
        super().__init__()
        self.found: list[Form] = []
        self._form: Form | None = None
        self._open: Field | None = None
        self._off: list[bool] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        """Collect a form, or a field of the one that is open."""
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = Form(given.get("action", ""))
            if given.get("method", "").lower() == "post":
                self.found.append(self._form)
        elif tag == "fieldset":
            self._off.append("disabled" in given)
        elif self._form is not None and tag in ("input", "textarea", "button", "select"):
            if any(self._off):  # a browser sends nothing of it
                return
            kind = given.get("type", "text") if tag == "input" else tag
            value = given.get("value", "on" if kind in ("checkbox", "radio") else "")
            self._open = Field(kind, given.get("name", ""), value, given)
            self._form.fields.append(self._open)
        elif tag == "option" and self._open is not None and self._open.kind == "select":
            self._open.options.append(given.get("value"))
            if "selected" in given or len(self._open.options) == 1:
                self._open.value = given.get("value") or ""

    def handle_data(self, data):
        """Take up the words of a text field, and of a choice that has no other value."""
        if self._open is not None and self._open.kind == "textarea":
            self._open.value += data
        if self._open is not None and self._open.options[-1:] == [None]:
            self._open.options[-1] = data.strip()

    def handle_endtag(self, tag):
        """Close a form or a field."""
        if tag == "form":
            self._form = None
        if tag == "fieldset":
            self._off.pop()
        if tag == "textarea" and self._open is not None:
            self._open.value = self._open.value.removeprefix("\n").strip("\r")
        if tag in ("textarea", "select"):
            self._open = None
