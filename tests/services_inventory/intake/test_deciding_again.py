"""Matches decided again, many at once, and for both lines of a range (constructed)."""

from datetime import timedelta

import pytest
from django.urls import reverse

from services_inventory.models import Batch, Evidence, MatchQuestion, ServiceLine
from services_inventory.operations.batches import batch_run
from services_inventory.operations.matches import (
    decided_rows_take_in,
    match_decide,
    matches_clear,
    matches_decide,
    matches_decide_as_proposed,
    matches_take_back,
    rows_waiting,
    seen,
)
from services_inventory.operations.standings import standings_compare
from services_inventory.operations.undo import intake_undo
from services_inventory.queries.checks import checks
from services_inventory.queries.counts import category_counts_on
from services_inventory.queries.held import held_open
from services_inventory.queries.history import changes_of, standing_on
from services_inventory.queries.past import recount
from services_inventory.refused import Refused
from services_inventory.today import now
from tests.services_inventory.operations.takes import (
    APRIL,
    MILL,
    OAK,
    counted,
    open_file,
    run,
    take_in,
)
from tests.services_inventory.people import STAFF, browser_of

pytestmark = pytest.mark.django_db
POINTS = ("address", "customer side material", "source")
ELM = [("E-12", "12 Elm St", *MILL[2:]), ("E-13", "13 Elm St", *MILL[2:]),
       ("E-14", "14 Elm St", *MILL[2:])]  # fmt: skip


def line(name) -> ServiceLine:
    """Return a line by its identifier."""
    return ServiceLine.objects.get(location_id=name)


def decided(question, *names, why=""):
    """Decide a question for the lines of these identifiers; without any, for its own."""
    return match_decide(question=question, lines=map(line, names), by="clerk", at=APRIL, reason=why)


def taken_in() -> list[dict]:
    """Take in the rows that wait for their answer only; return what came of each file."""
    made = decided_rows_take_in(by="clerk", at=APRIL)
    return [batch_run(batch=batch).counts for batch in made]


def sound() -> bool:
    """Tell whether the record breaks no rule and every standing follows from its evidence."""
    found = [sentence for check in checks() for sentence in check()]
    assert not found, found
    assert standings_compare(recorded_at=APRIL)["differences"] == 0
    return True


def customer(name) -> str:
    """Return what the customer side of a line is of."""
    return line(name).customer_material


def test_what_a_row_said_moves_with_the_second_decision_and_back_again(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    take_in(tmp_path, [("12 Mil St", "lead", "excavation")], header=POINTS)
    question = MatchQuestion.objects.get()
    decided(question, "L2")
    assert held_open(question.batch).count() == 1
    assert taken_in() == [counted(changed=1)]
    assert not held_open(question.batch).exists(), "it went on in a file of its own"
    assert Batch.objects.last().result["not_taken_in"] == []
    assert (customer("L1"), customer("L2")) == ("COPPER", "LEAD")
    assert line("L2").premise.address == "40 Oak Ave"  # what was misspelled corrects nothing
    with pytest.raises(Refused, match="Say why"):
        decided(question, "L1")
    moved = decided(question, "L1", why="The foreman meant Mill")
    assert (moved.followed["taken_back"], moved.followed["recorded"]) == (1, 1)
    assert (customer("L1"), customer("L2")) == ("LEAD", "COPPER")
    assert sound()
    decided(question, "L2", why="No, Oak it was")
    assert (customer("L1"), customer("L2")) == ("COPPER", "LEAD")
    assert [one.decided_by for one in question.decisions.all()] == ["clerk"] * 3
    assert not rows_waiting().exists()
    assert sound()
    again = take_in(tmp_path, [("12 Mil St", "lead", "excavation")], header=POINTS)
    assert again == counted(unchanged=1)


def counts_of(day, known=None) -> dict:
    """Return the categories that have lines at the end of a day; the recount must agree."""
    assert recount(day, known)["differences"] == 0
    counts = category_counts_on(day, known)
    return {name: number for name, number in counts.items() if number and name != "total"}


def test_past_days_follow_a_second_decision_and_what_was_filed_stays(tmp_path):
    """The statement was never true of the one house, and always of the other."""
    copper = [("L1", *MILL[1:4], "copper", "copper", "1990", "installation record"), OAK]
    take_in(tmp_path, [copper[0]])
    take_in(tmp_path, [OAK], at=APRIL + timedelta(days=1))
    row = [("12 Mil St", "lead", "excavation")]
    take_in(tmp_path, row, header=POINTS)
    question = MatchQuestion.objects.get()
    decided(question, "L2")
    take_in(tmp_path, row, header=POINTS, at=APRIL + timedelta(days=2))
    filed, later = APRIL + timedelta(days=20), APRIL + timedelta(days=40)
    on = [(APRIL + timedelta(days=days)).date() for days in (0, 1, 2, 20, 40)]
    both, one_lead = {"NON_LEAD": 2}, {"NON_LEAD": 1, "LEAD": 1}
    assert [counts_of(day) for day in on] == [{"NON_LEAD": 1}, both, *[one_lead] * 3]
    again = {"question": question, "by": "clerk"}
    match_decide(**again, lines=[line("L1")], at=later, reason="The foreman meant Mill")
    assert [counts_of(day) for day in on] == [{"NON_LEAD": 1}, both, *[one_lead] * 3]
    since = {name: str(line(name).category_since) for name in ("L1", "L2")}
    assert since == {"L1": "2028-04-05", "L2": "2028-04-04"}
    changes = {name: standing_on(changes_of(line(name)), on[3]).to_category for name in since}
    assert changes == {"L1": "LEAD", "L2": "NON_LEAD"}
    then = {n: standing_on(changes_of(line(n)), on[3], filed).to_category for n in since}
    assert then == {"L1": "NON_LEAD", "L2": "LEAD"}
    assert [counts_of(day, filed) for day in on] == [{"NON_LEAD": 1}, both, *[one_lead] * 3]
    assert Evidence.objects.exclude(withdraws=None).get().counts_from == on[2]
    assert sound()


def test_a_line_that_a_wrong_decision_made_counted_on_no_day(tmp_path):
    take_in(tmp_path, [MILL])
    row = [("T-12", *MILL[1:5], "lead", *MILL[6:])]
    take_in(tmp_path, row)
    question = MatchQuestion.objects.get()
    decided(question)
    assert taken_in() == [counted(new=1)]
    later, day = APRIL + timedelta(days=30), (APRIL + timedelta(days=9)).date()
    assert counts_of(day) == {"LEAD": 2}
    match_decide(
        question=question, lines=[line("L1")], by="clerk", at=later, reason="One house, two numbers"
    )
    assert counts_of(day) == {"LEAD": 1}
    assert counts_of(day, APRIL + timedelta(days=10)) == {"LEAD": 2}
    assert sound()


def test_a_line_of_its_own_that_was_none_leaves_and_comes_back_as_decided(tmp_path):
    take_in(tmp_path, [MILL])
    row = [("T-12", *MILL[1:5], "lead", *MILL[6:])]
    take_in(tmp_path, row)
    question = MatchQuestion.objects.get()
    decided(question)
    assert taken_in() == [counted(new=1)]
    assert ServiceLine.objects.filter(category__isnull=False).count() == 2
    made = decided(question, "L1", why="The billing list has two numbers for one house")
    assert made.followed["gone"] == ["T-12"]
    assert (line("T-12").category, customer("L1")) == (None, "LEAD")
    assert sound()
    assert take_in(tmp_path, row) == counted(unchanged=1)  # its number is known as another line's
    assert sound()
    other = [("T-12", "99 Pine St", *MILL[2:])]
    assert take_in(tmp_path, other) == counted(held=1)  # and is no name for a third house
    with pytest.raises(Refused, match="Only a range"):
        match_decide(question=question, lines=ServiceLine.objects.all(), by="c", at=APRIL)


def test_a_row_that_is_a_line_of_its_own_after_all_is_taken_in_again(tmp_path):
    take_in(tmp_path, [MILL])
    take_in(tmp_path, [("12 Mil St", "lead", "excavation")], header=POINTS)
    question = MatchQuestion.objects.get()
    decided(question, "L1")
    taken_in()
    decided(question, why="There is a Mil Street")
    assert customer("L1") == "COPPER"
    assert rows_waiting().get() == question
    assert taken_in() == [counted(new=1)]
    assert customer("AT 12 MIL ST") == "LEAD"
    assert sound()


def test_a_range_answers_to_both_lines_and_not_to_the_one_across(tmp_path):
    take_in(tmp_path, ELM)
    rows = [("12-14 Elm St", "lead", "excavation")]
    assert take_in(tmp_path, rows, header=POINTS) == counted(held=1)
    question = MatchQuestion.objects.get()
    assert question.given["is_range"] and not question.clear
    decided(question, "E-12", "E-14")
    assert take_in(tmp_path, rows, header=POINTS) == counted(changed=1)
    assert [customer(f"E-{n}") for n in (12, 13, 14)] == ["LEAD", "COPPER", "LEAD"]
    assert line("E-14").premise.address == "14 Elm St"
    assert take_in(tmp_path, rows, header=POINTS) == counted(unchanged=1)
    decided(question, "E-14", why="Number 12 has its own line")
    assert [customer(f"E-{n}") for n in (12, 13, 14)] == ["COPPER", "COPPER", "LEAD"]
    assert sound()


def test_a_withdrawn_file_takes_along_what_was_moved(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    rows = [("12 Mil St", "lead", "excavation")]
    take_in(tmp_path, rows, header=POINTS)
    question = MatchQuestion.objects.get()
    decided(question, "L2")
    batch = open_file(tmp_path, rows, header=POINTS)
    run(batch)
    decided(question, "L1", why="Mill")
    assert customer("L1") == "LEAD"
    intake_undo(batch=batch, by="clerk", at=APRIL)
    assert (customer("L1"), customer("L2")) == ("COPPER", "COPPER")
    assert sound()


def test_many_are_decided_as_proposed_but_no_tie_and_only_those_that_were_shown(tmp_path):
    take_in(tmp_path, [MILL, OAK, *ELM])
    rows = [("T-1", *MILL[1:]), ("T-2", *OAK[1:]), ("", "12-14 Elm St", *MILL[2:])]
    take_in(tmp_path, rows)
    assert MatchQuestion.objects.filter(clear=True, score=100).count() == 2
    shown = seen(matches_clear(95))
    with pytest.raises(Refused, match="not the rows that you were shown: now there are 2"):
        matches_decide_as_proposed(score=95, shown=seen(matches_clear(101)), by="c", at=APRIL)
    assert matches_decide_as_proposed(score=95, shown=shown, by="clerk", at=APRIL) == 2
    clear = MatchQuestion.objects.filter(clear=True)
    assert {one.decision.lines.get().location_id for one in clear} == {"L1", "L2"}
    assert MatchQuestion.objects.filter(decision=None).count() == 1


@pytest.fixture
def queue(tmp_path):
    """Return 53 questions that wait."""
    take_in(tmp_path, [MILL, OAK])
    batch = Batch.objects.last()
    for n in range(53):
        MatchQuestion.objects.create(
            batch=batch, row_number=n + 1, given_key=f"{n} MILLL ST", score=96, clear=True,
            given={"location_id": "", "address": f"{n} Milll St", "reason": "Nearly alike."},
            candidates=[{"line_id": line("L1").pk, "location_id": "L1", "address": "12 Mill St",
                         "score": 96.0, "meters": None}],
        )  # fmt: skip
    return list(MatchQuestion.objects.order_by("id"))


def test_the_queue_shows_fifty_and_a_word_that_is_no_number_is_no_answer(queue):
    staff = browser_of(STAFF)
    page = staff.get(reverse("match_list")).content.decode()
    assert page.count("data-question") == 50
    assert "50 of 53 shown" in page
    rest = staff.get(reverse("match_list"), {"after": queue[49].pk}).content.decode()
    assert rest.count("data-question") == 3
    assert staff.get(reverse("match_list"), {"after": "L1"}).status_code == 400
    number = line("L1").pk
    for wrong in ("", "L1", f"{number:,}0", f"{number}.0", "999999999", "٣", "-1"):
        address = reverse("match_decide", args=[queue[0].pk])
        said = staff.post(address, {"line": wrong}, follow=True).content.decode()
        assert "Nothing was kept" in said, wrong
    assert not MatchQuestion.objects.filter(decision__isnull=False).exists()


def test_many_at_once_are_shown_before_they_are_decided(queue):
    staff = browser_of(STAFF)
    page = staff.get(reverse("match_many"), {"score": "95"}).content.decode()
    assert "53 rows would be said to mean the one line" in page and "Nothing is decided yet" in page
    assert page.count("12 Mill St") == 50
    assert "52 rows would mean a line that another row among these means" in page
    assert MatchQuestion.objects.filter(decision=None).count() == 53
    shown = seen(matches_clear(95))
    said = staff.post(reverse("match_many"), {"score": "95", "shown": shown}, follow=True)
    assert "53 answers are kept" in said.content.decode()
    assert "53 decided rows wait" in said.content.decode()
    again = staff.post(reverse("match_many"), {"score": "95", "shown": shown}, follow=True)
    assert "now there are 0" in again.content.decode()
    found = staff.get(reverse("match_decided"), {"q": "52 Milll"}).content.decode()
    assert found.count("Keep this answer instead") == 1
    assert Evidence.objects.exclude(withdraws=None).count() == 0


def test_a_page_of_answers_is_one_act_and_what_is_wrong_of_it_leaves_the_rest(queue):
    one, two, three = queue[:3]
    staff, mill = browser_of(STAFF), line("L1").pk
    decided(two, "L1")
    answers = {one: mill, two: mill, three: line("L2").pk}
    sent = {f"line-{question.pk}": pk for question, pk in answers.items()}
    sent |= {f"line-{queue[3].pk}": "new", f"line-{queue[4].pk}": ""}
    said = staff.post(reverse("match_list"), sent, follow=True).content.decode()
    assert "2 answers are kept" in said
    assert "decided meanwhile" in said and "what was sent is none of its lines" in said
    standing = MatchQuestion.objects.filter(decision__decided_by="compliance")
    assert [list(q.decision.lines.all()) for q in standing.order_by("id")] == [[line("L1")], []]
    assert len(set(standing.values_list("decision__decided_at"))) == 1


def test_an_act_taken_back_opens_its_questions_and_what_rested_on_it_follows(tmp_path):
    take_in(tmp_path, [MILL, OAK])
    rows = [("12 Mil St", "lead", "excavation"), ("40 Oack Ave", "lead", "excavation")]
    take_in(tmp_path, rows, header=POINTS)
    mill, oak = MatchQuestion.objects.order_by("id")
    answers = {mill.pk: [line("L1").pk], oak.pk: [line("L2").pk]}
    assert matches_decide(answers=answers, by="clerk", at=APRIL) == (2, [])
    assert taken_in() == [counted(changed=2)]
    assert (customer("L1"), customer("L2")) == ("LEAD", "LEAD")
    mill.refresh_from_db()
    act = {"decision": mill.decision, "by": "clerk", "at": APRIL + timedelta(days=9)}
    with pytest.raises(Refused, match="say why"):
        matches_take_back(**act, whole_act=True, reason=" ")
    done = matches_take_back(**act, whole_act=True, reason="the wrong street")
    assert (done["questions"], done["taken_back"], done["recorded"]) == (2, 2, 0)
    assert (customer("L1"), customer("L2")) == ("COPPER", "COPPER")
    assert sound()
    with pytest.raises(Refused, match="taken back already"):
        matches_take_back(**act, whole_act=True, reason="again")
    assert MatchQuestion.objects.filter(decision=None).count() == 2
    decided(mill, "L1")
    decided(oak, "L1")
    assert taken_in() == [counted(changed=2)]
    assert (customer("L1"), customer("L2")) == ("LEAD", "COPPER")
    assert sound()


def test_a_line_of_its_own_taken_back_leaves_and_the_row_is_asked_again(tmp_path):
    take_in(tmp_path, [MILL], at=now())
    take_in(tmp_path, [("12 Mil St", "lead", "excavation")], header=POINTS, at=now())
    question = MatchQuestion.objects.get()
    made = decided(question)
    assert taken_in() == [counted(new=1)]
    done = matches_take_back(
        decision=made, whole_act=False, reason="one house", by="clerk", at=now()
    )
    assert len(done["gone"]) == 1
    assert sound()
    decided(question, "L1")
    assert taken_in() == [counted(changed=1)]
    assert customer("L1") == "LEAD"
    assert sound()
    matches_take_back(
        decision=MatchQuestion.objects.get().decision, whole_act=False, reason="two after all",
        by="clerk", at=now(),
    )  # fmt: skip
    decided(question)
    assert taken_in() == [counted(new=1)]
    assert (customer("L1"), customer("AT 12 MIL ST")) == ("COPPER", "LEAD")
    assert sound()
