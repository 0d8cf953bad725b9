"""Solves scenarios around an invented plan in a process of its own, for the test of two at a time.

`python -m tests.program.plans.two_grids killed` prints its helpers' process numbers when a few are
solved, and is killed then; `on` takes the batch up again, and prints how it ended beside what one
process alone finds.
"""

import json
import os
import signal
import sys
from multiprocessing import active_children


def _killed() -> None:
    from program.models import Utility
    from program.operations.plans import plan_draw
    from program.operations.plans.grid import grid_queue, grid_run
    from services_inventory.operations.batches import batch_claim

    from .towns import BEFORE, NOON, QUICK, WHO, two_hoods

    two_hoods()
    Utility.objects.create(name="Town", clock_stands_at=BEFORE)
    settings = {**QUICK, "crews": 2, "budget_per_year": 60_000, "unknown_years": 1}
    plan = plan_draw(settings=settings, as_of=BEFORE, **WHO)
    grid_queue(plan=plan, by="planner", at=NOON, as_of=BEFORE)

    def report(done, total):
        if done == 3:
            print(json.dumps([child.pid for child in active_children()]), flush=True)
            os.kill(os.getpid(), signal.SIGKILL)

    grid_run(batch=batch_claim(), report=report)


def _on() -> None:
    from program.models import Plan
    from program.operations.plans import grid
    from services_inventory.models import Batch
    from services_inventory.operations.batches import batch_claim, batch_run, batches_recover

    from .towns import BEFORE, NOON

    batches_recover()
    batch = batch_claim()
    kept = len(batch.result["cells"])
    both = batch_run(batch=batch)
    grid._FEW_AREAS = 10_000
    plan = Plan.objects.get()
    alone = batch_run(batch=grid.grid_queue(plan=plan, by="x", at=NOON, as_of=BEFORE))
    assert both.state == alone.state == Batch.State.APPLIED, both.message + alone.message
    found = {"kept": kept, "both": both.result["cells"], "alone": alone.result["cells"]}
    print(json.dumps(found), flush=True)


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "program.settings"
    import django

    django.setup()
    from program.operations.plans import grid

    grid._FEW_AREAS = 1
    {"killed": _killed, "on": _on}[sys.argv[1]]()
