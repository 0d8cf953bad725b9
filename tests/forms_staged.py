"""Pages whose forms show only once something has happened, and how to let it happen.

Each row: the role that looks, what happens before, given one thing of each kind; it returns the
page's path. Nothing of it stays.
"""

from datetime import date, datetime, timedelta

from django.contrib.auth import get_user_model
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from program.clock import machine_now
from program.models import (
    CustomerWork,
    Exceedance,
    Inquiry,
    LayoutVersion,
    Notice,
    NoticeBatch,
    NoticeReturn,
    PlanDocument,
    PoolFreeze,
    SignedIn,
    Telephone,
)
from program.operations.customer_work import customer_work_step
from program.operations.kept_views import view_keep
from program.operations.layouts import layout_save
from program.operations.own_values import rehearsal_open, value_proposal
from program.operations.people import map_key_make
from program.operations.plan_documents import plan_text_write
from replacements.api.authentication import device_let_in
from replacements.models import (
    CompletionRecord,
    LiveFeed,
    PullRecord,
    Reinspection,
    ReinspectionDraw,
    Replacement,
    WorkOrder,
)
from replacements.operations.pulls.explaining import pull_explain
from replacements.operations.visits import appointment_book, person_record
from replacements.operations.work_orders import work_order_call_off
from services_inventory.models import (
    Batch,
    Feed,
    HeldRow,
    InspectionOrder,
    MatchQuestion,
    OwnWord,
    ServiceLine,
    ValidationDraw,
    ValidationPick,
)
from services_inventory.operations.batches import batch_open
from services_inventory.operations.evidence import evidence_record, evidence_withdraw
from services_inventory.operations.matches import match_decide
from services_inventory.operations.taking_back import take_back
from services_inventory.today import now
from tests.forms_staged_plans import STAGED_PLANS

WHO = {"by": "manager"}
YEAR = timedelta(days=365)


def _batch(view: str, kind: str, state: str, **changed):
    def stage(day):
        batch = Batch.objects.filter(kind=kind).last()
        Batch.objects.filter(pk=batch.pk).update(state=state, **changed)
        return reverse(view, args=[batch.pk])

    return stage


def heron():
    """Return the orders of the company that the crawl signs in for."""
    return WorkOrder.objects.filter(contractor__name__startswith="Heron")


def _order(state: str, view="work_order"):
    def stage(day):
        order = heron().exclude(tool_strings=None).last()
        WorkOrder.objects.filter(pk=order.pk).update(state=state)
        return reverse(view, args=[order.pk])

    return stage


def _handed_in(day):
    order = heron().filter(state="HANDED_IN").first()
    order.completions.update(review_begun_by="", review_begun_at=None)
    return reverse("work_order", args=[order.pk])


def _live(day):
    order = heron().filter(state="RELEASED").first()
    LiveFeed.objects.create(
        work_order=order, key="another logger", started_by="heron", started_at=now(),
        last_received_at=now(),
        plan={"length_ft": 35, "limit_lbf": None, "limited_by": "", "band": [], "marks": []},
    )  # fmt: skip
    return reverse("live_pull", args=[order.pk])


def _seen_live(day):
    order = heron().filter(state="RELEASED").first()
    LiveFeed.objects.create(
        work_order=order, key="a third logger", started_by="crew", started_at=now(),
        last_received_at=now(), sample_count=9, peak_lbf=900.0, peak_ft=4.0,
        plan={"length_ft": 35, "limit_lbf": None, "limited_by": "", "band": [], "marks": []},
    )  # fmt: skip
    return reverse("work_order", args=[order.pk])


def _called_off(day):
    order = heron().filter(state="RELEASED").first()
    work_order_call_off(work_order=order, at=now(), reason="Not now", **WHO)
    return reverse("work_order_again", args=[order.pk])


def _new_order(day):
    open_orders = WorkOrder.objects.filter(state__in=WorkOrder.OPEN_STATES).values("line")
    line = ServiceLine.objects.exclude(category="NON_LEAD").exclude(pk__in=open_orders).last()
    return f"{reverse('work_order_new')}?line={line.pk}"


def _visits(day):
    order = heron().filter(state="RELEASED").first()
    person_record(line=order.line, capacity="OWNER", name="A. Nother", at=now(), **WHO)
    start = datetime.combine(day, datetime.min.time(), tzinfo=now().tzinfo) + timedelta(days=2)
    appointment_book(line=order.line, purpose="CONSENT", starts_at=start,
                     ends_at=start + timedelta(hours=1), at=now(), **WHO)  # fmt: skip
    return reverse("work_order", args=[order.pk])


def _pull(day):
    pull = PullRecord.objects.filter(work_order__contractor__name__startswith="Heron").last()
    WorkOrder.objects.filter(pk=pull.work_order_id).update(state="RELEASED")
    return reverse("work_order", args=[pull.work_order_id])


def _device(day):
    user = get_user_model().objects.get(username="heron")
    device_let_in(user=user, name="Truck 1", days=3, by="heron", at=now())
    return reverse("device_list")


def _draws_gone(day):
    ValidationPick.objects.all().delete()
    ValidationDraw.objects.all().delete()
    return reverse("validation_list")


def _picked(day):
    pick = ValidationPick.objects.first()
    ValidationPick.objects.filter(pk=pick.pk).update(result="NO_ACCESS")
    return reverse("validation_pick", args=[pick.pk])


def _reinspections_gone(day):
    Reinspection.objects.all().delete()
    ReinspectionDraw.objects.all().delete()
    return reverse("reinspection_list")


def _notice(**such):
    def stage(day):
        return reverse("notice", args=[Notice.objects.filter(**such).first().pk])

    return stage


def _printing(delivered: bool):
    def stage(day):
        printing = NoticeBatch.objects.first()
        NoticeBatch.objects.filter(pk=printing.pk).update(delivered_on=day if delivered else None)
        return reverse("notice_run", args=[printing.batch_id])

    return stage


def _layout(day):
    first = LayoutVersion.objects.order_by("version").first()
    layout_save(text=first.text + "\n# second\n", what_changed="a word", by="compliance",
                at=now(), based_on=first.version)  # fmt: skip
    return reverse("layout_version", args=[first.layout_id, first.version])


def _element(day):
    for text in ("One", "Two"):
        plan_text_write(element="ACCESS", text=text, taken_from="", at=now(), **WHO)
    return reverse("plan_element", args=["ACCESS"])


def _document(day):
    PlanDocument.objects.update(missing=[])
    return reverse("plan_document_frozen", args=[PlanDocument.objects.last().number])


def _planned_package(day):
    order = WorkOrder.objects.exclude(package=None).first()
    WorkOrder.objects.filter(pk=order.pk).update(state="PLANNED")
    return reverse("package", args=[order.package_id])


def _can_be_ordered(day):
    WorkOrder.objects.update(state="CALLED_OFF")
    return f"{reverse('chosen_lines')}?category=LEAD"


def _pools_gone(day):
    freeze = PoolFreeze.objects.order_by("-program_year").first()
    freeze.lines.all().delete()
    freeze.delete()
    return reverse("rate")


def _customer_step(day):
    work = CustomerWork.objects.last()
    customer_work_step(work=work, kind="SYSTEM_DONE", happened_on=day, source="list", at=now(),
                       today=day, **WHO)  # fmt: skip
    return reverse("customer_work", args=[work.line_id])


def _told_nothing(day):
    told = CustomerWork.objects.values("line")
    line = ServiceLine.objects.filter(category="LEAD").exclude(pk__in=told).first()
    return reverse("customer_work", args=[line.pk])


def _inquiry(day):
    return reverse("inquiry", args=[Inquiry.objects.exclude(answered_on=None).first().pk])


def _agreed(day):
    line = ServiceLine.objects.filter(category="LEAD").last()
    inquiry = Inquiry.objects.create(
        line=line, kind="OWNER_AGREES", address_given="here", name="R. Sample",
        contact="000-000-0199", received_on=day, due_on=day,
    )  # fmt: skip
    return reverse("inquiry", args=[inquiry.pk])


def _slot(day):
    return reverse("notice_slot", args=["health_effects", "en"])


def _unsubmitted(day: date):
    return reverse("submission_draft", args=[2029])


def _inspection_waits(day):
    line = ServiceLine.objects.filter(category="UNKNOWN").first()
    InspectionOrder.objects.create(line=line, recorded_by="manager", recorded_at=now())
    return reverse("line", args=[line.pk])


def _nobody_looked(day):
    return reverse("line", args=[ServiceLine.objects.filter(category="UNKNOWN").last().pk])


def _unknown_chosen(day):
    return f"{reverse('chosen_lines')}?category=UNKNOWN"


def _inspections_wait_of_a_list(day):
    _inspection_waits(day)
    return _unknown_chosen(day)


def _contradicted(day):
    line = ServiceLine.objects.filter(category="UNKNOWN").last()
    for material in ("LEAD", "COPPER"):
        evidence_record(line=line, portion="SYSTEM", material=material, basis="EXCAVATION",
                        points_seen=1, observed_on=day, recorded_at=now(), **WHO)  # fmt: skip
    return reverse("conflict", args=[line.conflicts.last().pk])


def _taken_back(day):
    line = ServiceLine.objects.filter(category="UNKNOWN").last()
    seen = evidence_record(line=line, portion="SYSTEM", material="LEAD", basis="EXCAVATION",
                           points_seen=1, observed_on=day, recorded_at=now(), **WHO)  # fmt: skip
    evidence_withdraw(evidence=seen, reason="Another house", recorded_at=now(), **WHO)
    return reverse("evidence_again", args=[seen.pk])


def _asked_about(explained: bool):
    def stage(day):
        pull = PullRecord.objects.filter(work_order__in=heron()).last()
        PullRecord.objects.filter(pk=pull.pk).update(verdict="HOLD")
        WorkOrder.objects.filter(pk=pull.work_order_id).update(state="HANDED_IN")
        pull = PullRecord.objects.get(pk=pull.pk)
        if explained:
            pull_explain(pull=pull, why="The gauge was tapped", at=now(), of_utility=True, **WHO)
        return reverse("work_order", args=[pull.work_order_id])

    return stage


def _rehearsed(day):
    proposal = value_proposal(value_id="DISPUTE_RESPONSE_DAYS", text="50", jurisdiction="STATE",
                              effective_from=day, today=day)  # fmt: skip
    batch = rehearsal_open(proposals=[proposal], title="a value", author="manager", at=now(), **WHO)
    return reverse("rehearsal", args=[batch.pk])


def _question(view: str, decided: bool = False):
    def stage(day):
        line = ServiceLine.objects.select_related("premise").first()
        like = {"line_id": line.pk, "location_id": line.location_id, "score": 96.0,
                "address": line.premise.address, "meters": None}  # fmt: skip
        question = MatchQuestion.objects.create(
            batch=Batch.objects.filter(kind="INTAKE").first(), row_number=9, given_key="14 MILLL",
            given={"location_id": "", "address": "14 Milll St", "reason": "Nearly alike."},
            candidates=[like], score=96, clear=True,
        )  # fmt: skip
        if decided:
            match_decide(question=question, lines=[], at=now(), **WHO)
        return reverse(view)

    return stage


def _held_rows(day):
    content = b"location id,address,system side material\nT-1,1 Twice St,qx\nT-2,2 Twice St,qx\n"
    columns = {"location_id": "location id", "address": "address",
               "system_material": "system side material"}  # fmt: skip
    batch = batch_open(
        kind="INTAKE", by="compliance", at=now(), file=SimpleUploadedFile("held.csv", content)
    )
    batch.result = {"columns": {"columns": columns, "date_order": "MDY", "crs": ""}}
    batch.counts = {"new": 0, "changed": 0, "unchanged": 0, "held": 1, "left_out": 1, "total": 2}
    batch.state = "APPLIED"
    batch.save()
    HeldRow.objects.create(
        batch=batch, row_number=2, reason="'qx' is no material.",
        cells=["T-1", "1 Twice St", "qx"], mended={"2": "lead"}, mended_by="compliance",
        mended_at=now(),
    )  # fmt: skip
    HeldRow.objects.create(
        batch=batch, row_number=3, reason="'qx' is no material.", cells=["T-2", "2 Twice St", "qx"],
        left_out_why="torn down", left_out_by="compliance", left_out_at=now(),
    )  # fmt: skip
    return reverse("held_mend", args=[batch.pk])


def _waiting_feed(day):
    feed = Feed.objects.get()
    Batch.objects.create(
        kind="INTAKE", state="CHECKED", file_name="weekly.csv", requested_by="compliance",
        created_at=now(), parameters={"feed": feed.pk}, message="It waits.",
        counts={"new": 9, "changed": 0, "unchanged": 0, "held": 0, "total": 9},
    )  # fmt: skip
    return reverse("feed", args=[feed.pk])


def _step_open(day):
    get_user_model().objects.filter(username="compliance").update(is_active=False)
    return reverse("first_hour")


def _asked_word(day):
    batch = Batch.objects.filter(kind="INTAKE").first()
    asked = {"heading": "MATL", "field": "system_material", "kind": "MATERIAL", "word": "QX",
             "held": True, "rows": 3, "examples": [[2, "QX"]]}  # fmt: skip
    Batch.objects.filter(pk=batch.pk).update(state="CHECKED", result={"words": [asked]})
    return reverse("words_asked", args=[batch.pk])


def _own_word(day):
    OwnWord.objects.create(
        heading="MATL", heading_key="matl", kind="MATERIAL", word="QX", word_key="qx", code="LEAD",
        said_by="manager", said_at=now(),
    )  # fmt: skip
    return reverse("word_list")


def _word_taken_back(day):
    _own_word(day)
    word = OwnWord.objects.latest("pk")
    take_back(row=word, reason="it is copper", by="manager", at=now())
    batch = Batch.objects.filter(kind="INTAKE", state="APPLIED", withdrawn_by=None).last()
    Batch.objects.filter(pk=batch.pk).update(result=batch.result | {"own_words": [word.pk]})
    return reverse("batch", args=[batch.pk])


def _kept_view(day):
    user = get_user_model().objects.get(username="manager")
    view, _ = view_keep(user=user, path=reverse("line_list"), query="category=LEAD", name="Lead")
    return view.address


def _second_step(view: str):
    def stage(day):
        users = get_user_model().objects.in_bulk(field_name="username")
        for name in ("manager", "kestrel"):
            Telephone.objects.create(user=users[name])
        map_key_make(user=users["manager"], name="Desk", at=now())
        SignedIn.objects.create(
            session_key="x" * 32, account=users["manager"], expire_date=machine_now() + YEAR
        )
        return reverse(view, args=[users["kestrel"].pk] if view == "account" else [])

    return stage


def _exceeded(withdrawn: bool):
    """A period whose exceedance stands, or was taken back by mistake."""

    def stage(day):
        learned = Exceedance.objects.first()
        if withdrawn:
            take_back(row=learned, reason="by mistake", by="compliance", at=now())
        return reverse("sampling_period", args=[learned.period_id])

    return stage


def _residents(day):
    line = ServiceLine.objects.filter(inquiries=None).last()
    person_record(line=line, capacity="OWNER", name="A. Nother", at=now(), **WHO)
    return reverse("residents", args=[line.pk])


def _to_invite(day):
    work = Replacement.objects.standing(day).last()
    Replacement.objects.filter(pk=work.pk).update(replaced_on=date(2030, 9, 15))
    CompletionRecord.objects.filter(pk=work.completion_id).update(quality={})
    return reverse("sampling_invitations")


STAGED = (
    ("M", _second_step("own_account")),
    ("A", _second_step("account")),
    ("P", _residents),
    ("M", _asked_word),
    ("M", _held_rows),
    ("M", _waiting_feed),
    ("M", _step_open),
    ("M", _own_word),
    ("M", _word_taken_back),
    ("M", _kept_view),
    ("M", _question("match_list")),
    ("M", _question("match_many")),
    ("M", _question("match_decided", decided=True)),
    ("M", _batch("batch", "INTAKE", "CHECKED")),
    ("M", _batch("batch", "INTAKE", "QUEUED")),
    ("M", _batch("batch", "INTAKE", "APPLIED", result={"sheets": ["Oak Ward"]})),
    ("C", _batch("drop", "COMPLETIONS", "QUEUED")),
    ("P", _batch("notice_run", "LETTERS", "QUEUED")),
    ("M", _batch("plan_run", "PLAN", "QUEUED")),
    ("M", _order("PLANNED")),
    ("M", _called_off),
    ("M", _new_order),
    ("M", _visits),
    ("C", _order("RELEASED", "work_order_checklist")),
    ("C", _order("RELEASED", "work_order_completion")),
    ("C", _handed_in),
    ("C", _pull),
    ("C", _live),
    ("C", _seen_live),
    ("C", _device),
    ("P", _draws_gone),
    ("P", _picked),
    ("P", _reinspections_gone),
    ("P", _notice(delivered_on__isnull=False)),
    ("P", lambda day: reverse("notice", args=[NoticeReturn.objects.last().notice_id])),
    ("P", _printing(False)),
    ("P", _printing(True)),
    ("P", _layout),
    ("M", _element),
    ("P", _document),
    *STAGED_PLANS,
    ("M", _planned_package),
    ("M", _can_be_ordered),
    ("M", _pools_gone),
    ("M", _customer_step),
    ("M", _told_nothing),
    ("P", _inquiry),
    ("P", _agreed),
    ("P", _slot),
    ("P", _unsubmitted),
    ("P", _contradicted),
    ("P", _inspection_waits),
    ("P", _nobody_looked),
    ("P", _unknown_chosen),
    ("P", _inspections_wait_of_a_list),
    ("P", _taken_back),
    ("M", _asked_about(explained=False)),
    ("M", _asked_about(explained=True)),
    ("P", _rehearsed),
    ("P", _to_invite),
    ("P", _exceeded(False)),
    ("P", _exceeded(True)),
    ("P", lambda day: f"{reverse('outreach')}?year=2030"),
    ("P", lambda day: reverse("rule_value", args=["REPLACEMENT_DEADLINE"])),
    ("P", lambda day: reverse("rule_value", args=["DISPUTE_RESPONSE_DAYS"])),
)
