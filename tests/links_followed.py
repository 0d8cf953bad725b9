"""What a page leads to, and where it shows a number as no machine would read it."""

from collections import Counter
from functools import cache

from django.urls import Resolver404, resolve

from tests.access_walk import TownTest
from tests.examples import SHARE

# So many pages of one address, asked in the same words, are looked at as one role.
OF_A_KIND = 2 if SHARE == 1 else 1
NOT_PAGES = ("/static/", "/accounts/", "/sign-out/")


@cache
def kind_of(link: str) -> tuple:
    """Return the name of a link's address and what it asks for, by which links are alike."""
    path, _, query = link.partition("?")
    asked = tuple(sorted(part.split("=")[0] for part in query.split("&") if part))
    try:
        return resolve(path).view_name, asked
    except Resolver404:
        return path, asked


def followed(test: TownTest, letter: str) -> list[str]:
    """Follow every kind of link from a role's pages on; return what a person would stumble over."""
    waiting = [(start, "") for start in test.places(letter)]
    seen, kinds, wrong = set(), Counter(), []
    while waiting:
        link, shown_on = waiting.pop(0)
        kind = kind_of(link)
        if link in seen or link.startswith(NOT_PAGES) or kinds[kind] >= OF_A_KIND:
            continue
        seen.add(link)
        kinds[kind] += 1
        page = test.page(letter, link)
        if page.status >= 400 and shown_on:
            wrong.append(f"{page.status} at {link}, shown on {shown_on}")
        if page.status == 302:
            waiting.append((page.led_to, link))
        wrong += [f"{one} on {link}" for one in page.grouped]
        waiting += [(each, link) for each in page.links]
    return wrong


class LinksFollowed:
    """Every link leads where its reader may go, and no id is written for people."""

    def test_every_link_leads_where_its_reader_may_go_and_no_id_is_written_for_people(self):
        """Follow links from every page as every role; the ids stand above a million."""
        wrong = []
        for letter in self.walkers():
            wrong += [f"{letter}: {one}" for one in followed(self, letter)]
        assert not wrong, "\n  ".join(["", *wrong])
