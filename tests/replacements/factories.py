"""Contractors, tools, orders and records in the state that a test needs (all invented)."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from io import BytesIO
from itertools import count

from django.contrib.auth.models import Group, User

from fixtures.pull_logs import synthetic_log
from replacements.domain.methods import is_pulled
from replacements.domain.safety import (
    Excavation,
    JobSafety,
    LeadHandling,
    OneCallTicket,
    PullSetup,
)
from replacements.domain.tool_strings import checks_for
from replacements.models import Contractor, Membership
from replacements.operations.access import consent_record
from replacements.operations.completions import completion_hand_in
from replacements.operations.contractors import certificate_record, material_lot_record
from replacements.operations.pulls import estimate_make, pull_record, pull_start
from replacements.operations.tools import (
    assembly_answer_many,
    component_add,
    component_inspect,
    tool_string_record,
)
from replacements.operations.work_orders import work_order_create, work_order_release
from services_inventory.operations.documents import document_store
from tests.kept import kept
from tests.replacements.domain.tools import FIGURES
from tests.services_inventory.factories import MORNING, line_of

DAY = date(2028, 4, 10)
AT = MORNING + timedelta(days=5)  # orders are made
LATER = datetime(2028, 4, 11, 15, tzinfo=MORNING.tzinfo)  # records are handed in
REVIEW = datetime(2028, 4, 14, 15, tzinfo=MORNING.tzinfo)
_numbers = count(1)

PNG = (
    b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x06\x00\x00\x00"
    b"\x1f\x15\xc4\x89\x00\x00\x00\rIDATx\x9cc\xf8\xff\xff?\x00\x05\xfe\x02\xfe\xa7\x9a\xa0\xa0"
    b"\x00\x00\x00\x00IEND\xaeB`\x82"
)


def user(name: str, role: str = "", contractor: Contractor | None = None) -> User:
    """Return a user of a role, and of a company where one is given."""
    found = User.objects.create_user(username=name, password="for-this-test-only")
    if role:
        found.groups.add(Group.objects.get(name=role))
    if contractor:
        Membership.objects.create(user=found, contractor=contractor)
    return found


def contractor(name: str = "", *, ready: bool = True) -> Contractor:
    """Return a contractor whose papers are in order, or one without any."""
    made = Contractor.objects.create(name=name or f"Company {next(_numbers)}")
    if ready:
        for kind in ("INSURANCE", "LICENSE", "COMPETENT_PERSON"):
            certificate_record(
                contractor=made, kind=kind, expires_on=date(2029, 12, 31), by="office", at=MORNING
            )
        for material, nominal_in, grade in (("PE", 1.0, "CTS SDR 9"), ("COPPER", 0.75, "K")):
            material_lot_record(
                contractor=made,
                lot=f"LOT {material}",
                material=material,
                nominal_in=nominal_in,
                grade=grade,
                contact_standard=True,
                lead_free_standard=True,
                by="office",
                at=MORNING,
            )
    return made


def tools(of: Contractor) -> list:
    """Return the contractor's tools in order, each inspected."""
    made = []
    for kind, figures in FIGURES.items():
        dimensions = {k: v for k, v in figures.items() if k not in ("rated_lbf", "wear")}
        dimensions |= {"jaw_faces": 3} if kind == "JAW_SET" else {}
        component = component_add(
            contractor=of,
            kind=kind.value,
            mark=f"{kind.value[:2]}-{next(_numbers)}",
            dimensions={k: list(v) if isinstance(v, tuple) else v for k, v in dimensions.items()},
            rated_lbf=figures.get("rated_lbf"),
            by="office",
            at=MORNING,
        )
        component_inspect(
            component=component,
            inspected_on=date(2028, 1, 11),
            inspected_by="Rowan Fell",
            passed=True,
            findings={"wear": {"O_RINGS": "GOOD"}} if kind == "JAW_SET" else {},
            next_due_on=date(2029, 1, 11),
            by="office",
            at=MORNING,
        )
        made.append(component)
    return made


def order(of: Contractor | None = None, line=None, *, released: bool = True, **particulars):
    """Return an order on a lead line, released unless told otherwise."""
    values = {
        "old_nominal_in": 0.75,
        "old_grade": "AA",
        "length_ft": 35.0,
        "cover_ft": 4.5,
        "soil": "STIFF_CLAY",
    }
    made = work_order_create(
        line=line or line_of("LEAD", "LEAD"),
        contractor=of or contractor(),
        by="planner",
        at=AT,
        **(values | particulars),
    )
    if released:
        work_order_release(work_order=made, by="planner", at=AT)
    return made


def safe_answers(on: date = DAY, **changed) -> JobSafety:
    """Return answers that let the work start on a day."""
    pit = Excavation(
        name="Pit at the main",
        depth_ft=5.0,
        protective_system="trench box",
        egress_within_ft=10.0,
        spoil_setback_ft=3.0,
        inspected_on=on,
        inspected_by="Rowan Fell",
    )
    answers = JobSafety(
        excavations=(pit,),
        ticket=OneCallTicket("T-1", on - timedelta(days=3), on + timedelta(days=9), True),
        lead=LeadHandling(True, "wet shear", True),
        pull=PullSetup(
            free_cable_ft=10.0,
            exclusion_zone_ft=15.0,
            barriers_at_both_pits=True,
            spotter_with_radio=True,
            emergency_stop_tried=True,
            relief_set=True,
            gauge_calibrated_on=on - timedelta(days=30),
            bore_proved=True,
        ),
        traffic_plan=True,
        line_isolated=True,
        electrical_ground_checked=True,
    )
    return replace(answers, **changed)


FACING = {"BLADE": "FLAT_TO_OLD_PIPE"}


def string(work_order, components=None, pulled_end="THICK"):
    """Return the recorded string of an order, pulled by the thick end unless told otherwise."""
    components = components or tools(work_order.contractor)
    return tool_string_record(
        work_order=work_order,
        parts=[(component, FACING.get(component.kind, "")) for component in components],
        by="crew",
        at=AT,
        pulled_end=pulled_end,
    )


# What is measured rather than seen, as a crew finds it that may go on.
MEASURED = {
    "ANTI_SEIZE": 3,
    "CABLE_TAIL": 0.25,
    "NUT_GAP": 0,
    "WRENCHES": 2,
    "RETAINING_NUT_TORQUE": 70,
    "SEAT_MOVEMENT": 0,
}


def good_answers(material: str = "PE", method: str = "SPLIT") -> list[dict]:
    """Return an answer to each row of the checklist that leaves nothing open."""
    return [
        {"check_key": row.check, "measured": MEASURED[row.check]}
        if row.check in MEASURED
        else {"check_key": row.check, "passed": True}
        for row in checks_for(material, method=method)
    ]


def ready(work_order, at: datetime = AT):
    """Return the order with a string, its checklist answered and an estimate for it."""
    made = work_order.tool_strings.order_by("-id").first()
    if made is None:
        own = {part.kind: part for part in work_order.contractor.components.order_by("id")}
        made = string(work_order, [*own.values()] or tools(work_order.contractor))
    assembly_answer_many(
        tool_string=made, by="crew", at=at,
        answers=good_answers(work_order.new_material, work_order.method),
    )  # fmt: skip
    state = {"resin": "PE4710", "temperature_f": 73.0, "minutes": 60.0}
    estimate_make(work_order=work_order, by="crew", at=at, anchor_lbf=9000, pipe_state=state)
    return work_order


def started(work_order, on: date = DAY):
    """Return the order with all that a start asks for, the owner's consent, and a safe start."""
    ready(work_order)
    consent_record(
        line=work_order.line,
        answer="GIVEN",
        answered_on=date(2028, 3, 1),
        given_by="The owner",
        by="clerk",
        recorded_at=AT,
    )
    at = datetime(on.year, on.month, on.day, 13, tzinfo=MORNING.tzinfo)
    return pull_start(work_order=work_order, facts=safe_answers(on), by="crew", at=at, on=on)


@kept
def started_order():
    """Return an order whose start is on record."""
    return started(order())


def pull(work_order, text: str | None = None, *, seed: int = 0, **more):
    """Return a pull with a log of known truth; each order gets a log of its own."""
    content = text or synthetic_log(35.2, seed=seed or work_order.pk)
    return pull_record(
        work_order=work_order,
        log=BytesIO(content.encode()),
        name="pull.csv",
        machine={},
        by="crew",
        at=LATER,
        pulled_on=DAY,
        **more,
    )


def photos(of: Contractor) -> list:
    """Return the photos that a record must have."""
    return [
        document_store(
            file=BytesIO(PNG),
            name=f"{kind.lower()}.png",
            kind=f"PHOTO_{kind}",
            by="crew",
            at=LATER,
            allowed=("image/png",),
            limit_bytes=10_000,
            owner_key=f"contractor:{of.pk}",
        )
        for kind in ("OLD_PIPE", "LEAD_REMOVED", "NEW_AT_MAIN", "NEW_AT_HOUSE", "RESTORED")
    ]


def good_quality(on: date = DAY, length_ft: float = 35.0) -> dict:
    """Return a quality record that passes every mandatory check as shipped."""
    return {
        "static_psi": 60,
        "pressure_test": {
            "pressure_psi": 100,
            "minutes": 15,
            "drop_psi": 0,
            "visible_leak": False,
            "settled_minutes": 5,
        },
        "tracer": {"both_ends_free": True, "signal_full_length": True, "resistance_ohm": 2},
        "depths_ft": {"main": 4.5, "house": 4.5},
        "leading_outside_in": 1.125,
        "cut_off_ft": 2,
        "disinfection": {
            "method": "PLUMBING_24H", "dose_mg_l": 50, "hours": 24, "residual_mg_l": 25
        },
        "crew_flush": {"minutes": 10, "velocity_ft_s": 3},
        "premise_flush": {
            "minutes": 30, "aerators_off": True, "bottom_floor_up": True, "cold_only": True
        },
        "lead": {"length_ft": length_ft, "weight_lb": None, "left_in_ground_ft": 0},
        "bonding_checked": True,
        "restored_on": on.isoformat(),
        "household": {
            "notice_on": on.isoformat(),
            "flushing_instructions_on": on.isoformat(),
            "filter_on": on.isoformat(),
            "cartridge_months": 6,
            "sample_offered_on": on.isoformat(),
        },
    }  # fmt: skip


def handed_in(work_order, **changed):
    """Return a good completion record of an order, handed in; its start is put on record."""
    pulled = is_pulled(changed.get("method_used", work_order.method))
    tried = changed.get("outcome", "REPLACED") in ("REPLACED", "STOPPED")
    if pulled and tried and not work_order.safety:
        started(work_order)
    values = {
        "finished_on": DAY,
        "system_found": "LEAD",
        "customer_found": "LEAD",
        "system_replaced": True,
        "customer_replaced": True,
        "quality": good_quality(),
        "photos": photos(work_order.contractor),
        "by": "crew",
        "user_id": None,
        "at": LATER,
    }
    if changed.get("outcome", "REPLACED") != "REPLACED":
        plain = ("finished_on", "by", "user_id", "at")
        values = {name: values[name] for name in plain}
    return completion_hand_in(work_order=work_order, **(values | changed))
