"""An order as a path: its steps in the order of work, each with where it stands and its one act."""

from dataclasses import dataclass, replace

from ..domain.findings import Level, worst
from ..domain.pull_force import Verdict
from ..models import WorkOrder
from .gate import WITH_THE_CREW

_VERDICT_LEVELS = {Verdict.GO: "GOOD", Verdict.CAUTION: "CAUTION", Verdict.NO_GO: "STOP"}


@dataclass(frozen=True)
class Step:
    """One step of the work.

    level : GOOD, CAUTION, STOP, or empty while nothing is on record
    said : where it stands, in a few words
    act, label : the name of the address of its act and what it says; empty where it is on the page
    done : whether the next step may be looked at
    is_next : the first that is not done while the order is with its crew
    """

    key: str
    title: str
    level: str
    said: str
    done: bool
    act: str = ""
    label: str = ""
    is_next: bool = False


def order_path(order: WorkOrder, shown: dict) -> dict[str, Step]:
    """Return the steps by key, from what the page shows of the order."""
    pulls = (_string(shown), _estimate(shown)) if shown["pulled"] else ()
    logs = (_pull(shown),) if shown["pulled"] else ()
    steps = [
        _before(order, shown), _access(shown), _ground(shown), *pulls, _start(shown), *logs,
        _record(order, shown),
    ]  # fmt: skip
    open_steps = (step.key for step in steps if not step.done)
    at = next(open_steps, "") if order.state in WITH_THE_CREW else ""
    return {step.key: replace(step, is_next=step.key == at) for step in steps}


def _before(order: WorkOrder, shown: dict) -> Step:
    names = {"length_ft": "length", "cover_ft": "cover", "soil": "soil"}
    lacking = [name for field, name in names.items() if not getattr(order, field)]
    if "sentence" in shown["pipes"] or lacking:
        said = f"not known: {', '.join(lacking)}" if lacking else "the pipes are not in the tables"
        return Step("before", "Before the day", "STOP", said, done=not shown["pulled"])
    return Step("before", "Before the day", "GOOD", order.method_label, done=True)


def _access(shown: dict) -> Step:
    consent = shown["consent"]
    level = worst(consent.findings)
    given = level not in (Level.STOP, Level.CAUTION)
    return Step("access", "Access and consent", "GOOD" if given else level.value,
                consent.state.label, done=level is not Level.STOP)  # fmt: skip


def _ground(shown: dict) -> Step:
    level = worst(shown["ground"]["findings"])
    lines = len(shown["ground"]["lines"])
    said = f"{lines} other line{'' if lines == 1 else 's'} near"
    told = level.value if level in (Level.STOP, Level.CAUTION) else "GOOD"
    return Step("ground", "Ground and other lines", told, said, done=level is not Level.STOP)


def _string(shown: dict) -> Step:
    string, title = shown["string"], "Tool string and checklist"
    if string is None:
        return Step("string", title, "", "not recorded yet", False, "work_order_string",
                    "Record the tool string")  # fmt: skip
    rows, record = string["checklist"], string["record"]
    said = f"{rows['passed']} of {len(rows['rows'])} rows passed"
    if record.worst_level == Level.STOP:
        said = "the string has a stop"
        return Step("string", title, "STOP", said, False, "work_order_string", "New tool string")
    failed = [row for row in rows["failed"] if row.level is Level.STOP]
    waits = failed or [row for row in rows["open"] if row.check.stop]
    if waits:
        level = "STOP" if failed else ""
        return Step("string", title, level, said, False, "work_order_checklist",
                    "Answer the checklist")  # fmt: skip
    worst_level = string["worst"]
    return Step("string", title, "CAUTION" if worst_level is Level.CAUTION else "GOOD", said, True)


def _estimate(shown: dict) -> Step:
    estimate = shown["estimate"]
    if not estimate:
        return Step("estimate", "Force estimate", "", "not made yet", done=False)
    verdict = Verdict(estimate["record"].verdict)
    stale = any(f.rule.startswith(("ESTIMATE_OF", "ESTIMATE_OUT")) for f in shown["against_start"])
    said = f"{verdict.label}{', but of another pull: estimate again' if stale else ''}"
    done = verdict is not Verdict.NO_GO and not stale
    return Step("estimate", "Force estimate", "STOP" if stale else _VERDICT_LEVELS[verdict], said,
                done)  # fmt: skip


def _start(shown: dict) -> Step:
    start, title = shown["start"], "Safe start"
    if start is not None and start.holds:
        return Step("start", title, "GOOD", "on record", done=True)
    said = "holds no more" if start else "not on record"
    return Step("start", title, "STOP" if start else "", said, False, "work_order_start",
                "Answer for the start")  # fmt: skip


def _pull(shown: dict) -> Step:
    pulls = shown["pulls"]
    if not pulls:
        return Step("pulls", "Pull", "", "no log yet", False, "work_order_pull", "Send the log")
    asking = sum(1 for pull in pulls if pull["asks"] and not pull["explained"])
    said = f"{len(pulls)} log{'' if len(pulls) == 1 else 's'}"
    said += f", {asking} to be explained" if asking else ""
    return Step("pulls", "Pull", "STOP" if asking else "GOOD", said, done=True)


def _record(order: WorkOrder, shown: dict) -> Step:
    said, done = order.get_state_display(), order.state not in WITH_THE_CREW
    if not done:
        said = "came back" if shown["completions"] else "not handed in yet"
    level = "GOOD" if done and order.state != "PLANNED" else ""
    level = "CAUTION" if not done and shown["completions"] else level
    return Step("completions", "Restore and hand in", level, said, done, "work_order_completion",
                "Hand in the work")  # fmt: skip
