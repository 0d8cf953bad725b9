"""Before and after the pull: strings, estimates, the safe start, the log, what was learned."""

from dataclasses import replace
from datetime import date
from io import BytesIO

import pytest

from replacements.models import PullRecord
from replacements.operations.access import consent_record, contact_attempt_record
from replacements.operations.completions import CompletionError
from replacements.operations.pulls import (
    EstimateRefused,
    PullRefused,
    StartRefused,
    estimate_make,
    pull_record,
    pull_start,
    pull_withdraw,
)
from replacements.operations.tools import (
    ToolError,
    assembly_answer_many,
    component_add,
    component_inspect,
    component_retire,
    tool_string_propose,
    tool_string_record,
)
from replacements.queries.access import consent_state
from replacements.queries.pulls import estimate_back, trace_pairs
from services_inventory.models import Document
from services_inventory.refused import Refused
from tests.replacements.factories import (
    AT,
    DAY,
    FACING,
    LATER,
    REVIEW,
    contractor,
    handed_in,
    order,
    pull,
    ready,
    safe_answers,
    started,
    string,
    tools,
)
from tests.replacements.logs_made import make_clean_log, make_trouble_log

pytestmark = pytest.mark.django_db


def rules(findings):
    return {(f["level"], f["rule"]) for f in findings}


class TestStrings:
    def test_the_proposed_string_is_recorded_without_stops(self):
        work = order()
        tools(work.contractor)
        proposed = tool_string_propose(work_order=work, as_of=DAY)
        made = tool_string_record(
            work_order=work, by="crew", at=AT, pulled_end="THICK",
            parts=[(part, FACING.get(part.kind, "")) for part in proposed.parts],
        )  # fmt: skip
        assert [p.component.kind for p in made.parts.order_by("position")][:3] == [
            "PULLER", "CABLE", "BLADE"
        ]  # fmt: skip
        assert made.worst_level == "NOTE"

    def test_a_reversed_blade_and_the_thin_end_are_stops(self):
        work = order()
        parts = [(t, "TAPER_TO_OLD_PIPE" if t.kind == "BLADE" else "") for t in
                 tools(work.contractor)]  # fmt: skip
        made = tool_string_record(work_order=work, parts=parts, pulled_end="THIN", by="crew", at=AT)
        assert made.worst_level == "STOP"
        stopped = {f["part"] for f in made.findings if f["level"] == "STOP"}
        assert {1, 2} <= stopped

    def test_a_failed_inspection_blocks_use(self):
        work = order()
        parts = tools(work.contractor)
        component_inspect(
            component=parts[1], inspected_on=date(2028, 3, 5), inspected_by="Rowan Fell",
            passed=False, by="office", at=AT,
        )  # fmt: skip
        made = string(work, parts)
        assert ("STOP", "INSPECTION_FAILED") in rules(made.findings)

    def test_tools_of_another_company_and_tools_used_twice_are_refused(self):
        work, mine = order(), None
        mine = tools(work.contractor)
        with pytest.raises(ToolError, match="not one of this contractor's"):
            string(work, tools(contractor()))
        with pytest.raises(ToolError, match="in the string already"):
            string(work, [mine[0], mine[0]])
        with pytest.raises(ToolError, match="needs its parts"):
            tool_string_record(work_order=work, parts=[], by="crew", at=AT)

    def test_a_tool_is_kept_only_with_figures_that_can_be(self):
        company = contractor()
        given = {"contractor": company, "by": "o", "at": AT}
        with pytest.raises(ToolError, match="color"):
            component_add(kind="BLADE", mark="B", dimensions={"color": 1}, **given)
        with pytest.raises(ToolError, match="above 0"):
            component_add(kind="BLADE", mark="B", dimensions={"outside_in": -1}, **given)
        with pytest.raises(ToolError, match="SPOON"):
            component_add(kind="SPOON", mark="B", **given)
        made = component_add(kind="BLADE", mark="B", dimensions={"outside_in": 1.4}, **given)
        with pytest.raises(ToolError, match="already"):
            component_add(kind="BLADE", mark="B", **given)
        component_retire(component=made, reason="cracked", by="o", at=AT)
        with pytest.raises(ToolError, match="retired on"):
            component_retire(component=made, reason="cracked", by="o", at=AT)

    def test_checklist_answers_carry_name_and_time_and_must_be_of_a_row(self):
        made = string(order())
        row = {"check_key": "CABLE_TAIL", "measured": 0.25}
        (answer,) = assembly_answer_many(tool_string=made, answers=[row], by="crew", at=AT)
        assert (answer.answered_by, answer.answered_at) == ("crew", AT)
        with pytest.raises(ToolError, match="no row 'TEA'"):
            row = {"check_key": "TEA", "passed": True}
            assembly_answer_many(tool_string=made, answers=[row], by="crew", at=AT)
        with pytest.raises(ToolError, match="answer it"):
            row = {"check_key": "CABLE_TAIL"}
            assembly_answer_many(tool_string=made, answers=[row], by="crew", at=AT)


class TestEstimates:
    def test_an_estimate_keeps_its_inputs_and_can_be_drawn_again(self):
        work = order(bends=[{"station_ft": 20, "degrees": 30}])
        made_string = string(work)
        made = estimate_make(
            work_order=work, by="crew", at=AT, anchor_lbf=9000,
            pipe_state={"resin": "PE4710", "temperature_f": 73.0},
        )  # fmt: skip
        assert made.result["tool_string"] == made_string.pk
        assert made.result["limited_by"] == "CABLE"
        assert made.low_lbf < made.expected_lbf < made.high_lbf
        # 7x19 at 14,400 lb through jaws of 0.8 and a design factor of 3: 3,840 lb
        assert made.result["limit_lbf"] == pytest.approx(3840)
        # PE CTS SDR 9 of 1 in.: 550 lb by the handbook, 0.8 by the collar
        assert made.result["pipe_limit_lbf"] == pytest.approx(440, abs=1)
        again = estimate_back(made)
        assert again.expected_lbf == pytest.approx(made.expected_lbf)
        assert again.verdict == made.verdict

    def test_a_hot_pipe_of_a_weaker_resin_pulled_for_long_bears_less(self):
        """ASTM F1804 factors: PE2708 2,600 psi, 0.78 at 100 F, 0.95 beyond an hour."""
        work = order()
        string(work)
        plain, hot = (
            estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000, pipe_state=state)
            for state in (
                {"resin": "PE4710", "temperature_f": 73.0},
                {"resin": "PE2708", "temperature_f": 100.0, "minutes": 90.0},
            )
        )
        share = hot.result["pipe_limit_lbf"] / plain.result["pipe_limit_lbf"]
        assert share == pytest.approx(2600 / 3500 * 0.78 * 0.95, rel=1e-3)
        # The log is held to what the last estimate says of the pipe.
        limits = pull(work).metrics["limits"]
        assert limits["pipe_allowable_lbf"] == pytest.approx(hot.result["pipe_limit_lbf"], rel=1e-3)
        assert estimate_back(hot).expected_lbf == pytest.approx(hot.expected_lbf)

    def test_a_pipe_too_hot_for_the_table_is_refused(self):
        with pytest.raises(EstimateRefused, match="cool in the shade"):
            estimate_make(work_order=order(), by="c", at=AT, pipe_state={"temperature_f": 130.0})

    def test_without_a_string_nothing_is_rated_so_the_answer_is_no_go(self):
        made = estimate_make(work_order=order(), by="crew", at=AT)
        assert made.verdict == "NO_GO"
        assert ("STOP", "NO_RATING_CABLE") in rules(made.result["findings"])

    def test_missing_basics_are_named(self):
        with pytest.raises(EstimateRefused, match="cover and the soil"):
            estimate_make(work_order=order(cover_ft=None, soil=None), by="crew", at=AT)


class TestStart:
    def test_no_consent_no_start(self):
        work = order()
        with pytest.raises(StartRefused) as refused:
            pull_start(work_order=work, facts=safe_answers(), by="crew", at=LATER, on=DAY)
        assert "NO_CONSENT" in {f.rule for f in refused.value.findings}
        assert not work.safety

    def test_a_missing_answer_stops_and_says_what_to_do(self):
        work = ready(order())
        consent_record(line=work.line, answer="GIVEN", answered_on=date(2028, 3, 1),
                       given_by="Owner", by="c", recorded_at=AT)  # fmt: skip
        for changed, rule in (
            ({"ticket": None}, "ONE_CALL"),
            ({"excavations": ()}, "NO_EXCAVATION"),
            ({"traffic_plan": False}, "TRAFFIC_PLAN"),
            ({"pull": replace(safe_answers().pull, exclusion_zone_ft=14.9)}, "EXCLUSION_ZONE"),
        ):
            with pytest.raises(StartRefused) as refused:
                pull_start(work_order=work, facts=safe_answers(**changed), by="crew", at=LATER,
                           on=DAY)  # fmt: skip
            stopped = {f.rule: f.do for f in refused.value.findings if f.level == "STOP"}
            assert list(stopped) == [rule]
            assert stopped[rule]

    def test_a_no_go_estimate_or_a_string_with_stops_holds_the_pull(self):
        work = order()
        string(work, [t for t in tools(work.contractor) if t.kind != "JAW_SET"])
        with pytest.raises(StartRefused) as refused:
            started(work)
        said = {f.rule: f for f in refused.value.findings if f.level == "STOP"}
        assert {"ESTIMATE_NO_GO", "PART_MISSING"} <= set(said)
        assert "no jaw set" in said["PART_MISSING"].message
        assert all(f.who and f.do and f.source for f in refused.value.findings)

    def test_a_safe_start_is_kept_with_its_answers(self):
        work = started(order())
        assert (work.safety["started_on"], work.safety["started_by"]) == ("2028-04-10", "crew")
        assert work.safety["answers"]["ticket"]["number"] == "T-1"

    def test_answers_of_the_owner_are_weighed_in_order(self):
        work = order()
        with pytest.raises(Refused, match="taken back"):
            consent_record(line=work.line, answer="REVOKED", answered_on=DAY, by="c",
                           recorded_at=LATER)  # fmt: skip
        started(work)
        consent_record(line=work.line, answer="REVOKED", answered_on=DAY, by="c",
                       recorded_at=LATER)  # fmt: skip
        assert consent_state(work.line, DAY).state == "REFUSED"
        with pytest.raises(Refused, match="not come yet"):
            contact_attempt_record(line=work.line, at=REVIEW, method="PHONE", by="c",
                                   recorded_at=LATER)  # fmt: skip


class TestLogs:
    def test_a_log_is_judged_against_the_strings_own_limit_and_thinned(self):
        work = order(joints=[{"station_ft": 12.0, "kind": "WIPED"}])
        string(work)
        made = pull(work, make_clean_log())
        assert made.verdict == "ACCEPT"
        # known by construction: 1,900 lb at the joint, 35.2 ft
        assert made.peak_lbf == pytest.approx(1900)
        assert made.length_ft == pytest.approx(35.2, abs=0.3)
        assert made.metrics["limits"]["limit_lbf"] == pytest.approx(3840)
        assert len(made.trace["force_lbf"]) <= 400
        assert max(made.trace["force_lbf"]) == pytest.approx(1900)
        drawn = [force for _, force in trace_pairs(made)]
        assert max(drawn) == max(made.trace["force_lbf"]) and len(drawn) < len(
            made.trace["force_lbf"]
        )
        assert made.log.kind == "PULL_LOG"
        assert made.log.owner_key == f"contractor:{work.contractor_id}"

    def test_a_pull_without_a_start_is_kept_but_cannot_be_accepted_as_it_stands(self):
        work = order()
        string(work)
        made = pull(work)
        assert ("STOP", "START_NOT_ON_RECORD") in rules(made.findings)
        record = handed_in(work, pull=made)
        assert ("STOP", "PULL_STOP") in rules(record.findings)

    def test_a_log_of_pressure_needs_the_cylinder(self):
        work = order(length_ft=60.0)
        text = make_trouble_log().encode()
        given = {"work_order": work, "name": "p.csv", "by": "crew", "at": LATER, "pulled_on": DAY}
        with pytest.raises(PullRefused, match="bore"):
            pull_record(log=text, machine={}, **given)
        machine = {"bore_in": 3.25, "rod_in": 1.5, "efficiency": 0.92, "free_pressure_psi": 60}
        made = pull_record(log=text, machine=machine, **given)
        assert made.verdict == "REJECT"

    def test_files_that_are_no_log_are_refused_with_the_reason_and_nothing_is_kept(self):
        work = order()
        for content, said in (
            (b"", "empty"),
            (b"\x00\x01\x02binary" * 50, "."),
            (b"a,b\n1,2\n", "."),
            (make_clean_log().replace("Force (lbf)", "Color").encode(), "force"),
        ):
            with pytest.raises(PullRefused, match=said):
                pull_record(work_order=work, log=BytesIO(content), machine={}, by="c", at=LATER,
                            pulled_on=DAY, name="x.csv")  # fmt: skip
        assert not PullRecord.objects.exists()
        assert not Document.objects.exists()

    def test_the_same_log_again_is_the_same_pull_and_another_orders_log_is_refused(self):
        company = contractor()
        first, second = order(company), order(company)
        made = pull(first, make_clean_log())
        assert pull(first, make_clean_log()) == made
        with pytest.raises(PullRefused, match=first.number):
            pull(second, make_clean_log())

    def test_the_same_log_read_otherwise_takes_the_place_of_the_first_reading(self):
        work, text = order(), make_clean_log().replace("Force (lbf)", "Pressure (psi)")
        given = {"work_order": work, "by": "c", "at": LATER, "pulled_on": DAY, "name": "x.csv"}

        def read_with(**more):
            return pull_record(log=BytesIO(text.encode()), **given, **more)

        small = read_with(machine={"bore_in": 2.0})
        again = read_with(machine={"bore_in": 2.0})
        assert again == small
        large = read_with(machine={"bore_in": 4.0})
        small.refresh_from_db()
        assert (small.withdrawn_by, small.withdrawn_reason) == ("c", "Read again, otherwise.")
        assert list(work.pulls.standing()) == [large]
        assert large.peak_lbf == pytest.approx(4 * small.peak_lbf)
        in_kpa = read_with(
            machine={"bore_in": 2.0}, columns={"force": (None, "kPa"), "time": (None, "s")}
        )
        assert in_kpa.peak_lbf == pytest.approx(small.peak_lbf / 6.89476, rel=1e-4)
        assert list(work.pulls.standing()) == [in_kpa]

    def test_a_withdrawn_pull_is_kept_and_counts_no_more(self):
        work = order()
        made = pull(work)
        with pytest.raises(PullRefused, match="Say why"):
            pull_withdraw(pull=made, by="c", at=LATER, reason="")
        pull_withdraw(pull=made, by="c", at=LATER, reason="log of the house next door")
        assert not work.pulls.standing().exists()
        assert work.pulls.count() == 1
        with pytest.raises(PullRefused, match="already"):
            pull_withdraw(pull=made, by="c", at=LATER, reason="again")
        with pytest.raises(CompletionError, match="withdrawn"):
            handed_in(work, pull=made)

    def test_a_log_far_off_its_estimate_asks_for_the_unit(self):
        work = order(joints=[])
        string(work)
        estimate_make(work_order=work, by="crew", at=AT, anchor_lbf=9000)
        text = make_clean_log().replace("Force (lbf)", "Pressure (psi)").encode()
        given = {"work_order": work, "by": "c", "at": LATER, "pulled_on": DAY, "name": "x.csv"}
        given["machine"] = {"bore_in": 1.0}
        right = pull_record(log=text, **given)
        assert "UNIT_DOUBT" not in [f["rule"] for f in right.findings]
        wrong = pull_record(log=text, columns={"force": (None, "kPa")}, **given)
        assert "UNIT_DOUBT" in [f["rule"] for f in wrong.findings]

    def test_only_released_work_takes_a_log(self):
        with pytest.raises(PullRefused, match="only released"):
            pull(order(released=False))
        with pytest.raises(PullRefused, match="not come yet"):
            pull_record(work_order=order(), log=b"x", machine={}, by="c", at=AT, pulled_on=DAY)


def test_a_paper_that_ran_out_since_the_release_forbids_the_start():
    work = order()
    work.contractor.certificates.filter(kind="INSURANCE").update(expires_on=date(2028, 4, 9))
    with pytest.raises(StartRefused) as refused:
        started(work)
    assert [f.rule for f in refused.value.findings if f.level == "STOP"] == ["PAPER_MISSING"]
    assert "must renew proof of its insurance" in str(refused.value)
