"""Server time of the pages people wait for, over any number of lines.

    python -m tests.bench.pages --lines 1000000

Each page is asked as a signed-in program manager, in process, after one request that warms up.
Depth is reached by following "next", and by places behind lines picked at random.
"""

import random
import re
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html import unescape
from urllib.parse import quote

from tests.bench.rows import machine, p50_p95, processor_s

SAMPLES = 30
MUST_MS = (25, 60)
PAST, OF_PAST_DAYS = "counts, a past day", (2000, 2000)
HEADINGS = ("page", "p50 ms", "p95 ms", "waited p50", "waited p95", "must", "reached")
NEXT = re.compile(r'href="(\?[^"]*after=[^"]*)"')


@dataclass(frozen=True)
class Timed:
    """What a page cost in processor time and how long it was waited for: p50 and p95, in ms."""

    page: str
    worked: tuple[float, float]
    waited: tuple[float, float]
    must: tuple[float, float]

    def cells(self) -> tuple[str, ...]:
        """Return the row of the table."""
        within = all(found <= most for found, most in zip(self.worked, self.must, strict=True))
        figures = (f"{figure:.1f}" for figure in (*self.worked, *self.waited))
        return (self.page, *figures, "{:g}, {:g}".format(*self.must), "yes" if within else "no")


def as_table(rows: list[Timed]) -> str:
    """Return a Markdown table."""
    lines = [HEADINGS, ("---",) * len(HEADINGS), *(row.cells() for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def measure(wanted: str = "") -> list[Timed]:
    """Return p50 and p95 of every page, or of those whose name has a part."""
    from django.contrib.auth.models import Group, User
    from django.test import Client

    from program.roles import PROGRAM_MANAGER

    user, _ = User.objects.get_or_create(username="bench")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client = Client(headers={"host": "localhost"})
    client.force_login(user)
    rows = []
    for name, addresses in _pages(client).items():
        if wanted not in name:
            continue
        try:
            samples = [_milliseconds(client, address) for address in addresses][1:]
        except NotThere as missing:
            print(f"left out: {missing}", file=sys.stderr)
            continue
        worked, waited = zip(*samples, strict=True)
        must = OF_PAST_DAYS if name.startswith(PAST) else MUST_MS
        rows.append(Timed(name, p50_p95(worked), p50_p95(waited), must))
    return rows


class NotThere(Exception):
    """The program has no such page."""


def _milliseconds(client, address: str) -> tuple[float, float]:
    """Return the processor time to the last byte, the database's with it, and the clock's."""
    began, busy = time.perf_counter(), processor_s()
    answer = client.get(address)
    for _ in answer if answer.streaming else ():
        pass
    took = (processor_s() - busy) * 1000, (time.perf_counter() - began) * 1000
    if answer.status_code != 200:
        raise NotThere(f"{address} answers {answer.status_code}")
    return took


def _address(name: str, *arguments) -> str:
    from django.urls import NoReverseMatch, reverse

    try:
        return reverse(name, args=arguments)
    except NoReverseMatch as missing:
        raise NotThere(f"no page is called {name}") from missing


def _pages(client) -> dict[str, Iterator[str]]:
    """Return the addresses to time, by what they show."""
    from services_inventory.models import Neighborhood, ServiceLine

    chance = random.Random(1)
    ids = list(ServiceLine.objects.order_by("id").values_list("id", flat=True))
    wards = list(Neighborhood.objects.values_list("id", flat=True))
    ward = wards[len(wards) // 2]

    def again(name: str, query: str = "") -> Iterator[str]:
        return (_address(name) + query for _ in range(SAMPLES))

    def each(name: str, keys: list[int], query: str = "") -> Iterator[str]:
        return (_address(name, chance.choice(keys)) + query for _ in range(SAMPLES))

    streets = ("mill", "12 Oak", "101 Harbor View 3", "Quarry 7 Ave", "Saint Anne")
    return {
        "list, first page": again("line_list"),
        "list, page after page": _onward(client, lambda: _address("line_list")),
        "list, from anywhere": _anywhere(chance, ids),
        "list by address, page after page": _onward(
            client, lambda: _address("line_list") + "?sort=address"
        ),
        "list, lead only": again("line_list", "?category=LEAD"),
        "list, lead only, page after page": _onward(
            client, lambda: _address("line_list") + "?category=LEAD"
        ),
        "list, one neighborhood, unknown": again(
            "line_list", f"?category=UNKNOWN&neighborhood={ward}"
        ),
        "list, rare combination": again(
            "line_list", "?system=LEAD&customer=PLASTIC&laid_from=1990&laid_to=1991"
        ),
        "list, address typed": (
            _address("line_list") + f"?address={chance.choice(streets)}" for _ in range(SAMPLES)
        ),
        "a line": each("line", ids),
        "neighborhoods": again("neighborhood_list"),
        "a neighborhood": each("neighborhood", wards),
        "counts, today": again("counts"),
        PAST: (_address("counts") + "?on=2026-06-30" for _ in range(6)),
        f"{PAST}, before everything": (_address("counts") + "?on=2026-01-01" for _ in range(6)),
        f"{PAST}, as was known then": (
            _address("counts") + "?on=2026-09-30&known=2026-08-31" for _ in range(6)
        ),
        "the public look-up": (
            _address("public:suggest") + f"?q={chance.randrange(200)}+mill" for _ in range(SAMPLES)
        ),
        "features for a map": (
            _address("ogc:items", "service_lines") + "?limit=100" for _ in range(SAMPLES)
        ),
    }


def _anywhere(chance: random.Random, ids: list[int]) -> Iterator[str]:
    """Yield pages that begin behind any line: what a link kept from last week opens."""
    from services_inventory.models import ServiceLine
    from services_inventory.queries.keyset import place_of
    from services_inventory.queries.lines import ORDERS

    for pk in chance.choices(ids, k=SAMPLES):
        place = place_of(ServiceLine.objects.get(pk=pk), ORDERS["id"])
        yield f"{_address('line_list')}?after={quote(place)}"


def _onward(client, start: Callable[[], str]) -> Iterator[str]:
    """Yield a page, the next, the next …; the page itself is asked once more to find its link."""
    first = start()
    address = first
    for _ in range(SAMPLES):
        yield address
        onward = NEXT.findall(client.get(address).content.decode())
        address = first.split("?")[0] + unescape(onward[-1]) if onward else first


def main() -> None:
    """Build, measure, print."""
    from tests.bench.inventory import options, record_of

    asked = options(__doc__, ("--only", {"default": "", "help": "pages whose name has this"}))
    with record_of(asked.lines, asked.keep):
        print(f"{machine()}; {asked.lines:,} lines\n")
        print(as_table(measure(asked.only)))


if __name__ == "__main__":
    main()
