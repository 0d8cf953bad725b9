"""Pages whose code is loaded when they are first asked for, so that a command starts at once.

`urls.py` writes its addresses as Django's own, and imports its modules of views where they are
not loaded yet; a class of views is named as it is:

    with loaded_when_asked(__name__):
        from replacements.views import orders

    path("orders/", orders.OrderListView, name="work_order_list")

To an editor, the type checker and the import contracts these are plain imports.

Whoever asks such an address for its view is given the view itself, loaded on the way; whoever
asks Django where a page is (`reverse`) has it ask every address. A web server does so before its
first visitor comes (`every_view`), and so does a test: a misspelled name stops both.
"""

import builtins
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property
from importlib import import_module
from importlib.util import resolve_name

from django import urls
from django.urls.resolvers import RegexPattern, RoutePattern, URLPattern, URLResolver

LARGEST = 2**63 - 1  # of what a database takes for the number of a record


class Page:
    """A view by its name: a function, or a class whose `as_view` makes one."""

    def __init__(self, module: str, name: str):
        self.module, self.name = module, name

    @cached_property
    def view(self) -> Callable:
        """Load the module and return the view."""
        found = getattr(import_module(self.module), self.name)
        return found.as_view() if isinstance(found, type) else found


class _Pages:
    """The views of a module that is not loaded yet."""

    def __init__(self, module: str):
        self._module = module

    def __getattr__(self, name: str) -> Page:
        return Page(self._module, name)


class _Package:
    """A package of which modules are named that are not loaded yet."""

    def __init__(self, package: str):
        self._package = package

    def __getattr__(self, name: str) -> _Pages:
        return _Pages(f"{self._package}.{name}")


class PageAddress(urls.URLPattern):
    """An address that loads its view when it is asked for it."""

    @property
    def callback(self) -> Callable:
        """Return the view."""
        return self._page.view

    @callback.setter
    def callback(self, page: Page):
        self._page = page

    def resolve(self, path: str):
        """Match an address, but not one with a number larger than any record's."""
        found = super().resolve(path)
        numbers = [n for n in found.kwargs.values() if isinstance(n, int)] if found else []
        return None if any(number > LARGEST for number in numbers) else found

    def _check_callback(self) -> list:
        """Leave this to `every_view`: a command's checks would otherwise load every page."""
        return []


@contextmanager
def loaded_when_asked(here: str) -> Iterator[None]:
    """Have `from package import module`, written below in the module `here`, load nothing yet."""
    plain = builtins.__import__

    def by_name(name, names=None, local_names=None, wanted=(), level=0):
        if not wanted or (names or {}).get("__name__") != here:
            return plain(name, names, local_names, wanted, level)
        return _Package(resolve_name("." * level + name, names["__package__"]))

    builtins.__import__ = by_name
    try:
        yield
    finally:
        builtins.__import__ = plain


def path(route: str, view, kwargs: dict | None = None, name: str | None = None):
    """Return the address of a page, or what Django's `path` returns for anything else."""
    if not isinstance(view, Page):
        return urls.path(route, view, kwargs, name)
    return PageAddress(RoutePattern(route, name=name, is_endpoint=True), view, kwargs, name)


def re_path(route: str, view: Page, kwargs: dict | None = None, name: str | None = None):
    """Return the address of a page, as a regular expression."""
    return PageAddress(RegexPattern(route, name=name, is_endpoint=True), view, kwargs, name)


def every_view() -> list[Callable]:
    """Load the view of every address of the program and return them."""
    return [address.callback for address in _addresses(urls.get_resolver().url_patterns)]


def _addresses(entries: list[URLPattern | URLResolver]) -> Iterator[URLPattern]:
    for entry in entries:
        if isinstance(entry, URLResolver):
            yield from _addresses(entry.url_patterns)
        else:
            yield entry
