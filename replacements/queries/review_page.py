"""A record for its reviewer: what was ordered or is asked beside what was done, row by row."""

from dataclasses import dataclass, field

from services_inventory.domain.days import day_told
from services_inventory.domain.materials import Connector, Material

from ..domain.completion import flushing_values, pressure_test_plan, shipped_requirements
from ..domain.findings import Finding, Level, by_severity
from ..domain.methods import Method, is_pulled
from ..domain.pipes import pipe_named
from ..domain.units import inches
from ..models import CompletionRecord, WorkOrder
from .effect import line_facts
from .gate import start_on_record
from .photo_doubts import photo_doubts
from .pull_review import PULL_RULES
from .quality_told import quality_told
from .stored import findings_back

OUTCOME = "Outcome and note"


@dataclass
class Row:
    """One thing that was ordered or is asked, and what was done.

    rules : the checks that speak of it; what they found stands in its row
    differs : the two are not the same, though no check speaks of it
    """

    name: str
    asked: str
    done: str
    rules: tuple[str, ...] = ()
    differs: bool = False
    findings: list[Finding] = field(default_factory=list)

    @property
    def mark(self) -> tuple[Level | str, str]:
        """The level that the row is shown at, and its word."""
        worst = min((f.level for f in self.findings), key=lambda level: level.rank, default=None)
        if worst in (Level.STOP, Level.CAUTION):
            return worst, "differs" if self.done else "missing"
        if self.differs:
            return Level.CAUTION, "differs" if self.done else "missing"
        if not self.asked:
            return "", ""
        return ("GOOD", "as asked") if self.done else ("NOTE", "not said")

    @property
    def is_other(self) -> bool:
        """Whether what was done is not what was ordered or asked."""
        return self.mark[1] in ("differs", "missing")

    @property
    def told(self) -> list[Finding]:
        """What differs in a line for each finding, or in one where no check speaks of it."""
        asked, done = self.asked or "nothing", self.done or "nothing"
        said = f"{self.name}: {asked} was ordered or asked, {done} done."
        return self.findings or [Finding(Level.CAUTION, "DIFFERS", said, "")]

    @property
    def sign(self) -> str:
        """The sign before the word, so that a difference shows without its tone."""
        return {"differs": "≠", "missing": "✕", "as asked": "✓"}.get(self.mark[1], "")


def compared(record: CompletionRecord) -> dict:
    """Return the rows by the parts of the record, and the findings that speak of no row.

    Where much differs, it is told line by line, and the parts are to be opened.
    """
    order = record.work_order
    replaced = record.outcome == CompletionRecord.Outcome.REPLACED
    parts = {
        OUTCOME: _outcome(record, order),
        "What was found": _found(record, order),
        "What was replaced": _replaced(record, order),
        **(_quality(record, order) if replaced else {}),
    }
    said = by_severity(findings_back(record.findings))
    left = [f for f in said if not f.rule.startswith("PHOTO_")]  # those stand at the photos
    for row in (row for rows in parts.values() for row in rows):
        own = [f for f in left if row.rules and f.rule.startswith(row.rules)]
        if row.rules == ("FOUND_OTHERWISE",):
            own = [f for f in own if f.message.startswith(f"The {row.name.split()[0].lower()}")]
        row.findings = own
        left = [f for f in left if f not in own]
    differ = {part: [row for row in rows if row.is_other] for part, rows in parts.items()}
    number = sum(map(len, differ.values()))
    if number > MANY:
        left = by_severity([*left, *(f for rows in differ.values() for r in rows for f in r.told)])
    return {
        "parts": [
            (part, rows, len(differ[part]), number <= MANY and bool(differ[part] or part in _OPEN))
            for part, rows in parts.items()
        ],
        "left": left,
        "differ": number,
    }


MANY = 6  # rows that differ; from then on all is told at the head, line by line
# What changes the line's category is looked at first; the rest where something differs.
_OPEN = ("What was found", "What was replaced")


def _outcome(record: CompletionRecord, order: WorkOrder) -> list[Row]:
    late = bool(order.due_on and record.finished_on > order.due_on)
    start = start_on_record(order)
    started = f"{day_told(start.on)}, by {start.by}" if start else ""
    return [
        Row("Outcome", "replaced", record.get_outcome_display(), differs=record.outcome != _DONE),
        Row("Finished", f"by {day_told(order.due_on)}" if order.due_on else "",
            day_told(record.finished_on), differs=late),
        Row("Method", order.method_label, _method(record.method_used), ("METHOD_CHANGED",)),
        Row("Safe start", "before the work" if is_pulled(order.method) else "", started,
            ("NO_START",), differs=is_pulled(order.method) and not start),
    ]  # fmt: skip


_DONE = CompletionRecord.Outcome.REPLACED


def _method(code: str) -> str:
    return Method(code).label if code in set(Method) else ""


def _found(record: CompletionRecord, order: WorkOrder) -> list[Row]:
    known, sizes = line_facts(order.line), record.quality.get("found_in") or {}
    rows = [
        Row(f"{side.capitalize()} side", f"{getattr(known, side).label} on record",
            _label(Material, getattr(record, f"{side}_found")), ("FOUND_OTHERWISE",))
        for side in ("system", "customer")
    ]  # fmt: skip
    rows.append(Row("Connector", f"{known.connector.label} on record",
                    _label(Connector, record.connector_found)))  # fmt: skip
    found = ", ".join(f"{inches(size)} {side.lower()}" for side, size in sizes.items() if size)
    rows.append(Row("Old pipe", order.old_pipe_told, found, ("SIZE_DIFFERS",)))
    return rows


def _label(kind, code: str) -> str:
    return kind(code).label if code in set(kind) else ""


def _replaced(record: CompletionRecord, order: WorkOrder) -> list[Row]:
    if record.outcome != _DONE:
        return []
    known, rows = line_facts(order.line), []
    for part, kind in (("system", Material), ("customer", Material), ("connector", Connector)):
        name = part.capitalize() + (" side" if kind is Material else "")
        after = "connector_after" if part == "connector" else f"{part}_material_after"
        done = getattr(record, f"{part}_replaced")
        bad = getattr(known, part) in _TO_GO
        said = f"replaced: now {_label(kind, getattr(record, after)).lower()}" if done else ""
        rows.append(Row(name, "to be replaced" if bad else "may stay", said or "not replaced",
                        differs=bad and not done))  # fmt: skip
    laid = pipe_named(order.new_material, record.new_nominal_in or order.new_nominal_in,
                      record.new_grade or order.new_grade)  # fmt: skip
    rows.append(Row("New pipe", order.new_pipe_told, laid, differs=laid != order.new_pipe_told))
    ordered, length = order.length_ft, record.length_ft
    rows.append(Row("Length", _feet(ordered), _feet(length),
                    differs=bool(ordered and length and abs(ordered - length) > 1)))  # fmt: skip
    if is_pulled(record.method_used):
        rows.append(_pull(record, order))
    return rows


_TO_GO = {Material.LEAD, Material.LEAD_LINED_GALVANIZED, Material.GALVANIZED, Connector.LEAD}


def _feet(length: float | None) -> str:
    return f"{length:g} ft" if length else ""


def _pull(record: CompletionRecord, order: WorkOrder) -> Row:
    """Return the pull: what was expected and allowed, and what the log says."""
    made = order.estimates.order_by("-id").first()
    limit = made.result.get("limit_lbf") if made else None
    asked = f"{made.expected_lbf:,.0f} lb expected" if made else ""
    asked += f", {limit:,.0f} lb at most" if limit else ""
    pull = record.pull
    peak = f"{pull.peak_lbf:,.0f} lb at most" if pull and pull.peak_lbf else ""
    said = ", ".join(filter(None, [day_told(pull.pulled_on), peak])) if pull else ""
    over = bool(limit and pull and pull.peak_lbf and pull.peak_lbf > limit)
    return Row("Pull", asked or "a log", said, ("NO_PULL_LOG", *PULL_RULES), differs=over)


def _quality(record: CompletionRecord, order: WorkOrder) -> dict[str, list[Row]]:
    done, asked = dict(quality_told(record)), _asked(record, order)
    parts: dict[str, list[Row]] = {}
    for part, heading, *rules in _QUALITY:
        row = Row(heading, asked.get(heading, ""), done.get(heading, ""), tuple(rules))
        parts.setdefault(part, []).append(row)
    return parts


# The part of the record, the heading that tells what was done, and the checks that speak of it.
_TESTS, _WATER, _GROUND = "Test and depth", "Disinfection and flushing", "Lead and ground"
_QUALITY = (
    (_TESTS, "Static pressure"),
    (_TESTS, "Pressure test", "PRESSURE_TEST"),
    (_TESTS, "Tracer wire", "TRACER"),
    (_TESTS, "Cover, ft", "DEPTH"),
    (_TESTS, "Leading end, outside", "DIMENSIONS"),
    (_TESTS, "Gripped end cut off"),
    (_WATER, "Disinfection", "DISINFECTION"),
    (_WATER, "Flushed by the crew", "CREW_FLUSH"),
    (_WATER, "Flushed in the house", "PREMISE_FLUSH"),
    (_GROUND, "Lead", "LEAD_REMOVED", "LEAD_LEFT_IN_GROUND"),
    (_GROUND, "Electrical ground checked", "BONDING"),
    (_GROUND, "Ground put back", "RESTORATION"),
    ("Household", "Household", "RETURN_NEEDS_", "FOLLOW_UP_SAMPLE"),
    ("Household", "Water returned"),
)


def _asked(record: CompletionRecord, order: WorkOrder) -> dict[str, str]:
    """Return what is asked for under each heading, by the utility's requirements."""
    needs, flush = shipped_requirements(), flushing_values()
    crew, house = flush["CREW_FLUSH", ""], flush["PREMISE_FLUSH", ""]
    plastic = order.new_material in ("PE", "PEX")
    static = record.quality.get("static_psi")
    plan = pressure_test_plan(static, plastic) if static and 0 < static < 400 else None
    pulled = is_pulled(record.method_used)
    cut_off = needs["DIMENSIONS"].values["cut_off_ft"]
    return {
        "Static pressure": "measured",
        "Pressure test": f"{plan.pressure_psi:g} psi for {plan.minutes:g} min, at most "
        f"{plan.allowance_psi:g} psi lost" if plan else "held without loss",
        "Tracer wire": "a signal from end to end" if plastic else "",
        "Cover, ft": "measured at main and house",
        "Leading end, outside": "measured" if pulled else "",
        "Gripped end cut off": f"{cut_off:g} ft or more" if pulled else "",
        "Disinfection": "by a known method",
        "Flushed by the crew": f"{crew['minutes']:g} min at {crew['velocity_ft_s']:g} ft/s",
        "Flushed in the house": f"{house['minutes']:g} min, cold, aerators off, bottom floor up",
        "Lead": f"out and left: {_feet(order.length_ft)}" if order.length_ft else "said",
        "Electrical ground checked": "checked and restored",
        "Ground put back": "put back",
        "Household": "notice, flushing, filter, cartridges, sample",
    }  # fmt: skip


def photos_beside(record: CompletionRecord, shown: list[dict], kinds: dict[str, str]) -> list[dict]:
    """Return each photo that is asked for with all that was sent of it, then the others.

    Of several of a kind the last comes first: one that came back was taken anew. Beside each
    stands what makes one look twice, and what only a person can tell of it.
    """
    doubts = photo_doubts(record.work_order, [each["facts"] for each in shown if each["facts"]])
    asked, rest = [], list(shown)
    for kind, label in kinds.items():
        last, *before = [each for each in reversed(shown) if _is_of(each, kind)] or [None]
        missing, end = _finding(record, kind), kind in _PIPE_ENDS
        asked.append({"label": label, "photo": last, "missing": missing, "end": end})
        asked += [{"label": f"{label}, another", "photo": each, "end": end} for each in before]
        rest = [each for each in rest if not _is_of(each, kind)]
    rows = asked + [{"label": each["name"], "photo": each} for each in rest]
    for row in rows:
        photo = row["photo"]
        row["doubts"] = doubts.get(photo["document"].pk, ()) if photo else ()
    return rows


_PIPE_ENDS = ("NEW_AT_MAIN", "NEW_AT_HOUSE")


def _is_of(shown: dict, kind: str) -> bool:
    return shown["document"].kind == f"PHOTO_{kind}"


def _finding(record: CompletionRecord, kind: str) -> Finding | None:
    said = findings_back(record.findings)
    return next((finding for finding in said if finding.rule == f"PHOTO_{kind}"), None)
