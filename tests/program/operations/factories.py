"""A small constructed town whose every number can be counted by hand."""

from datetime import UTC, date, datetime, timedelta
from itertools import count

from program.models import OwnValue, Submission, Utility
from program.operations.own_values import rehearsal_confirm, rehearsal_open, value_proposal
from program.operations.submissions import submission_freeze
from program.queries.certification import questions_asked
from replacements.models import CompletionRecord, Contractor, Replacement, WorkOrder
from services_inventory.domain.classification import LineFacts, facts_key
from services_inventory.domain.materials import Connector, Material
from services_inventory.models import ServiceLine
from services_inventory.operations.evidence import evidence_record_many
from tests.kept import kept
from tests.services_inventory.factories import bare_line, neighborhood

BASELINE = datetime(2027, 9, 6, 15, tzinfo=UTC)
TODAY = date(2031, 1, 15)
NOW = datetime(2031, 1, 15, 15, tzinfo=UTC)
_numbers = count(1)


def utility(**values) -> Utility:
    return Utility.objects.create(
        **{
            "name": "Town of Example",
            "pwsid": "ZZ0000001",
            "population": 900,
            "connections": 40,
            "clock_stands_at": TODAY,
        }
        | values
    )


def own_value(value_id: str, text: str, at: datetime = NOW, **said):
    """Record a State's value as a person does: proposed, rehearsed, confirmed; return the row."""
    given = {"jurisdiction": "STATE", "effective_from": date(2028, 1, 1)} | said
    proposal = value_proposal(value_id=value_id, text=text, today=at.date(), **given)
    return recorded([proposal], at)


def recorded(proposals, at: datetime = NOW, reason: str = "Letter of the State") -> OwnValue:
    """Rehearse proposals and confirm them; return the last row."""
    batch = rehearsal_open(
        proposals=proposals, title="constructed", by="clerk", author="A. Author", at=at
    )
    rehearsal_confirm(batch=batch, reason=reason, author="A. Author", at=at)
    return OwnValue.objects.order_by("id").last()


def moment(day: date, hour: int = 15) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def line(system: str, customer: str, connector: str = "", at=BASELINE, **values) -> ServiceLine:
    """Return a line whose portions were seen at two points, recorded at a moment."""
    return lines([(system, customer, connector)], at, **values)[0]


def lines(materials: list[tuple[str, str, str]], at=BASELINE, **values) -> list[ServiceLine]:
    """Return lines of (system side, customer side, connector), recorded together."""
    made, rows = [], []
    for of_line in materials:
        fresh = bare_line(f"{next(_numbers)} Mill St", in_neighborhood=neighborhood(), **values)
        made.append(fresh)
        seen = at.date() - timedelta(days=9)
        for portion, material in zip(("SYSTEM", "CUSTOMER", "CONNECTOR"), of_line, strict=True):
            if material:
                rows.append({"line_id": fresh.pk, **_seen(portion, material, seen)})
    evidence_record_many(rows=rows, by="clerk", recorded_at=at)
    for fresh in made:
        fresh.refresh_from_db()
    return made


def found(line: ServiceLine, portion: str, material: str, seen: date, at: datetime) -> None:
    """Record what was seen of one portion."""
    rows = [{"line_id": line.pk, **_seen(portion, material, seen)}]
    evidence_record_many(rows=rows, by="clerk", recorded_at=at)
    line.refresh_from_db()


def _seen(portion: str, material: str, seen: date) -> dict:
    known = material != "UNKNOWN"
    return {
        "portion": portion,
        "material": material,
        "basis": "EXCAVATION" if known else "RECORD_OTHER",
        "points_seen": 2 if known else 0,
        "observed_on": seen if known else None,
        "source": "card 7",
    }


def replaced(
    line: ServiceLine, day: date, accepted: datetime | None = None, sides=("SYSTEM", "CUSTOMER")
) -> Replacement:
    """Replace sides of a line on a day, accepted at a moment; the evidence goes with it."""
    accepted = accepted or moment(day + timedelta(days=10))
    before, category = _facts(line), line.category
    rows = [
        {
            "line_id": line.pk,
            "portion": side,
            "material": "PLASTIC",
            "basis": "REPLACEMENT",
            "observed_on": day,
        }
        for side in sides
    ]
    evidence_record_many(rows=rows, by="reviewer", recorded_at=accepted)
    line.refresh_from_db()
    number = next(_numbers)
    contractor, _ = Contractor.objects.get_or_create(name="Invented Crew A")
    order = WorkOrder.objects.create(
        number=f"W-{number:04d}",
        line=line,
        contractor=contractor,
        state="ACCEPTED",
        created_by="manager",
        created_at=accepted,
    )
    completion = CompletionRecord.objects.create(
        work_order=order,
        finished_on=day,
        system_material_after=line.system_material,
        customer_material_after=line.customer_material,
        handed_in_by="foreman",
        handed_in_at=accepted,
    )
    return Replacement.objects.create(
        completion=completion,
        line=line,
        replaced_on=day,
        category_before=category,
        facts_before=before,
        category_after=line.category,
        facts_after=_facts(line),
        system_replaced="SYSTEM" in sides,
        customer_replaced="CUSTOMER" in sides,
        length_ft=41.5,
        accepted_at=accepted,
    )


def _facts(line: ServiceLine) -> str:
    return facts_key(
        LineFacts(
            Material(line.system_material),
            Material(line.customer_material),
            Connector(line.connector),
            line.system_was_lead,
            line.system_below_lead,
        )
    )


def town() -> dict[str, list[ServiceLine]]:
    """Return lines by what they were on the compliance date: 10 lead, 4 GRR, 6 unknown, 5 not.

    Replaced in full: 2 in program year 1, 2 in year 2, 3 in year 3; one lead line in part in
    year 2. Found: one unknown line non-lead in year 1; one non-lead line lead in year 2.
    """
    kinds = {
        "lead": [("LEAD", "LEAD", "LEAD")] * 10,
        "grr": [("COPPER", "GALVANIZED", "")] * 4,
        "unknown": [("COPPER", "UNKNOWN", "")] * 6,
        "non_lead": [("COPPER", "COPPER", "NON_LEAD")] * 5,
    }
    made = iter(lines([materials for of_kind in kinds.values() for materials in of_kind]))
    town = {name: [next(made) for _ in of_kind] for name, of_kind in kinds.items()}
    for name, places, year in (("lead", (0, 1), 2028), ("lead", (2,), 2029), ("grr", (0,), 2029)):
        for place in places:
            replaced(town[name][place], date(year, 6, 7))
    replaced(town["lead"][3], date(2029, 8, 8), sides=("SYSTEM",))
    for name, place in (("lead", 4), ("lead", 5), ("grr", 1)):
        replaced(town[name][place], date(2030, 5, 6))
    found(town["unknown"][0], "CUSTOMER", "COPPER", date(2028, 4, 2), moment(date(2028, 4, 3)))
    found(town["non_lead"][0], "CUSTOMER", "LEAD", date(2029, 4, 2), moment(date(2029, 4, 3)))
    return town


@kept
def standing_town() -> dict[str, list[ServiceLine]]:
    """Return the town of a utility, with which tests of what is filed begin."""
    utility()
    return town()


@kept
def filed_town() -> tuple[dict[str, list[ServiceLine]], Submission]:
    """Return the town, and what it filed for 2030."""
    lines = standing_town()
    return lines, submission_freeze(year=2030, by="compliance", at=NOW, today=TODAY)


def all_yes(submission: Submission) -> tuple[str, ...]:
    """Return what is said by whoever answers every question of a certification by yes."""
    return tuple(one.key for one in questions_asked(submission))
