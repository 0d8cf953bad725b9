"""Samples taken in, set aside and taken back, and what follows; a constructed small town."""

import io
from datetime import date, timedelta

import pytest

from program.models import Exceedance, Notice, ResultFile, TapResult
from program.operations.deadlines import deadline_done
from program.operations.invitations import invitations_owe
from program.operations.sampling import (
    Doubtful,
    RowsRefused,
    exceedance_record,
    invalidation_withdraw,
    laboratory_read,
    period_record,
    period_withdraw,
    result_invalidate,
    results_take_in,
    results_withdraw,
)
from program.queries.deadlines import deadlines_on
from program.queries.invitations import invitations_due
from program.queries.sampling import exceedance_fact, in_no_period, ranked, result_rows
from program.rules import rules_in_force
from services_inventory.domain.addresses import normalize
from services_inventory.models import Premise
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from tests.program.operations.factories import NOW, TODAY, line, lines, moment, replaced, utility

pytestmark = pytest.mark.django_db
FIRST, LAST = date(2030, 7, 1), date(2030, 12, 31)
DAY = date(2030, 9, 9)
BY = {"by": "compliance", "at": NOW}


@pytest.fixture
def sites():
    utility()
    made = lines([("LEAD", "COPPER", "")] * 6)
    Premise.objects.update(kind="SINGLE_FAMILY")
    return made


def period(required=6, first=FIRST, last=LAST):
    return period_record(first_day=first, last_day=last, required=required, reduced=False, **BY)


def take_in(tmp_path, text, received=TODAY, confirmed=False, unit="", name="lab.csv"):
    path = tmp_path / name
    path.write_text(text)
    reading = laboratory_read(path=path, unit=unit, purpose="COMPLIANCE", as_of=TODAY)
    return results_take_in(
        reading=reading, file=io.BytesIO(path.read_bytes()), name=name, received_on=received,
        confirmed=confirmed, today=TODAY, **BY,
    )  # fmt: skip


def table(sites, values, day=DAY, header="Location ID,Date sampled,Lead (ug/L)"):
    rows = [f"{site.location_id},{day},{value}" for site, value in zip(sites, values, strict=True)]
    return "\n".join([header, *rows])


def p90(of):
    return ranked(of, "LEAD", rules_in_force())


def test_a_file_becomes_results_letters_and_a_percentile(sites, tmp_path):
    of = period()
    take_in(tmp_path, table(sites, [1, 2, 3, 4, "<1", 9]))
    found = p90(of)
    assert [float(sample.value) for _, sample in found.samples] == [0, 1, 2, 3, 4, 9]
    assert (found.value, found.missing, found.exceeded) == (6.0, 0, False)  # 4 + 0.4 * (9 - 4)
    letters = Notice.objects.filter(kind="SAMPLE_RESULT")
    assert letters.count() == 6
    # Wednesday and three business days, over the holiday of Monday, January 20
    assert {letter.due_on for letter in letters} == {date(2031, 1, 21)}
    assert letters.get(line=sites[4]).values["result"] == "Pb <1 µg/L"
    assert not Exceedance.objects.exists()


def test_the_higher_of_two_liters_counts(sites, tmp_path):
    header = "Location ID,Date sampled,Liter,Lead (ug/L)"
    where = sites[0].location_id
    take_in(tmp_path, f"{header}\n{where},{DAY},first,2\n{where},{DAY},fifth,8")
    assert p90(period()).value == 8
    letter = Notice.objects.get()
    assert letter.values["result"] == "Pb 2 / 8 µg/L"


def test_exactly_the_level_is_no_exceedance_and_a_thousandth_more_is(sites, tmp_path):
    of = period()
    take_in(tmp_path, table(sites, [10] * 6))
    assert not p90(of).exceeded and not Exceedance.objects.exists()
    later = period(first=date(2030, 1, 1), last=date(2030, 6, 30))
    take_in(tmp_path, table(sites, [10.001] * 6, date(2030, 5, 5)), name="second.csv")
    assert p90(later).exceeded
    assert Exceedance.objects.get().period == later


def test_an_exceedance_starts_its_clocks_and_ends_them_when_taken_back(sites, tmp_path):
    of = period()
    take_in(tmp_path, table(sites, [20] * 6))
    learned = Exceedance.objects.get()
    dues = {due.rule_id: due for due in deadlines_on(TODAY).dues}
    assert dues["EXCEEDANCE_NOTICE_HOURS"].due_on == TODAY + timedelta(days=1)
    assert dues["SITE_FOLLOW_UP_DAYS"].due_on == TODAY + timedelta(days=30)
    take_back(row=learned, reason="Samples of another system", **BY)
    assert not exceedance_due()
    # What a person took back is not recorded by itself again, and can be by a person.
    result_invalidate(
        result=TapResult.objects.first(), ground="SITE", decided_on=TODAY, decision="letter",
        today=TODAY, **BY,
    )  # fmt: skip
    assert not Exceedance.objects.standing().exists()
    exceedance_record(period=of, learned_at=NOW - timedelta(hours=2), **BY)
    assert exceedance_due()
    with pytest.raises(Refused, match="on record already"):
        exceedance_record(period=of, learned_at=NOW, **BY)
    with pytest.raises(Refused, match="Take that back first"):
        period_withdraw(period=of, reason="wrong", **BY)


def exceedance_due():
    return [due for due in deadlines_on(TODAY).dues if due.rule_id == "EXCEEDANCE_NOTICE_HOURS"]


def test_before_all_samples_are_in_nothing_is_concluded_while_the_period_runs(sites, tmp_path):
    of = period(required=20, last=date(2031, 3, 31))
    take_in(tmp_path, table(sites, [20] * 6))
    assert p90(of).exceeded and p90(of).missing == 14
    assert not Exceedance.objects.exists()


def test_a_site_without_a_tier_does_not_complete_a_period(sites, tmp_path):
    none = line("COPPER", "COPPER")
    of = period(required=7, last=date(2031, 3, 31))
    take_in(tmp_path, table([*sites, none], [20] * 7))
    assert p90(of).missing == 1 and not Exceedance.objects.exists()


def test_a_period_that_is_over_concludes_with_fewer(sites, tmp_path):
    """EPA's memorandum of March 9, 2004 (WSG 173): the percentile is taken of what there is."""
    period(required=20)
    take_in(tmp_path, table(sites, [20] * 6))
    assert Exceedance.objects.exists()


def test_a_period_recorded_late_finds_the_results_that_were_there(sites, tmp_path):
    take_in(tmp_path, table(sites, [20] * 6))
    assert not Exceedance.objects.exists()
    period()
    assert Exceedance.objects.exists()


def test_results_whose_day_lies_in_no_period_are_counted_until_it_is_recorded(sites, tmp_path):
    take_in(tmp_path, table(sites, [1, 2, 3, 4, 5, 6]))
    assert in_no_period() == {"number": 6, "first": DAY, "last": DAY}
    of = period()
    assert not in_no_period()["number"]
    period_withdraw(period=of, reason="Wrong days", **BY)
    assert in_no_period()["number"] == 6


def test_a_result_set_aside_stays_readable_and_counts_again_when_that_was_wrong(sites, tmp_path):
    of = period()
    take_in(tmp_path, table(sites, [1, 1, 1, 1, 1, 9]))
    high = TapResult.objects.get(micrograms=9)
    aside = result_invalidate(
        result=high, ground="DAMAGED", decided_on=TODAY, decision="State's letter", today=TODAY,
        **BY,
    )  # fmt: skip
    assert p90(of).value == 1
    assert [row[-2:] for row in result_rows(of) if row[-1]] == [
        ("the bottle was damaged on the way", "State's letter")
    ]
    with pytest.raises(Refused, match="does not count any more"):
        result_invalidate(result=high, ground="SITE", decided_on=TODAY, decision="x", today=TODAY,
                          **BY)  # fmt: skip
    invalidation_withdraw(aside=aside, reason="another bottle", **BY)
    assert p90(of).value == 1 + 0.4 * 8
    with pytest.raises(Refused, match="Say why"):
        invalidation_withdraw(aside=aside, reason=" ", **BY)


@pytest.mark.parametrize("said", [{"decided_on": DAY - timedelta(days=1)}, {"decision": " "}])
def test_setting_aside_wants_a_day_that_can_be_and_who_decided(sites, tmp_path, said):
    take_in(tmp_path, table(sites, [1] * 6))
    given = {"decided_on": TODAY, "decision": "letter"} | said
    with pytest.raises(Refused):
        result_invalidate(result=TapResult.objects.first(), ground="SITE", today=TODAY, **given,
                          **BY)  # fmt: skip


def test_a_file_taken_back_takes_its_results_and_letters_along(sites, tmp_path):
    of = period()
    file = take_in(tmp_path, table(sites, [1] * 6))
    Notice.objects.filter(line=sites[0]).update(delivered_on=TODAY, delivered_by="POST")
    assert results_withdraw(file=file, reason="the neighbor's file", **BY) == 1
    assert p90(of).found is None
    assert Notice.objects.open().count() == 0
    again = take_in(tmp_path, table(sites, [2] * 6), name="right.csv")
    assert p90(of).value == 2 and again.pk != file.pk
    with pytest.raises(Refused, match="taken back before"):
        results_withdraw(file=file, reason="again", **BY)


def test_the_same_file_after_it_was_taken_back_is_taken_in_anew(sites, tmp_path):
    text = table(sites, [1] * 6)
    results_withdraw(file=take_in(tmp_path, text), reason="by mistake", **BY)
    take_in(tmp_path, text)
    assert ResultFile.objects.standing().count() == 1


def test_a_file_sent_twice_and_rows_on_record_are_refused(sites, tmp_path):
    text = table(sites, [1] * 6)
    take_in(tmp_path, text)
    with pytest.raises(Refused, match="taken in already"):
        take_in(tmp_path, text)
    with pytest.raises(RowsRefused) as refused:
        take_in(tmp_path, text + "\n", name="again.csv")
    assert len(refused.value.problems) == 6
    assert "on record already" in str(refused.value.problems[0])


def test_every_row_that_can_not_be_is_named_and_nothing_is_kept(sites, tmp_path):
    where = sites[0].location_id
    other = sites[1].premise.address
    text = (
        "Location ID,Address,Date sampled,Lead (ug/L)\n"
        f"{where},,{DAY},1\n{where},,{DAY},2\nNOWHERE,,{DAY},3\n"
        f"{where},{other},{DAY - timedelta(days=1)},4\n,999 Nowhere St,{DAY},5\n{where},,{DAY},x\n"
    )
    with pytest.raises(RowsRefused) as refused:
        take_in(tmp_path, text)
    told = [str(problem) for problem in refused.value.problems]
    assert [text.split(":")[0].split(",")[0] for text in told] == [
        "Row 3", "Row 4", "Row 5", "Row 6", "Row 7",
    ]  # fmt: skip
    assert "Row 2 has the same site" in told[0] and "'NOWHERE'" in told[1]
    assert "Which is it?" in told[2] and "No line is at" in told[3] and "no result" in told[4]
    assert not ResultFile.objects.exists() and not Notice.objects.exists()


def test_an_address_finds_its_line(sites, tmp_path):
    place = sites[2].premise
    Premise.objects.filter(pk=place.pk).update(address_key=normalize(place.address).key)
    text = f"Address,Date sampled,Lead (ug/L)\n{sites[2].premise.address.upper()},{DAY},3"
    take_in(tmp_path, text)
    assert TapResult.objects.get().line == sites[2]


def test_a_slip_of_the_unit_is_asked_about(sites, tmp_path):
    text = table(sites, [0.004] * 6)
    with pytest.raises(Doubtful):
        take_in(tmp_path, text)
    take_in(tmp_path, text, confirmed=True)
    assert p90(period()).value == 0.004


def test_days_that_can_not_be_are_refused(sites, tmp_path):
    text = table(sites, [1] * 6)
    with pytest.raises(Refused, match="lies ahead"):
        take_in(tmp_path, text, received=TODAY + timedelta(days=1))
    with pytest.raises(Refused, match="after the results arrived"):
        take_in(tmp_path, text, received=DAY - timedelta(days=1))
    far = date(2301, 1, 1)
    for first, last in ((LAST, FIRST), (FIRST, date(2040, 1, 1)), (far, far)):
        with pytest.raises(Refused):
            period(first=first, last=last)
    period()
    with pytest.raises(Refused, match="overlaps"):
        period(first=LAST, last=date(2031, 6, 30))
    period(first=LAST + timedelta(days=1), last=date(2031, 6, 30))


def test_what_is_no_table_is_refused(sites, tmp_path):
    with pytest.raises(Refused):
        take_in(tmp_path, "%PDF-1.7 not a table")
    with pytest.raises(Refused):
        take_in(tmp_path, "Location ID,Date sampled,Lead (ug/L)\n")


def test_the_tier_is_that_of_the_day_of_the_sample(sites, tmp_path):
    """A line replaced since its water was taken was a lead line on that day."""
    replaced(sites[0], date(2030, 11, 3))
    of = period()
    take_in(tmp_path, table(sites, [9, 1, 1, 1, 1, 1]))
    assert TapResult.objects.get(line=sites[0]).tier == 1
    assert p90(of).value == pytest.approx(1 + 0.4 * 8)


def test_lower_tiers_fill_up_and_a_site_without_one_stands_aside(sites, tmp_path):
    solder = line("COPPER", "COPPER")
    Premise.objects.filter(pk=solder.premise_id).update(
        plumbing="COPPER_LEAD_SOLDER", plumbing_year=1986
    )
    none = line("COPPER", "COPPER")
    of = period(required=7)
    take_in(tmp_path, table([*sites, solder, none], [1, 1, 1, 1, 1, 1, 8, 9]))
    found = p90(of)
    assert [sample.first.line for sample in found.aside] == [none]
    assert len(found.samples) == 7 and found.samples[-1][1].first.line == solder
    assert ranked(period(first=date(2029, 1, 1), last=date(2029, 6, 30)), "LEAD",
                  rules_in_force()).found is None  # fmt: skip


def test_a_sample_above_the_level_that_does_not_decide_is_told(sites, tmp_path):
    of = period()
    take_in(tmp_path, table([*sites, line("COPPER", "COPPER")], [1, 1, 1, 1, 1, 1, 31]))
    found = p90(of)
    assert (found.exceeded, len(found.aside), found.aside_above) == (False, 1, 1)


def test_homes_are_invited_in_their_time_once_and_not_after_a_sample(sites, tmp_path):
    replaced(sites[0], date(2030, 9, 15))  # its time is open
    replaced(sites[1], date(2030, 11, 3))  # opens February 3
    replaced(sites[2], date(2030, 7, 14))  # closed on January 14
    replaced(sites[3], date(2030, 12, 20))  # opens in March
    due = invitations_due(TODAY, rules_in_force())
    assert [row["line"] for row in due] == [sites[0].pk, sites[1].pk]
    assert invitations_owe(as_of=TODAY, by="compliance") == 1
    assert invitations_owe(as_of=TODAY, by="compliance") == 0
    letter = Notice.objects.get(kind="SAMPLE_INVITATION")
    assert (letter.due_on, letter.values["work_date"]) == (date(2031, 3, 15), "2030-09-15")
    header = "Location ID,Date sampled,Lead (ug/L),Purpose"
    take_in(tmp_path, f"{header}\n{sites[0].location_id},2031-01-10,1,follow-up")
    assert [row["line"] for row in invitations_due(TODAY, rules_in_force())] == [sites[1].pk]
    assert Notice.objects.get(kind="SAMPLE_RESULT").rule_id == "FOLLOW_UP_RESULT_BUSINESS_DAYS"
    assert p90(period(last=date(2031, 3, 31))).found is None


def test_the_third_exceedance_within_five_years_is_repeated(sites, tmp_path):
    for at, (first, last) in enumerate(
        [(date(2029, 1, 1), date(2029, 6, 30)), (date(2029, 7, 1), date(2029, 12, 31)),
         (FIRST, LAST)]
    ):  # fmt: skip
        period(first=first, last=last)
        day = first + timedelta(days=60)
        take_in(tmp_path, table(sites, [20] * 6, day), name=f"{at}.csv")
    last = Exceedance.objects.order_by("id").last()
    rules = {due.rule_id for due in exceedance_fact(last).dues(TODAY, rules_in_force())}
    assert {"FILTER_PLAN_DAYS", "REPEATED_OUTREACH_MONTHS"} < rules
    first = Exceedance.objects.order_by("id").first()
    assert len(exceedance_fact(first).dues(TODAY, rules_in_force())) == 5


def test_what_is_done_closes_its_clock_with_proof_and_opens_it_when_taken_back(sites, tmp_path):
    period()
    take_in(tmp_path, table(sites, [20] * 6))
    (due,) = exceedance_due()
    proof = io.BytesIO(b"%PDF-1.4 the notice")
    proof.name = "notice.pdf"
    mark = deadline_done(
        key=due.key, what=due.what, done_on=TODAY, proof="letter", file=proof, today=TODAY, **BY
    )
    assert mark.document.name == "notice.pdf"
    assert not exceedance_due()
    take_back(row=mark, reason="It went to last year's list", **BY)
    assert exceedance_due()
    with pytest.raises(Refused):
        take_back(row=mark, reason="again", **BY)
    assert moment(TODAY) == NOW


def test_copper_above_its_level_starts_clocks_of_its_own_beside_those_of_lead(sites, tmp_path):
    of = period()
    header = "Location ID,Date sampled,Copper (ug/L),Lead (ug/L)"
    rows = [f"{site.location_id},{DAY},1301,20" for site in sites]
    take_in(tmp_path, "\n".join([header, *rows]))
    learned = {one.metal: one for one in Exceedance.objects.filter(period=of)}
    assert set(learned) == {"LEAD", "COPPER"} and "level 1300" in learned["COPPER"].found
    dues = [due for due in deadlines_on(TODAY).dues if due.rule_id == "EXCEEDANCE_SOURCE_MONTHS"]
    assert len(dues) == 2 and len(exceedance_due()) == 1
    take_back(row=learned["LEAD"], reason="Samples of another system", **BY)
    assert not exceedance_due() and Exceedance.objects.standing().get().metal == "COPPER"
