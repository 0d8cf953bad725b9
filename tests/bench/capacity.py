"""How far a machine reaches: each kind of answer measured alone, then a queue simulated.

    DATA_DIR=FOLDER python -m tests.bench capacity

What an answer costs is asked one after another, so that nobody waits. A queue of as many servers
as the machine has processors (first come, first served; ciw) then says what people would wait at a
load, and two loads are measured beside it. The same queue says how many processors web servers
need for what `NEEDED` asks. The crowd of the benchmark runs on the same processors, so its own
cost counts in what is compared, and not in what is needed.
"""

import argparse
import os
import random
import time
from collections import defaultdict

import ciw

from tests.bench import load
from tests.bench.rows import machine, p50_p95

EACH, WANTED_MS = 400, 300
SIMULATED_S = 120
# Whoever comes: look-ups and answers of staff a second. A crew asks for something every 20 s while
# it is on a job (an assumption); 50 people at desks as in the load.
NEEDED = {"look-ups": 2000.0, "crews": 500 / 20, "desks": 50 / load.THINK_S}
GROWTH = 1.25  # what a page costs at ten times the lines: see "Pages" in docs/performance.md


def measured_alone(server: int, cookie: str, lines: list) -> dict[str, dict]:
    """Return by side (public, staff): each wait in s, and the mean cost by who bore it, in s."""
    found, chance = {}, random.Random(3)
    for side in ("public", "staff"):
        for asked in range(2 * EACH):  # the first half fills caches
            if asked == EACH:
                load.FOUND.clear()
                before = (load.processor_s(server), load.database_s(), time.process_time())
            if side == "public":
                load.ask(*load.look_up(chance, lines), host=f"127.2.{asked % 4}.{asked % 250 + 1}")
            else:
                kind, path, sent = load.staff_act(chance, lines)
                load.ask(kind, path, cookie=cookie, sent=sent)
        after = (load.processor_s(server), load.database_s(), time.process_time())
        web, database, crowd = ((b - a) / EACH for a, b in zip(before, after, strict=True))
        waits = [ms / 1000 for answers in load.FOUND.values() for ms, *_ in answers]
        found[side] = {"waits": waits, "web": web, "database": database, "crowd": crowd}
        writes = [ms for ms, *_ in load.FOUND.get("staff, evidence", ())]
        found[side]["write_ms"] = sum(writes) / len(writes) if writes else 0.0
    load.FOUND.clear()
    return found


def simulated(rates: dict[str, float], costs: dict[str, list], servers: int) -> dict[str, tuple]:
    """Return p50 and p95 in ms by side, for arrivals a second and samples of cost in s."""
    ciw.seed(1)
    network = ciw.create_network(
        arrival_distributions={side: [ciw.dists.Exponential(rates[side])] for side in rates},
        service_distributions={side: [ciw.dists.Empirical(costs[side])] for side in rates},
        number_of_servers=[servers],
    )
    simulation = ciw.Simulation(network)
    simulation.simulate_until_max_time(SIMULATED_S)
    waits = defaultdict(list)
    for one in simulation.get_all_records():
        waits[one.customer_class].append((one.exit_date - one.arrival_date) * 1000)
    return {side: p50_p95(found) for side, found in waits.items()}


def measured_at(lookups: float, people: list[str], lines: list, seconds: int) -> dict[str, tuple]:
    """Return rate, p50 and p95 in ms by side, as people met them."""
    load.FOUND.clear()
    with load.crowd_until(time.perf_counter() + seconds, people, lines, lookups):
        pass
    load.FOUND.pop("asked")
    found = defaultdict(list)
    for kind, answers in load.FOUND.items():
        found[kind.partition(",")[0]] += [ms for ms, *_ in answers]
    return {side: (len(ms) / seconds, *p50_p95(ms)) for side, ms in found.items()}


def fewest_servers(rates: dict[str, float], costs: dict[str, list]) -> tuple[int, tuple]:
    """Return the fewest processors at which p95 of the public stays within what is wanted."""
    load_s = sum(rates[side] * sum(costs[side]) / len(costs[side]) for side in rates)
    servers = int(load_s) + 1
    while (found := simulated(rates, costs, servers)["public"])[1] > WANTED_MS:
        servers += 1
    return servers, found


def main() -> None:
    """Measure alone, compare at two loads, and say what is needed."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seconds", type=int, default=60)
    asked.add_argument("--lookups", type=float, nargs=2, default=(60, 120))
    given = asked.parse_args()
    rows, lines = load.sampled_lines()
    cookies, server = load.people(50), load.begun()
    try:
        alone = measured_alone(server.pid, cookies[0], lines)
        met = {
            lookups: measured_at(lookups, cookies, lines, given.seconds)
            for lookups in given.lookups
        }
    finally:
        server.terminate()
        server.wait()
    print(f"{machine()}; {rows:,} lines.\n")
    print("Alone, milliseconds of processor time an answer:\n")
    print("| asked by | web server | database | the crowd itself | waited p50, p95 |")
    print("|---|---|---|---|---|")
    for side, one in alone.items():
        cost = " | ".join(f"{one[who] * 1000:.1f}" for who in ("web", "database", "crowd"))
        p50, p95 = p50_p95([wait * 1000 for wait in one["waits"]])
        print(f"| {side} | {cost} | {p50:.0f}, {p95:.0f} |")
    print("\nPeople's waits in ms, measured and simulated:\n")
    print("| asked by | a second | measured p50, p95 | simulated p50, p95 | p95, times |")
    print("|---|---|---|---|---|")
    costs = {side: one["waits"] for side, one in alone.items()}
    for found in met.values():
        rates = {side: rate for side, (rate, *_) in found.items()}
        said = simulated(rates, costs, os.cpu_count())
        for side, (rate, p50, p95) in found.items():
            told = "{:.0f}, {:.0f}".format(*said[side])
            off = p95 / said[side][1]
            print(f"| {side} | {rate:.1f} | {p50:.0f}, {p95:.0f} | {told} | {off:.1f} |")
    tell_what_is_needed(alone, rows)


def tell_what_is_needed(alone: dict[str, dict], rows: int) -> None:
    """Print how many processors what is needed takes, and where its limits lie."""
    rates = {"public": NEEDED["look-ups"], "staff": NEEDED["crews"] + NEEDED["desks"]}
    served = {}
    for side, one in alone.items():
        share = (one["web"] + one["database"]) / (one["web"] + one["database"] + one["crowd"])
        served[side] = [wait * share * GROWTH for wait in one["waits"]]
    servers, (p50, p95) = fewest_servers(rates, served)
    database = sum(rates[side] * alone[side]["database"] * GROWTH for side in rates)
    print(
        f"\n{NEEDED['look-ups']:,.0f} look-ups a second, 500 crews and 50 people at desks on ten "
        f"times {rows:,} lines (each answer reckoned {GROWTH} times as dear): {servers} processors "
        f"for web servers and database together, {database:.1f} of them for the database; then "
        f"simulated p50 {p50:.0f} ms, p95 {p95:.0f} ms in public."
    )
    if write := alone["staff"]["write_ms"]:
        print(
            f"\nThe next limit: on SQLite one writes at a time, so {1000 / write:.0f} statements "
            f"of evidence a second at the most, whatever the processors ({rates['staff'] / 20:.1f} "
            "are asked for here); on PostgreSQL the primary's processors, as web machines and "
            "replicas add none for what is written."
        )


if __name__ == "__main__":
    main()
