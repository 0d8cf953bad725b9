"""What a log of a million samples costs to read and to judge.

python -m tests.bench.pull_log
"""

import sys
from io import BytesIO

import numpy

from replacements.domain.pull_logs import assess, log_chart_svg, read
from tests.bench.processes import Spent
from tests.bench.rows import Measured, as_table, machine

SAMPLES = 1_000_000
LENGTH_FT = 35.0


def made_log(samples: int = SAMPLES) -> bytes:
    """Return an invented log at 100 samples a second, its force rising along the run."""
    at = numpy.arange(samples)
    noise = numpy.random.default_rng(7).normal(0, 40, samples)
    table = numpy.column_stack(
        (at / 100, 744 + 127 * at / samples + noise, LENGTH_FT * at / samples)
    )
    out = BytesIO(b"Time (s),Force (lbf),Distance (ft)\n")
    out.seek(0, 2)
    numpy.savetxt(out, table, fmt="%.2f,%.1f,%.4f")
    return out.getvalue()


def measure() -> list[Measured]:
    """Return the processor time to read and judge the log, and to draw it."""
    content = made_log()
    began = Spent.now()
    log = read(BytesIO(content))
    seen = assess(log, LENGTH_FT, limit_lbf=3840)
    judged, drawing = began.until_now(), Spent.now()
    log_chart_svg(log, seen, {})
    drawn = drawing.until_now()
    samples = (
        f"{len(log):,} samples, {len(content) / 1e6:.0f} MB, {seen.verdict.value}; "
        f"{judged['seconds']:.1f} s by the clock"
    )
    return [
        Measured("read and judge a pull log", judged["cpu"], "s", None, 3.0, 1.5, samples),
        Measured("draw it", drawn["cpu"], "s", None, 1.0, 0.2),
    ]


if __name__ == "__main__":
    found = measure()
    print(f"{machine('')}\n\n{as_table(found)}")
    sys.exit(any(row.reached == "missed" for row in found))
