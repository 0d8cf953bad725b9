"""How many made-up examples a property is tried on: a share each day, all with EXAMPLES=all.

A property that is broken is found by the first handful nearly always. What needs hundreds to be met
is met by whoever changes what it is about, and by the run before a release:
`EXAMPLES=all python -m pytest -n 2 tests/*/domain tests/program/planning tests/outside`.
"""

import os

from hypothesis import HealthCheck, settings

SHARE = 1 if os.environ.get("EXAMPLES") == "all" else 8
USUAL = 100


def examples(count: int = USUAL, **more) -> settings:
    """Return settings for so many examples where all are wanted, for an eighth otherwise.

    How long an example takes says how busy the machine is, and nothing of the program.
    """
    untimed = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
    return settings(max_examples=max(count // SHARE, 5), **(untimed | more))


settings.register_profile("usual", examples())
settings.load_profile("usual")
