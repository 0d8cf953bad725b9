"""Validation: a repeatable draw, visits in order, findings that reclassify at once."""

import csv
import hashlib
from datetime import date, timedelta

import pytest

from services_inventory.domain.validation import draw, pool_digest
from services_inventory.models import ServiceLine, ValidationPick
from services_inventory.operations.validation import (
    pick_points_missing,
    pick_result_record,
    pick_result_withdraw,
    validation_draw,
)
from services_inventory.policy import rules_in_force
from services_inventory.queries.validation import draw_state, pool_by_rule, pool_ids
from services_inventory.refused import Refused
from tests.kept import kept
from tests.services_inventory.factories import MORNING, line_of

pytestmark = pytest.mark.django_db
DAY = date(2028, 4, 1)
AT = MORNING + timedelta(days=31)


@pytest.fixture
@kept
def pool():
    """Return twelve lines known by tap cards, beside one that was seen and one of lead."""
    line_of("LEAD", "COPPER", basis="RECORD_TAP_CARD")
    line_of("COPPER", "COPPER", basis="EXCAVATION")
    return [line_of("COPPER", "PLASTIC", basis="RECORD_TAP_CARD") for _ in range(12)]


def drawn(seed="dice 3 5"):
    """Return a draw of the day."""
    return validation_draw(by="cora", drawn_on=DAY, seed=seed)


def visit(pick, *points, accessible=True, note="", **values):
    """Record a visit; points are (portion, place, material)."""
    return pick_result_record(
        pick=pick,
        points=[dict(zip(("portion", "place", "material"), p, strict=True)) for p in points],
        accessible=accessible,
        basis=values.get("basis", "VISUAL_INSPECTION"),
        observed_on=values.get("observed_on", DAY),
        by="cora",
        recorded_at=AT,
        note=note,
    )


BOTH = (("SYSTEM", "curb stop", "COPPER"), ("CUSTOMER", "meter", "PLASTIC"))


def state_of(made):
    """Return how far a draw has come."""
    return draw_state(made, DAY, rules_in_force())


def test_the_pool_is_counted_by_rule(pool):
    found = pool_by_rule(rules_in_force(), DAY)
    assert found["size"] == 12
    assert {row["status"]: row["count"] for row in found["rows"]} == {
        "IN": 12, "OUT_BAN": 0, "OUT_TWO_POINTS": 1, "OUT_REPLACED": 0,
    }  # fmt: skip
    assert found["required"] == 3, "a fifth of a small pool, rounded up"


def test_anybody_can_repeat_the_draw(pool):
    ids = pool_ids()
    made = drawn()
    picks = list(made.picks.order_by("position").values_list("line_id", flat=True))
    again = draw(ids, made.required, "dice 3 5")
    assert picks == [*again, *again.reserve[: len(picks) - made.required]]
    assert (made.pool_size, made.pool_sha256) == (12, pool_digest(ids))
    assert made.due_on == date(2034, 12, 31)


def test_an_empty_pool_or_seed_is_refused(pool):
    with pytest.raises(Refused, match="seed"):
        drawn("  ")
    ServiceLine.objects.update(validation="")
    with pytest.raises(Refused, match="No line is in the validation pool"):
        drawn()


def test_nobody_draws_again_to_choose_between_results(pool):
    drawn()
    with pytest.raises(Refused, match="not finished"):
        drawn("another seed")


def test_two_points_confirm_a_line_and_take_it_out_of_the_pool(pool):
    pick = visit(state_of(drawn()).visits[0], *BOTH)
    assert pick.result == "CONFIRMED"
    pick.line.refresh_from_db()
    assert (pick.line.category, pick.line.validation) == ("NON_LEAD", "OUT_TWO_POINTS")
    assert [point["place"] for point in pick.points] == ["curb stop", "meter"]
    assert pick.line.evidence.filter(source__startswith="validation draw").count() == 2


def test_one_point_is_not_enough_until_the_other_portion_is_seen(pool):
    pick = visit(state_of(drawn()).visits[0], BOTH[1])
    assert pick.result == "OPEN"
    assert {portion.value: n for portion, n in pick_points_missing(pick, DAY).items()} == {
        "SYSTEM": 1
    }
    assert visit(pick, BOTH[0]).result == "CONFIRMED"


def test_the_same_place_twice_is_one_point(pool):
    pick = visit(state_of(drawn()).visits[0], BOTH[1])
    assert visit(pick, ("CUSTOMER", "METER ", "PLASTIC")).result == "OPEN"


@pytest.mark.parametrize(
    ("point", "result", "category"),
    [
        (("CUSTOMER", "meter", "LEAD"), "FOUND_LEAD", "LEAD"),
        (("CUSTOMER", "meter", "GALVANIZED"), "FOUND_GRR", "GRR"),
    ],
)
def test_a_finding_corrects_the_inventory_at_once(point, result, category, pool):
    pick = visit(state_of(drawn()).visits[0], point)
    pick.line.refresh_from_db()
    assert (pick.result, pick.line.category) == (result, category)
    assert pick.line.category_since == AT.date()


def test_a_line_without_access_is_followed_by_the_reserve_in_its_order(pool):
    made = drawn()
    visits = state_of(made).visits
    assert [pick.position for pick in visits] == [1, 2, 3]
    visit(visits[1], accessible=False, note="Three visits, nobody home.")
    assert [pick.position for pick in state_of(made).visits] == [1, 2, 3, 4]
    visit(state_of(made).visits[3], accessible=False, note="Dog.")
    state = state_of(made)
    assert [pick.position for pick in state.visits] == [1, 2, 3, 4, 5]
    assert (state.report.no_access, state.report.required) == (2, 3)


def test_the_reserve_waits_for_its_turn(pool):
    made = drawn()
    with pytest.raises(Refused, match="reserve"):
        visit(made.picks.get(position=5), *BOTH)


def test_a_result_stays(pool):
    pick = visit(state_of(drawn()).visits[0], *BOTH)
    with pytest.raises(Refused, match="already"):
        visit(pick, ("CUSTOMER", "wall", "LEAD"))


@pytest.mark.parametrize(
    ("points", "values", "sentence"),
    [
        ((), {}, "at least one point"),
        ((), {"accessible": False}, "what was tried"),
        (BOTH, {"observed_on": AT.date() + timedelta(days=2)}, "after it was recorded"),
    ],
)
def test_a_visit_that_cannot_be_changes_nothing(points, values, sentence, pool):
    pick = state_of(drawn()).visits[0]
    with pytest.raises(Refused, match=sentence):
        visit(pick, *points, **values)
    assert ValidationPick.objects.get(pk=pick.pk).result == "OPEN"
    assert pick.line.evidence.count() == 2


def test_a_finished_validation_reports_its_share_and_lets_draw_again(pool):
    """The exact interval of 1 in 3 is 0.84 % to 90.57 % (statsmodels, `proportion_confint`)."""
    made = drawn()
    first, *others = state_of(made).visits
    visit(first, ("CUSTOMER", "meter", "LEAD"))
    for pick in others:
        visit(pick, *BOTH)
    state = state_of(made)
    assert state.report.is_complete
    assert state.report.found_lead == (first.line_id,)
    assert state.share == "33.3% (between 0.8% and 90.6%)"
    assert drawn("next round").pool_size == 9


def test_a_used_up_reserve_is_said_and_lets_draw_again(pool):
    made = drawn()
    while waiting := [pick for pick in state_of(made).visits if pick.result == "OPEN"]:
        visit(waiting[0], accessible=False, note="Locked.")
    assert state_of(made).is_stuck
    assert drawn("next round").pool_size == 12


def test_the_list_that_is_kept_gives_the_digest_and_the_draw_whatever_is_found_later(pool):
    made = drawn()
    first = made.picks.order_by("position").first()
    visit(first, ("SYSTEM", "curb stop", "COPPER"), ("CUSTOMER", "meter", "LEAD"))
    assert first.line_id not in pool_ids()
    with made.pool_list.file.open("rt") as file:
        header, *rows = csv.reader(file)
    assert header == ["number", "location_id"]
    numbers = [number for number, _ in rows]
    text = "\n".join(numbers).encode()
    assert hashlib.sha256(text).hexdigest() == made.pool_sha256
    again = sorted(numbers, key=lambda n: hashlib.sha256(f"{made.seed}:{n}".encode()).digest())
    kept = [str(pk) for pk in made.picks.order_by("position").values_list("line_id", flat=True)]
    assert again[: len(kept)] == kept
    places = dict(ServiceLine.objects.values_list("pk", "location_id"))
    assert all(places[int(number)] == place for number, place in rows)


def test_a_result_taken_back_takes_its_points_back_and_the_line_is_visited_again(pool):
    made = drawn()
    pick = made.picks.order_by("position").first()
    visit(pick, ("SYSTEM", "curb stop", "COPPER"), ("CUSTOMER", "meter", "LEAD"))
    line = ServiceLine.objects.get(pk=pick.line_id)
    assert line.category == "LEAD"
    later = AT + timedelta(days=1)
    with pytest.raises(Refused, match="Say why"):
        pick_result_withdraw(pick=pick, reason=" ", by="cora", recorded_at=later)
    pick = pick_result_withdraw(pick=pick, reason="next door", by="cora", recorded_at=later)
    line.refresh_from_db()
    assert (line.category, pick.result, pick.points) == ("NON_LEAD", "OPEN", [])
    assert "next door (was: found lead" in pick.note
    assert line.evidence.filter(withdraws__isnull=False).count() == 2
    with pytest.raises(Refused, match="Nothing was recorded"):
        pick_result_withdraw(pick=pick, reason="again", by="cora", recorded_at=later)
    visit(pick, *BOTH)
    assert state_of(made).report.validated == 1


def test_no_access_taken_back_calls_no_line_of_the_reserve_any_more(pool):
    made = drawn()
    pick = made.picks.order_by("position").first()
    visit(pick, accessible=False, note="three visits")
    assert state_of(made).report.no_access == 1
    pick_result_withdraw(pick=pick, reason="owner called", by="cora", recorded_at=AT)
    assert state_of(made).report.no_access == 0
    assert len(state_of(made).visits) == 3
