"""In whatever order it is posted, by page, phone or API: no start with an open or failed stop.

A model beside the program remembers what was last posted; the program may show a start as on
record only while the model knows of nothing that stops it, and must take one when all is in order.
"""

from datetime import timedelta

import pytest
from django.db import transaction
from django.urls import reverse
from hypothesis import settings as how
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from replacements.models import ForceEstimateRecord
from replacements.operations.access import consent_record
from replacements.operations.tools import component_inspect
from replacements.operations.work_orders import work_order_change
from replacements.queries.stored import plain
from tests.examples import SHARE
from tests.replacements.factories import (
    LATER,
    contractor,
    good_answers,
    order,
    safe_answers,
    tools,
    user,
)

pytestmark = pytest.mark.django_db
TODAY = LATER.date()
PLACES = st.sampled_from(("page", "phone", "api"))
PAGE_OR_API = st.sampled_from(("page", "api"))
FACINGS = st.sampled_from(("FLAT_TO_OLD_PIPE", "TAPER_TO_OLD_PIPE", ""))
STOP_ROWS = ("CABLE_TAIL", "BLADE_FACING", "CLEVIS")
FORM = {
    "on": TODAY.isoformat(), "traffic": "yes", "main_depth_ft": "5",
    "main_protection": "trench box", "main_egress_ft": "10", "main_spoil_ft": "3",
    "main_inspected_on": TODAY.isoformat(), "main_inspected_by": "Rowan Fell",
    "ticket_number": "T-9", "ticket_from": "2028-04-07", "ticket_to": "2028-04-20",
    "marks_visible": "on", "free_cable_ft": "10", "exclusion_zone_ft": "15",
    "gauge_calibrated_on": "2028-03-01", "barriers_at_both_pits": "on",
    "spotter_with_radio": "on", "emergency_stop_tried": "on", "relief_set": "on",
    "bore_proved": "on", "line_isolated": "on", "electrical_ground_checked": "on",
    "cutting_method": "wet shear", "hygiene_set_up": "on", "scrap_contained": "on",
}  # fmt: skip


def moment():
    """Return the moment that everything is posted at."""
    return LATER


@pytest.fixture
def job(settings):
    """Return an order with its contractor's tools, the owner's consent given."""
    settings.NOW, settings.TODAY = f"{__name__}.moment", ""
    work = order(contractor())
    work.own = tools(work.contractor)
    consented(work, "GIVEN")
    return work


def consented(work, answer):
    """Record the owner's answer."""
    consent_record(line=work.line, answer=answer, answered_on=TODAY, given_by="The owner",
                   by="clerk", recorded_at=LATER)  # fmt: skip


def test_no_way_leads_to_a_start_with_an_open_or_failed_stop(job, client):
    client.force_login(user("crew", "Contractor", job.contractor))
    run_state_machine_as_test(
        lambda: Ways(job, client),
        settings=how(max_examples=8 if SHARE == 1 else 4, stateful_step_count=12, deadline=None),
    )


class Ways(RuleBasedStateMachine):
    """What a crew and its office may do to an order, in any order."""

    def __init__(self, job, client):
        super().__init__()
        self.job, self.client, self.held = job, client, transaction.atomic()
        self.held.__enter__()
        self.sound = self.estimated = None
        self.failed, self.answered, self.consent = set(), False, True
        self.inspected = True
        self.length_ft, self.method = job.length_ft, "SPLIT"
        self.started_with = None

    def teardown(self):
        """Take everything back."""
        transaction.set_rollback(True)
        self.held.__exit__(None, None, None)
        self.job.refresh_from_db()

    def post(self, name, data, pk=None, **more):
        """Post to a page of the work."""
        return self.client.post(reverse(name, args=[pk or self.job.pk]), data, **more)

    def string(self):
        """Return the latest string."""
        return self.job.tool_strings.order_by("-id").first()

    @rule(turned=FACINGS, place=PAGE_OR_API)
    def record_a_string(self, turned, place):
        """Record a string that is sound, whose blade is turned round, or was not looked at."""
        if place == "api":
            parts = [{"component": c.pk, "orientation": turned if c.kind == "BLADE" else ""}
                     for c in self.job.own]  # fmt: skip
            self.post("api_strings", {"parts": parts, "pulled_end": "THICK"},
                      content_type="application/json")  # fmt: skip
        else:
            form = {"pulled_end": "THICK"}
            form["blade_facing"] = turned
            for n, component in enumerate(self.job.own, start=1):
                form[f"part_{n}"] = component.pk
            self.post("work_order_string", form)
        assert self.string() is not None
        self.sound = turned == "FLAT_TO_OLD_PIPE"
        self.failed, self.answered = set(), False

    @rule(place=PLACES, bad=st.sets(st.sampled_from(STOP_ROWS), max_size=1), whole=st.booleans())
    def answer_the_checklist(self, place, bad, whole):
        """Answer the whole checklist or some rows of it, one of them perhaps wrong."""
        if self.string() is None or self.method != "SPLIT":
            return  # another method asks other rows
        rows = [row for row in good_answers() if whole or row["check_key"] in STOP_ROWS]
        assert {row["check_key"] for row in rows} >= {*STOP_ROWS}
        rows = [
            row if row["check_key"] not in bad
            else {"check_key": row["check_key"], "measured": 0.5} if "measured" in row
            else {"check_key": row["check_key"], "passed": False}
            for row in rows
        ]  # fmt: skip
        if place == "page":
            said = {r["check_key"]: r.get("measured", "yes" if r.get("passed") else "no")
                    for r in rows}  # fmt: skip
            self.post("work_order_checklist", said)
        else:
            name, pk = ("phone_checklist", None) if place == "phone" else (
                "api_answers", self.string().pk)  # fmt: skip
            self.post(name, {"answers": rows}, pk, content_type="application/json")
        self.failed, self.answered = bad, self.answered or whole

    @rule(place=PAGE_OR_API, anchored=st.booleans())
    def estimate(self, place, anchored):
        """Estimate the pull as the order stands, or without a word of the anchor."""
        given = {"resin": "PE4710", "temperature_f": 73, "minutes": 60}
        given |= {"plate_area_ft2": 4.5, "soil_psf": 2000} if anchored else {}
        name = "work_order_estimate" if place == "page" else "api_estimates"
        as_json = {"content_type": "application/json"} if place == "api" else {}
        self.post(name, given, **as_json)
        self.estimated = self.string() and self.string().pk, self.length_ft, self.method

    @rule(place=PLACES)
    def do_all_in_order(self, place):
        """Record a sound string, answer its whole checklist well, estimate."""
        self.record_a_string(turned="FLAT_TO_OLD_PIPE", place="api" if place == "api" else "page")
        self.answer_the_checklist(place=place, bad=set(), whole=True)
        self.estimate(place="api" if place == "api" else "page", anchored=True)

    @initialize(place=PLACES)
    def begin_with_a_start(self, place):
        """Begin with a start on record, which few ways in any order come to."""
        self.do_all_in_order(place)
        self.start(place, pull=True, answers=True)
        assert self.started_with is not None

    @rule(length_ft=st.sampled_from((30.0, 35.0, 200.0)))
    def change_the_order(self, length_ft):
        """Correct the length."""
        work_order_change(work_order=self.job, by="planner", at=LATER, length_ft=length_ft)
        self.length_ft = length_ft

    @rule(method=st.sampled_from(("SPLIT", "SPLIT", "PULL_OUT", "ROD_SPLIT")))
    def change_the_method(self, method):
        """Have the line replaced another way, for which a blade on a cable is wrong."""
        work_order_change(work_order=self.job, by="planner", at=LATER, method=method)
        self.method = method

    @rule(passed=st.booleans())
    def inspect_the_cable(self, passed):
        """Inspect the cable, which passes or fails."""
        component_inspect(component=self.job.own[1], inspected_on=TODAY, inspected_by="Rowan Fell",
                          passed=passed, by="office", at=LATER)  # fmt: skip
        self.inspected = passed

    @rule(given=st.booleans())
    def hear_the_owner(self, given):
        """Record that the owner agrees, or takes it back."""
        if given != self.consent:
            consented(self.job, "GIVEN" if given else "REVOKED")
            self.consent = given

    @rule(place=PLACES, pull=st.booleans(), answers=st.booleans())
    def start(self, place, pull, answers):
        """Try to start: with good answers or none, the API also without a word of the pull."""
        form = FORM if answers else {"on": FORM["on"], "traffic": "no"}
        if place == "page":
            taken = self.post("work_order_start", form).status_code == 302
        elif place == "phone":
            sent = self.post("phone_start", {"fields": form}, content_type="application/json")
            taken = sent.status_code == 201
        else:
            facts = safe_answers(TODAY) if answers else safe_answers(TODAY - timedelta(days=1))
            body = plain(facts) | ({} if pull else {"pull": None})
            sent = self.post("api_start", body, content_type="application/json")
            taken, answers = sent.status_code == 200, answers and pull
        assert taken == (self.clear() and answers)
        if taken:
            self.started_with = self.string().pk

    @rule()
    def withdraw_the_start(self):
        """Take the start back."""
        self.post("work_order_start_withdraw", {"reason": "wrong house"})
        self.started_with = None

    def clear(self):
        """Whether, as far as the model knows, nothing stands against a start."""
        made = ForceEstimateRecord.objects.filter(work_order=self.job).order_by("-id").first()
        return bool(
            self.sound and self.answered and not self.failed and self.inspected and self.consent
            and self.method == "SPLIT"
            and self.estimated == (self.string().pk, self.length_ft, self.method)
            and made.verdict != "NO_GO"
        )  # fmt: skip

    @invariant()
    def a_start_is_shown_only_while_nothing_stands_against_it(self):
        """Look at the phone and at the page."""
        kept = self.client.get(reverse("phone_orders")).json()["orders"][0]
        page = self.client.get(reverse("work_order", args=[self.job.pk])).content.decode()
        page = " ".join(page.split())
        holds = self.started_with is not None and self.clear()
        holds = holds and self.started_with == self.string().pk
        assert bool(kept["started_on"]) == holds
        assert ("On record</span> Safe start" in page) == holds
        assert ("Holds no more</span> Safe start" in page) == (
            self.started_with is not None and not holds
        )
