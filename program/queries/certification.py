"""What a certification asks: a few plain questions, each with what the submission says to it."""

from collections.abc import Iterator
from dataclasses import dataclass

from program.models import Submission
from program.queries.rule_values import ticks_now
from services_inventory.domain.days import day_told


@dataclass(frozen=True)
class Asked:
    """One question that is answered by yes, the evidence for it, and more to open beneath it."""

    key: str
    question: str
    evidence: tuple[str, ...]
    more: tuple[str, ...] = ()


def questions_asked(submission: Submission) -> list[Asked]:
    """Return what to ask of whoever certifies; what there is none of is not asked."""
    told = {entry["code"]: entry["text"] for entry in submission.facts["summary"]}
    said = submission.facts.get("counted", {})
    return [
        _lines(submission, told),
        *_work(told),
        *_rate(told),
        *_left(told, said),
        *_notices(said),
        *_set_aside(said),
        *_open(submission),
        *_values(submission),
    ]


def _lines(submission: Submission, told: dict[str, str]) -> Asked:
    evidence = [
        f"{told['A1']} lead, {told['A2']} galvanized requiring replacement, {told['A3']} unknown, "
        f"{told['A4']} non-lead: {told['A5']} lines on {day_told(submission.as_of)}.",
        f"{submission.facts['checks']:,} figures were counted again from the finished files, and "
        "agree.",
    ]
    if submission.what_changed:
        evidence.append(f"Amended: {submission.what_changed}")
    if "B7" in told:
        evidence.append(
            f"In the year {told['B7']} unknown lines were found non-lead, and {told['B8']} "
            "non-lead lines were found lead or galvanized requiring replacement."
        )
    return Asked("LINES", "Are these the lines of your system, as you know it?", tuple(evidence))


def _work(told: dict[str, str]) -> Iterator[Asked]:
    full = f"{told['A8']} lead and {told['A9']} galvanized lines in full"
    part = f"{told['A10']} lead and {told['A11']} galvanized lines in part"
    yield Asked(
        "WORK", "Was this work done, and accepted by your own people?", (f"{full}; {part}.",)
    )


def _rate(told: dict[str, str]) -> Iterator[Asked]:
    if "B10" in told:
        evidence = (
            f"The year: {told['B10']} of a pool of {told['B9']}. Cumulative average "
            f"{told['B11']}; required {told['B12a']}.",
        )
        yield Asked("RATE", "Is the rate worked out from the pool that your State holds?", evidence)


def _left(told: dict[str, str], said: dict) -> Iterator[Asked]:
    if told.get("B13", "0") != "0":
        evidence = (
            f"{told['B13']} lines were left for lack of access or consent; for "
            f"{said.get('left_with_effort', 0):,} of them every try that the rule asks for is on "
            "record.",
        )
        yield Asked("LEFT", "Were these owners asked as the record says?", evidence)


def _notices(said: dict) -> Iterator[Asked]:
    if due := said.get("notices_due"):
        sent, back = said["notices_sent"], said["notices_back"]
        evidence = (
            f"{due:,} letters were due in the year: {sent:,} delivered, {back:,} came back, "
            f"{due - sent - back:,} not sent.",
        )
        yield Asked("NOTICES", "Did the letters go out as the record says?", evidence)


def _set_aside(said: dict) -> Iterator[Asked]:
    if number := said.get("set_aside"):
        evidence = (
            f"{number:,} sights of more protective pipe do not count, each by a reasoned decision.",
        )
        yield Asked(
            "SET_ASIDE", "Do you stand by the findings of lead that were set aside?", evidence
        )


def _open(submission: Submission) -> Iterator[Asked]:
    sentences = [q["sentence"] for q in submission.open_questions if q["key"] != "VALUES"]
    if sentences:
        yield Asked(
            "OPEN", "Do you know what is still open, as the State will read it?", tuple(sentences)
        )


def _values(submission: Submission) -> Iterator[Asked]:
    used = {row[0]: row for row in submission.facts["values_used"]}
    fresh, old = values_to_ask(submission)
    if not fresh:
        return
    unread = f"{len(fresh):,} value{'s' * (len(fresh) > 1)} of the rule"
    evidence = [f"{unread} used here that nobody of yours has read in the rule's text."]
    if old:
        evidence.append(
            f"{len(old):,} more were accepted at an earlier certification and have not changed."
        )
    more = tuple(f"{_titled(key)}: {used[key][1]} {used[key][2]}".rstrip() for key in fresh)
    yield Asked(
        "VALUES", "May the figures rest on values that nobody has checked?", tuple(evidence), more
    )


def _titled(rule_id: str) -> str:
    return rule_id.replace("_", " ").capitalize()


def unread_values(submission: Submission) -> list[str]:
    """Return the ids of the values a submission used that nobody has read up to now."""
    ticks = {key: tick.value for key, tick in ticks_now().items() if tick.confirms}
    return [
        row[0]
        for row in submission.facts["values_used"]
        if row[5] != "seen" and row[6] is None and ticks.get(row[0]) != row[1][:200]
    ]


def values_to_ask(submission: Submission) -> tuple[list[str], list[str]]:
    """Return the unread values to ask about, and those accepted before and unchanged since."""
    used = {row[0]: row[1] for row in submission.facts["values_used"]}
    accepted: dict[str, str] = {}
    certified = Submission.objects.filter(certified_at__isnull=False).exclude(pk=submission.pk)
    for facts in certified.order_by("certified_at").values_list("facts", flat=True):
        accepted |= facts.get("accepted", {})
    unread = unread_values(submission)
    old = [key for key in unread if accepted.get(key) == used[key]]
    return [key for key in unread if key not in old], old
