"""How often the 90 % intervals of expected lead hold the truth, by simulation.

python -m tests.bench coverage --towns 200

Each town is invented: log odds of lead by decade, neighborhood and cell, lines spread unevenly
over both, and some of them verified at random. The interval of the number of lead lines among the
unknown ones is made as the plan makes it, for each neighborhood and for the town; the table counts
how often it holds the number that the invention knows.
"""

import argparse
from itertools import product

import numpy as np
from scipy.special import expit

from program.planning.unknowns import LineFeatures, interval, lead_shares

DECADES = tuple(range(1890, 1980, 10))
LEVEL, BY_DECADE, BY_HOOD, BY_CELL = -1.8, 0.8, 0.7, 0.4  # 14 % in the middle; log odds
FEWEST = 10  # unknown lines from which a neighborhood counts
DRAWS = 1_000


def invented(rng, hoods: int, verified: int, unknown: int):
    """Return verified lines, unknown lines, and the number of lead by neighborhood among those."""
    size = hoods, len(DECADES)
    shares = expit(
        LEVEL
        + rng.normal(0, BY_DECADE, len(DECADES))
        + rng.normal(0, BY_HOOD, (hoods, 1))
        + rng.normal(0, BY_CELL, size)
    )
    spread = rng.dirichlet(np.full(shares.size, 0.5))
    seen, not_seen = (
        rng.multinomial(number, spread).reshape(size) for number in (verified, unknown)
    )
    found, hidden = rng.binomial(seen, shares), rng.binomial(not_seen, shares)
    lines, open_lines = [], []
    for hood, at in product(range(hoods), range(len(DECADES))):
        place = {"lat": None, "lon": None, "neighborhood": f"H{hood:02}", "decade": DECADES[at]}
        lines += [
            LineFeatures("", is_lead=number < found[hood, at], **place)
            for number in range(seen[hood, at])
        ]
        open_lines += [LineFeatures("", **place)] * int(not_seen[hood, at])
    return lines, open_lines, {f"H{hood:02}": int(hidden[hood].sum()) for hood in range(hoods)}


def coverage(hoods: int, verified: int, unknown: int, towns: int, seed: int = 1) -> dict:
    """Return the shares of towns and of neighborhoods whose number lay within its interval."""
    rng = np.random.default_rng(seed)
    town_held, hood_held, hood_count = 0, 0, 0
    for town in range(towns):
        lines, open_lines, hidden = invented(rng, hoods, verified, unknown)
        shares = lead_shares(lines).by_neighborhood(open_lines, DRAWS, town)
        sizes = dict.fromkeys(shares, 0)
        for line in open_lines:
            sizes[line.neighborhood] += 1
        whole = sum(sizes[hood] * share for hood, share in shares.items()) / unknown
        low, high = interval(unknown, whole)
        town_held += low <= sum(hidden.values()) <= high
        for hood, size in sizes.items():
            if size >= FEWEST:
                low, high = interval(size, shares[hood])
                hood_held += low <= hidden[hood] <= high
                hood_count += 1
    return {"town": town_held / towns, "neighborhood": hood_held / hood_count}


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--towns", type=int, default=200)
    towns = options.parse_args().towns
    print("| neighborhoods | verified | unknown | town in 90 % | neighborhood in 90 % |")
    print("|---|---|---|---|---|")
    settings = product((5, 20, 77), ((50, 500), (120, 2_000), (300, 10_000), (1_000, 100_000)))
    for hoods, (verified, unknown) in settings:
        held = coverage(hoods, verified, unknown, towns)
        print(
            f"| {hoods} | {verified:,} | {unknown:,} | {held['town']:.1%} "
            f"| {held['neighborhood']:.1%} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
