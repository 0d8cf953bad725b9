"""Server time of the pages people wait for, over any number of lines.

    python -m tests.bench.pages --lines 1000000

Each page is asked as a signed-in program manager, in process, after one request that warms up.
Depth is reached by following "next", and by places behind lines picked at random.
"""

import argparse
import random
import re
import sys
import time
from collections.abc import Callable, Iterator
from html import unescape
from urllib.parse import quote

from tests.bench.rows import Measured, as_table, machine, p50_p95

SAMPLES = 60
MUST_MS, AIM_MS = (25, 60), (15, 40)
PAST, OF_PAST_DAYS = "counts, a past day", ((2000, 2000), (1000, 1000))
NEXT = re.compile(r'href="(\?[^"]*after=[^"]*)"')


def measure() -> list[Measured]:
    """Return p50 and p95 of every page; a page that does not exist yet is left out."""
    from django.contrib.auth.models import Group, User
    from django.test import Client

    from program.roles import PROGRAM_MANAGER

    user = User.objects.create_user("bench")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client = Client(headers={"host": "localhost"})
    client.force_login(user)
    rows = []
    for name, addresses in _pages(client).items():
        try:
            samples = [_milliseconds(client, address) for address in addresses][1:]
        except NotThere as missing:
            print(f"left out: {missing}", file=sys.stderr)
            continue
        waited, worked = zip(*samples, strict=True)
        goals = OF_PAST_DAYS if name == PAST else (MUST_MS, AIM_MS)
        at = zip(("p50", "p95"), p50_p95(waited), p50_p95(worked), *goals, strict=True)
        for share, figure, busy, must, aim in at:
            note = f"{busy:.1f} ms of it this process's own work"
            rows.append(Measured(f"{name}, {share}", figure, "ms", None, must, aim, note))
    return rows


class NotThere(Exception):
    """The program has no such page."""


def _milliseconds(client, address: str) -> tuple[float, float]:
    """Return the time to the last byte, and how much of it this process was working."""
    began, busy = time.perf_counter(), time.process_time()
    answer = client.get(address)
    for _ in answer if answer.streaming else ():
        pass
    took = (time.perf_counter() - began) * 1000, (time.process_time() - busy) * 1000
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
    from services_inventory.models import Neighbourhood, ServiceLine

    chance = random.Random(1)
    ids = list(ServiceLine.objects.order_by("id").values_list("id", flat=True))
    wards = list(Neighbourhood.objects.values_list("id", flat=True))
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
        "list, one neighbourhood, unknown": again(
            "line_list", f"?category=UNKNOWN&neighbourhood={ward}"
        ),
        "list, rare combination": again(
            "line_list", "?system=LEAD&customer=PLASTIC&laid_from=1990&laid_to=1991"
        ),
        "list, address typed": (
            _address("line_list") + f"?address={chance.choice(streets)}" for _ in range(SAMPLES)
        ),
        "a line": each("line", ids),
        "neighbourhoods": again("neighbourhood_list"),
        "a neighbourhood": each("neighbourhood", wards),
        "counts, today": again("counts"),
        PAST: (_address("counts") + "?on=2028-02-29" for _ in range(5)),
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
    from tests.bench.inventory import database_of_its_own, engine, take_in_lines

    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--lines", type=int, default=100_000)
    lines = options.parse_args().lines
    with database_of_its_own() as folder:
        take_in_lines(lines, folder)
        print(f"{machine()}; {engine()}; {lines:,} lines\n")
        print(as_table(measure()))


if __name__ == "__main__":
    main()
