"""One thing of each kind in the invented hamlet, for the addresses that name one."""

from datetime import date

from django.contrib.auth import get_user_model

from program.models import (
    DoneMark,
    Exceedance,
    Invalidation,
    Notice,
    OutreachAct,
    OutreachPartner,
    OwnValue,
    ResultFile,
    SamplingPeriod,
    TapResult,
)
from program.operations.customer_work import customer_work_record
from program.operations.inquiries import inquiry_receive
from program.operations.layouts import layout_save
from program.operations.notices import notices_owe
from program.operations.own_values import rehearsal_confirm, rehearsal_open, value_proposal
from program.operations.plan_documents import plan_document_freeze
from program.operations.plans import inspections_draw, plan_draw
from program.operations.ticks import value_tick
from replacements.api.authentication import device_let_in
from replacements.models import (
    ChangeOrder,
    CompletionRecord,
    Component,
    Contractor,
    LiveFeed,
    NearbyLine,
    OwnerChange,
    PaymentStatement,
    PullRecord,
    StatementLine,
    StreetClosure,
    ToolStringRecord,
    WorkOrder,
)
from replacements.operations.owners import owner_change_record
from replacements.operations.reinspections import reinspections_draw
from replacements.operations.tools import tool_set_add
from services_inventory.models import (
    Batch,
    Conflict,
    Document,
    Evidence,
    Feed,
    InspectionOrder,
    Neighborhood,
    PremiseChange,
    Proposal,
    ServiceLine,
)
from services_inventory.operations.batches import batch_open
from services_inventory.operations.buildings import building_record
from services_inventory.operations.validation import validation_draw
from services_inventory.today import now, today


def things() -> dict[str, dict]:
    """Return prefix of an address -> the arguments that name a thing that exists.

    What belongs to a contractor belongs to the one called Heron Row.
    """
    heron = Contractor.objects.get(name__startswith="Heron")
    orders = WorkOrder.objects.filter(contractor=heron)
    order = orders.filter(state="RELEASED").first()
    waiting = CompletionRecord.objects.filter(
        work_order__contractor=heron, work_order__state="HANDED_IN"
    ).first()
    line = ServiceLine.objects.filter(category="LEAD").first()
    feed = Feed.objects.create(
        name="Weekly export", folder="weekly-export", made_by="compliance", made_at=now()
    )
    draw = validation_draw(by="compliance", drawn_on=today(), seed="7")
    notices_owe(today())
    inquiry = inquiry_receive(
        kind="WRONG_CATEGORY",
        address_given=line.premise.address,
        message="It is copper.",
        line=line,
        received_on=today(),
        at=now(),
    )
    work = customer_work_record(
        line=line,
        told_on=today(),
        done_on=today(),
        source="call",
        by="manager",
        at=now(),
        today=today(),
    )
    string = ToolStringRecord.objects.filter(work_order__contractor=heron).last()
    pull = PullRecord.objects.filter(work_order__contractor=heron).last()
    staff_batches = {
        kind: batch_open(kind=kind, by="manager", at=now()).pk
        for kind in ("SUBMISSION", "LETTERS", "PLAN", "WORKS")
    }
    who = {"by": "manager", "at": now(), "as_of": today()}
    plan = plan_draw(settings={"runs": 100}, **who)
    planned = plan.areas.filter(program_year__isnull=False).order_by("program_year", "crew")
    area = planned.first() or plan.areas.first()  # where the rules clash, none has a year
    looked_at = inspections_draw(budget=5, random_share=0.4, seed=1, **who)
    again = reinspections_draw(first_day=date(2020, 1, 1), last_day=today(), share_percent=5,
                               seed="7", drawn_on=today(), by="manager", at=now())  # fmt: skip
    drop = batch_open(kind="COMPLETIONS", by="heron", at=now(), owner_key=f"contractor:{heron.pk}")
    state = {"jurisdiction": "STATE", "effective_from": today(), "today": today()}
    set_value = value_proposal(value_id="DISPUTE_RESPONSE_DAYS", text="45", **state)
    author = {"by": "compliance", "author": "compliance", "at": now()}
    kept, left = (rehearsal_open(proposals=[set_value], title="a value", **author) for _ in "12")
    rehearsal_confirm(batch=kept, reason="constructed", author="compliance", at=now())
    pk = {
        "inventory/intake/feeds/": feed.pk,
        "inventory/intake/": Batch.objects.filter(kind="INTAKE").first().pk,
        "inventory/neighborhoods/": Neighborhood.objects.first().pk,
        "inventory/lines/": line.pk,
        "inventory/inspections/": _inspection(),
        "inventory/premise-changes/": _building_change(line).pk,
        "inventory/evidence/": Evidence.objects.filter(line=line).first().pk,
        "inventory/documents/": Document.objects.first().pk,
        "inventory/conflicts/": _conflict(line).pk,
        "inventory/conflicts/proposals/": _proposal(line).pk,
        "inventory/validation/": draw.pk,
        "inventory/validation/visits/": draw.picks.first().pk,
        "work/orders/": order.pk,
        "work/lines/": line.pk,
        "work/owner-changes/": _owner_change(line).pk,
        "work/review/": waiting.pk,
        "work/reinspections/": again.pk,
        "work/reinspections/picks/": again.picks.first().pk,
        "work/tools/sets/": tool_set_add(contractor=heron, name="Blue case").pk,
        "work/tools/": Component.objects.filter(contractor=heron).first().pk,
        "work/contractors/": heron.pk,
        "work/documents/": Document.objects.filter(owner_key=f"contractor:{heron.pk}").first().pk,
        "work/packages/": heron.packages.first().pk,
        "work/payments/": heron.pk,
        "work/statements/": _statement(heron).pk,
        "work/statement-rows/": StatementLine.objects.last().pk,
        "work/drops/": drop.pk,
        "work/phone/": order.pk,
        "program/submissions/progress/": staff_batches["SUBMISSION"],
        "program/plan/runs/": staff_batches["PLAN"],
        "program/plan/unknowns/": looked_at.pk,
        "program/plan/closures/": _closure(line).pk,
        "program/plan/works/": staff_batches["WORKS"],
        "program/notices/": Notice.objects.first().pk,
        "program/notices/runs/": staff_batches["LETTERS"],
        "program/inquiries/": inquiry.pk,
        "program/people/": get_user_model().objects.get(username="kestrel").pk,
        "program/people/companies/": heron.pk,
        "program/people/devices/": device_let_in(
            user=get_user_model().objects.get(username="heron"),
            name="Truck 4",
            days=9,
            by="heron",
            at=now(),
        )[0].pk,
        "program/lines/": line.pk,
        "program/rehearsals/": left.pk,
        "program/own-values/": OwnValue.objects.first().pk,
        "program/sampling/periods/": SamplingPeriod.objects.last().pk,
        "program/sampling/files/": ResultFile.objects.last().pk,
        "program/sampling/exceedances/": _exceedance().pk,
        "program/sampling/results/": TapResult.objects.last().pk,
        "program/sampling/aside/": Invalidation.objects.last().pk,
        "program/outreach/": OutreachAct.objects.last().pk,
        "program/outreach/list/": OutreachPartner.objects.last().pk,
        "program/deadlines/done/": DoneMark.objects.last().pk,
        "program/rule/ticks/": _tick().pk,
        "program/customer-work/": work.pk,
        "program/customer-work/steps/": work.steps.first().pk,
        "api/v1/work-orders/": order.pk,
        "api/v1/appointments/": 1,
        "api/v1/tool-strings/": string.pk,
        "api/v1/pulls/": pull.pk,
        "api/v1/completions/": waiting.pk,
    }
    found = {prefix: {"pk": value} for prefix, value in pk.items()}
    found["program/first-hour/"] = {"step": "people"}
    found["work/learning/"] = {"soil": "STIFF_CLAY"}
    found["program/consumer-report/"] = {"slot": "report_lead_statement", "language": "en"}
    place = {"location_id": line.location_id, "language": "en"}
    found |= {
        "work/orders/<int:pk>/nearby/<int:line>/": {"pk": order.pk, "line": _nearby(order).pk},
        "work/orders/<int:pk>/live/<int:feed>/": {"pk": order.pk, "feed": _feed(order).pk},
        "work/^orders/": {"pk": order.pk, "feed": order.live_feeds.last().pk, "action": "end"},
        "work/^tools/": {"pk": pk["work/tools/"], "action": "renewal"},
        "work/^lines/": {"pk": line.pk, "action": "owner"},
        "work/orders/<int:pk>/pull/<int:pull>/": {"pk": order.pk, "pull": pull.pk},
        "work/orders/<int:pk>/explanation/": {"pk": order.pk, "explanation": 1},
        "work/^payments/": {"pk": heron.pk, "kind": "item"},
        "program/submissions/<int:year>": {"year": 2030, "revision": 1, "kind": "xlsx"},
        "help/": {"page": "tutorials/manager/"},
        "program/plan/document/frozen/": {"number": _plan_document().number},
        "program/plan/document/elements/": {"element": "ACCESS", "version": 1},
        "program/layouts/<slug:layout_id>": {"layout_id": _layout().layout_id, "version": 1},
        "program/plan/<int:pk>/": {
            "pk": plan.pk,
            "area": area.pk,
            "year": area.program_year or 10,
            "crew": area.crew or 1,
        },
        "program/rule/": {"rule_id": "LEAD_BAN_DATE_FEDERAL"},
        "program/notices/certificate/": {"year": 2030},
        "program/notices/wording/": {"slot": "HEALTH_EFFECTS", "language": "en"},
        "public/": place,
        "ogc/": {"collection_id": "service_lines", "feature_id": line.location_id},
        "ogc/staff/": {"collection_id": "service_lines", "feature_id": line.location_id},
    }
    return found


def _nearby(order: WorkOrder) -> NearbyLine:
    """Return a line on record near an order's run."""
    return NearbyLine.objects.create(
        work_order=order, kind="GAS", at_ft=1, recorded_by="heron", recorded_at=now()
    )


def _exceedance() -> Exceedance:
    period = SamplingPeriod.objects.first()
    made = {"learned_at": now(), "found": "constructed", "recorded_at": now()}
    return period.exceedances.first() or Exceedance.objects.create(period=period, **made)


def _tick():
    return value_tick(
        value_id="REPLACEMENT_DEADLINE", confirms=True, citation="40 CFR 141.84(d)(4)",
        text="Within ten years.", read_where="edition of 2030", by="compliance", at=now(),
    )  # fmt: skip


def _inspection() -> int:
    line = ServiceLine.objects.filter(category="UNKNOWN").first()
    return InspectionOrder.objects.create(line=line, recorded_by="manager", recorded_at=now()).pk


def _building_change(line: ServiceLine) -> PremiseChange:
    """Return a change of what is known of a line's building."""
    return building_record(
        premise=line.premise, kind=line.premise.kind, building_year=None, plumbing="COPPER",
        plumbing_year=1962, treatment="", source="visit", by="manager", at=now(),
    )  # fmt: skip


def _feed(order: WorkOrder) -> LiveFeed:
    """Return a feed of an order without a sample."""
    return LiveFeed.objects.create(
        work_order=order,
        key="logger",
        plan={"length_ft": 35, "limit_lbf": None, "limited_by": "", "band": [], "marks": []},
        started_by="heron",
        started_at=now(),
        last_received_at=now(),
    )


def _owner_change(line: ServiceLine) -> OwnerChange:
    """Return a change of owner of a line's premises."""
    return owner_change_record(
        premise=line.premise, changed_on=today(), source="deed", by="manager", recorded_at=now()
    )


def _plan_document():
    """Return a frozen draft of the plan document."""
    return plan_document_freeze(
        as_of=today(), what_changed="", by="compliance", at=now(), is_draft_meant=True
    )


def _layout():
    """Return a layout that staff saved."""
    return layout_save(
        text='[layout]\nid = "county_one"\nname = "County one"\n',
        what_changed="",
        by="compliance",
        at=now(),
    )


def _statement(contractor: Contractor) -> PaymentStatement:
    """Return a payment statement of one change order, as a row that can be disputed."""
    statement = PaymentStatement.objects.create(
        contractor=contractor,
        number=900,
        period_from=today(),
        period_to=today(),
        retainage_percent=5,
        made_by="manager",
        made_at=now(),
    )
    change = ChangeOrder.objects.create(
        contractor=contractor, number="C-900", description="Rock met", amount=120,
        approved_on=today(), approved_by="manager", recorded_at=now(),
    )  # fmt: skip
    StatementLine.objects.create(
        statement=statement, change_order=change, quantity=1, unit_price=120, amount=120
    )
    return statement


def _proposal(line: ServiceLine) -> Proposal:
    """Return a proposed answer that waits for a second person."""
    return Proposal.objects.create(
        conflict=_conflict(line),
        material="COPPER",
        reason="The photo is of another house.",
        document=Document.objects.first(),
        proposed_by="compliance",
        proposed_by_account=0,
        proposed_at=now(),
    )


def _closure(line) -> StreetClosure:
    return StreetClosure.objects.create(
        street_key=line.premise.street_key, side="ODD", first_day=today(), last_day=today(),
        recorded_by="manager", recorded_at=now(),
    )  # fmt: skip


def _conflict(line: ServiceLine) -> Conflict:
    """Return an open conflict; a hamlet may have none of its own."""
    found = Conflict.objects.filter(resolved_at=None).first()
    return found or Conflict.objects.create(
        line=line, portion="SYSTEM", sentence="Card and eye disagree.", opened_at=now()
    )
