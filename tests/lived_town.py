"""A town that has lived: the invented one, ten years on (constructed).

Six years more than the demo has, each filed; two amendments; three changes of the State's values;
a person who took another name; a file that was withdrawn and corrected; thirty statements taken
back; a contractor that closed. Made of the program's own operations, many rows at once.
"""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from django.conf import settings
from django.contrib.auth import get_user_model

from fixtures.demo import build_demo
from fixtures.files import write_csv
from fixtures.work import moment
from program.models import Submission, Utility
from program.operations.own_values import rehearsal_confirm, rehearsal_open, value_proposal
from program.operations.people import account_change, account_now
from program.operations.pools import pool_freeze
from program.operations.row_digests import row_digests_take
from program.operations.sealing import record_seal
from program.operations.submissions import (
    submission_amend,
    submission_certify,
    submission_freeze,
)
from replacements.models import Contractor
from services_inventory.models import Batch, ServiceLine
from services_inventory.operations.batches import batch_open, batch_run
from services_inventory.operations.evidence import evidence_record_many, evidence_withdraw
from services_inventory.operations.undo import intake_undo
from tests.program.operations.factories import all_yes

DEMO_YEARS, LIVED_YEARS = (2028, 2029, 2030), range(2031, 2037)
TODAY = date(2037, 1, 20)
WITHDRAWN_A_YEAR = 5
STATE_VALUES = {
    2032: ("REQUIRED_RATE", "1/8"),
    2034: ("CONNECTORS_MAKE_GRR", "yes"),
    2036: ("LEAD_BAN_DATE_STATE", "1985-06-01"),
}
AMENDED = {2033: 2031, 2036: 2034}  # in which year which one is
SEEN = {"basis": "EXCAVATION", "points_seen": 1}


def build_lived_town(lines: int) -> None:
    """Build it; afterwards the clock stands at `TODAY`."""
    build_demo(say=lambda text: None, report=lambda done, total: None, lines=lines)
    for year in DEMO_YEARS:
        _file(year, on=date(2031, 2, 3))
    for year in LIVED_YEARS:
        _live(year)
    # What the account signed stays signed: it keeps the name that it signs in with.
    _change("compliance", "Took another name", full_name="Bertram Osei-Marsh")
    _change("kestrel", "Works here no more", active=False)
    Contractor.objects.filter(name__startswith="Kestrel").update(active=False)
    _stand_at(TODAY)
    pool_freeze(program_year=10, by="manager", at=moment(TODAY))


def _change(account: str, reason: str, **changes) -> None:
    users = get_user_model().objects
    user, administrator = users.get(username=account), users.get(username="admin")
    asked = replace(account_now(user), **changes)
    account_change(user=user, asked=asked, reason=reason, by=administrator, at=moment(TODAY))


def _stand_at(day: date) -> None:
    Utility.objects.update(clock_stands_at=day)


def _live(year: int) -> None:
    number, day = year - 2027, date(year, 3, 1)
    _stand_at(day)
    if number > 4:  # the demo froze the fourth
        pool_freeze(program_year=number, by="manager", at=moment(date(year, 1, 1)))
    if year in STATE_VALUES:
        _state_says(*STATE_VALUES[year], date(year, 1, 1), day)
    _seen_and_replaced(year)
    _taken_back(year)
    if year == 2033:
        _file_corrected(date(year, 9, 1))
    if year in AMENDED:
        _amend(AMENDED[year], date(year, 11, 1))
    row_digests_take(at=moment(date(year, 12, 1)))
    record_seal(at=moment(date(year, 12, 1)))
    _file(year, on=date(year + 1, 1, 15))


def _state_says(value_id: str, text: str, since: date, day: date) -> None:
    at = moment(day)
    proposal = value_proposal(value_id=value_id, text=text, jurisdiction="STATE",
                              effective_from=since, today=day, citation="constructed")  # fmt: skip
    batch = rehearsal_open(proposals=[proposal], title="State", by="admin", author="A", at=at)
    if batch.state != Batch.State.CHECKED:
        batch_run(batch=batch)
    restatement = rehearsal_confirm(batch=batch, reason="The State wrote", author="A", at=at)
    if restatement:
        batch_run(batch=restatement)


def _seen_and_replaced(year: int) -> None:
    """Find some unknown lines out, and replace some of lead with the utility's own crew."""
    day = date(year, 6, 1)
    unknown = list(ServiceLine.objects.filter(category="UNKNOWN").order_by("-id")[3:5])
    lead = list(ServiceLine.objects.filter(category__in=("LEAD", "GRR")).order_by("-id")[8:11])
    rows = [
        {"line_id": line.pk, "portion": portion, "material": "LEAD" if n == 0 else "COPPER",
         "observed_on": day, **SEEN}
        for n, line in enumerate(unknown)
        for portion in ("SYSTEM", "CUSTOMER")
    ]  # fmt: skip
    rows += [
        {"line_id": line.pk, "portion": portion, "material": "PLASTIC", "basis": "REPLACEMENT",
         "points_seen": 2, "observed_on": day, "installed_on": day}
        for line in lead
        for portion in ("SYSTEM", "CUSTOMER")
    ]  # fmt: skip
    evidence_record_many(rows=rows, by="compliance", recorded_at=moment(day + timedelta(days=9)))


def _taken_back(year: int) -> None:
    """Take back what was keyed for the wrong houses."""
    at = moment(date(year, 8, 1))
    for line in ServiceLine.objects.filter(category="NON_LEAD").order_by("-id")[:WITHDRAWN_A_YEAR]:
        evidence_record_many(
            rows=[{"line_id": line.pk, "portion": "CUSTOMER", "material": "LEAD",
                   "observed_on": date(year, 7, 1), **SEEN}],
            by="compliance", recorded_at=moment(date(year, 7, 2)),
        )  # fmt: skip
        evidence = line.evidence.order_by("id").last()
        evidence_withdraw(evidence=evidence, by="compliance", recorded_at=at, reason="Next door")


def _file_corrected(day: date) -> None:
    """Take a file in that says lead everywhere, withdraw it, and take in the right one."""
    lines = ServiceLine.objects.filter(category="NON_LEAD").order_by("-id")[40:60]
    header = ("location id", "customer side material", "source")
    path = Path(settings.DATA_DIR) / "sheets.csv"
    for material in ("lead", "copper"):
        rows = [(line.location_id, material, "tap card") for line in lines]
        parameters = {"step": "APPLY", "recorded_at": moment(day).isoformat()}
        batch = batch_open(kind="INTAKE", by="manager", at=moment(day), parameters=parameters,
                           file=write_csv(path, header, rows))  # fmt: skip
        batch_run(batch=batch)
        assert batch.state == Batch.State.APPLIED, batch.message
        if material == "lead":
            intake_undo(batch=batch, by="manager", at=moment(day, 15))


def _file(year: int, on: date) -> None:
    _stand_at(on)
    made = submission_freeze(year=year, by="compliance", at=moment(on), today=on)
    _certify(made, on)


def _amend(year: int, on: date) -> None:
    _stand_at(on)
    filed = Submission.objects.filter(year=year).latest("revision")
    made = submission_amend(submission=filed, what_changed="Found since", by="compliance",
                            at=moment(on), today=on)  # fmt: skip
    _certify(made, on)


def _certify(made: Submission, on: date) -> None:
    if made.state == Submission.State.FROZEN:
        submission_certify(
            submission=made, name="B. Osei", title="Compliance", statement="True",
            by="compliance", at=moment(on, 11), answered=all_yes(made),
        )  # fmt: skip
