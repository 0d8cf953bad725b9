"""What estimates say by soil and length, and how often: a yellow that is always on is not read.

python -m tests.bench verdicts --lines 400

First the common case with nothing left open, 3/4 in. lead to 1 in. polyethylene behind the tests'
own string, 4 ft under, in every soil; then every estimate of an invented town of so many lines.
"""

import argparse
import math
import os
import tempfile
from collections import Counter
from itertools import product

import django

from replacements.domain.pipes import grip_efficiency, least_bend_radius
from replacements.domain.pull_force import (
    Limit,
    PullCase,
    RigidString,
    estimate,
    soils,
)
from replacements.domain.pull_force.verdict import part_told, use_told
from replacements.domain.tool_strings import Kind, StringCase, strength
from tests.replacements.domain.tools import DAY, FIGURES, NEW, OLD, good_string

LENGTHS_FT = (20, 40, 60)
ANCHOR_LBF = 9_000
READ = {"resin": "PE4710", "temperature_f": 73.0}


def common_case(soil: str, length_ft: float, **pipe_state) -> PullCase:
    """Return the common case in a soil, with what was read of the new pipe."""
    string = good_string()
    whole = StringCase(tool_string=string, old_pipe=OLD, new_pipe=NEW, as_of=DAY, **pipe_state)
    blade, puller = whole.first(Kind.BLADE), whole.first(Kind.PIPE_PULLER)
    limits = {limit.kind: limit.limit_lbf for limit in strength(whole).total}
    return PullCase(
        old_pipe=OLD,
        new_pipe=NEW,
        expander_in=whole.expander_in,
        length_ft=length_ft,
        cover_ft=4.0,
        soil=soil,
        limits_lbf=dict.fromkeys(Limit, math.inf) | limits | {Limit.ANCHOR: ANCHOR_LBF},
        drag_limits_lbf={Kind.PIPE_PULLER.value: FIGURES[Kind.PIPE_PULLER]["rated_lbf"]},
        pipe_allowable_lbf=whole.allowed_lbf,
        grip_efficiency=grip_efficiency(puller.grip),
        rigid=RigidString(blade.length_in, string.rigid_in, blade.pilot_in),
        bend_limit_in=least_bend_radius(NEW).radius_in,
        assumed=frozenset(whole.unread),
    )


def grid(**pipe_state) -> None:
    """Print what is said in each soil at each length."""
    print("| soil | " + " | ".join(f"{length} ft" for length in LENGTHS_FT) + " |")
    print("|---|" + "---|" * len(LENGTHS_FT))
    for code, soil in soils().items():
        cells = [cell(common_case(code, length, **pipe_state)) for length in LENGTHS_FT]
        print(f"| {soil.name} | {' | '.join(cells)} |")


def cell(case: PullCase) -> str:
    """Return the verdict, the part used most and its share, and what else was said."""
    made = estimate(case)
    said = [_words(f.rule) for f in made.findings if "USE_" not in f.rule]
    use = f"{part_told(made.governs.name)} {use_told(made.governs.use)}"
    return f"{made.verdict.label}: {'; '.join([use, *said])}"


def town(lines: int) -> None:
    """Build an invented town in a folder of its own and count what its estimates say."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {
            "DATA_DIR": folder, "DATABASE_URL": "", "DJANGO_SETTINGS_MODULE": "program.settings",
        }  # fmt: skip
        django.setup()
        from django.core.management import call_command

        from fixtures.demo import build_demo
        from replacements.models import ForceEstimateRecord

        call_command("migrate", verbosity=0)
        build_demo(say=lambda text: None, report=lambda done, total: None, lines=lines)
        made = ForceEstimateRecord.objects.values_list(
            "verdict", "case__soil", "case__length_ft", "result__findings"
        )
        counted(list(made), lines)


def counted(made: list, lines: int) -> None:
    """Print verdicts by soil and length, and how many estimates carry each finding."""
    told = Counter((verdict, soil, _span(length)) for verdict, soil, length, _ in made)
    print(f"\n{len(made)} estimates of a town of {lines:,} lines:\n")
    print("| soil | length | go | caution | no-go |\n|---|---|---|---|---|")
    spans = sorted({span for *_, span in told}, key=lambda span: int(span.split()[0]))
    for soil, span in product(sorted({soil for _, soil, _ in told}), spans):
        counts = [told[verdict, soil, span] for verdict in ("GO", "CAUTION", "NO_GO")]
        if any(counts):
            print(f"| {soils()[soil].name} | {span} | {' | '.join(map(str, counts))} |")
    totals = Counter(verdict for verdict, *_ in made)
    whole = [f"{totals[v]} ({totals[v] / len(made):.0%})" for v in ("GO", "CAUTION", "NO_GO")]
    print(f"| all | | {' | '.join(whole)} |\n")
    rules = Counter(rule for *_, found in made for rule in {one["rule"] for one in found})
    for rule, number in rules.most_common():
        print(f"- {_words(rule)}: {number} of {len(made)}")


def _words(rule: str) -> str:
    return rule.removesuffix("_F").replace("_", " ").lower()


def _span(length_ft: float) -> str:
    """Return the twenty feet that a length lies in."""
    low = 20 * int(length_ft // 20)
    return f"{low} to {low + 20} ft"


def main() -> None:
    """Print the tables."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--lines", type=int, default=400)
    lines = options.parse_args().lines
    print("Everything measured or read (PE4710, 73 \N{DEGREE SIGN}F):\n")
    grid(**READ)
    print("\nResin and temperature of the new pipe not read:\n")
    grid()
    town(lines)


if __name__ == "__main__":
    main()
