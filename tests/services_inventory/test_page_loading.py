"""Every address has the view it names; what asks an address for its view is given the view."""

import pytest
from django.urls import URLPattern, resolve, reverse

from services_inventory.page_loading import (
    PageAddress,
    every_view,
    loaded_when_asked,
    path,
    re_path,
)
from services_inventory.views.lines import LineListView

with loaded_when_asked(__name__):
    from services_inventory.views import liens, lines


def test_every_address_has_a_view_that_can_be_called():
    """A misspelled name is found here."""
    views = every_view()
    assert len(views) > 200
    assert not [view for view in views if isinstance(view, type) or not callable(view)]


def test_an_address_gives_the_view_itself():
    found = resolve(reverse("line_list"))
    assert found.func.view_class is LineListView
    assert resolve(reverse("api_orders")).func.csrf_exempt
    assert not hasattr(found.func, "csrf_exempt")


def test_an_address_makes_its_view_once():
    address = path("lines/", lines.LineListView, name="lines")
    assert isinstance(address, PageAddress)
    assert address.callback is address.callback
    assert address.callback.view_class is LineListView


@pytest.mark.parametrize("written", [path, re_path])
def test_an_address_is_read_as_django_reads_its_own(written):
    """Of Django's own kind: what walks the addresses asks for that."""
    address = written("lines/", lines.LineListView)
    assert isinstance(address, URLPattern)
    assert address.check() == []
    assert address.resolve("lines/").func is address.callback


@pytest.mark.parametrize(
    ("view", "error", "named"),
    [
        (lines.LineListVeiw, AttributeError, "LineListVeiw"),
        (liens.LineListView, ModuleNotFoundError, "services_inventory.views.liens"),
    ],
)
def test_a_misspelled_name_is_an_error_when_it_is_loaded(view, error, named):
    address = path("lines/", view)
    with pytest.raises(error, match=named):
        address.callback  # noqa: B018


def test_imports_of_other_modules_are_as_ever_meanwhile():
    with loaded_when_asked("somebody.else"):
        from services_inventory.views.lines import LineListView as imported
    assert imported is LineListView
