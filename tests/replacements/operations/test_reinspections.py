"""Looking again: drawn at random, to be repeated by anybody, seen by somebody else, once."""

from datetime import date, timedelta
from hashlib import sha256

import pytest
from django.urls import reverse

from replacements.models import Reinspection
from replacements.operations.completions import completion_accept
from replacements.operations.reinspections import reinspection_record, reinspections_draw
from replacements.queries.reinspections import by_contractor, draws_shown, in_turn
from services_inventory.refused import Refused
from tests.replacements.factories import DAY, REVIEW, contractor, handed_in, order, user

pytestmark = pytest.mark.django_db
TODAY = REVIEW.date()
VISIT = {"seen_on": DAY + timedelta(days=2), "seen_by": "Rowan Fell", "by": "inspector",
         "at": REVIEW, "today": TODAY}  # fmt: skip


@pytest.fixture
def company(db):
    return contractor()


def accepted(company, count: int) -> list:
    """Return accepted records."""
    records = [handed_in(order(company)) for _ in range(count)]
    for record in records:
        completion_accept(completion=record, by="reviewer", at=REVIEW)
    return records


def drawn(share: float = 30, seed: str = "quill", **more):
    """Return a draw of April."""
    return reinspections_draw(first_day=date(2028, 4, 1), last_day=date(2028, 4, 30),
                              share_percent=share, seed=seed, drawn_on=TODAY, by="manager",
                              at=REVIEW, **more)  # fmt: skip


def test_the_draw_is_the_one_that_anybody_makes_of_seed_and_names(company):
    records = accepted(company, 5)
    handed_in(order(company))  # waits for review: not to be drawn
    draw = drawn()
    # Done by hand, as the page says: names by SHA-256 of "seed:name", the first two of five.
    names = {f"{r.work_order.number} revision 1": r.pk for r in records}
    by_hand = sorted(names, key=lambda name: sha256(f"quill:{name}".encode()).hexdigest())
    assert (draw.records, draw.required) == (5, 2)
    kept = list(draw.picks.order_by("position").values_list("completion_id", flat=True))
    assert kept == [names[name] for name in by_hand[:4]]
    joined = "\n".join(sorted(names))
    assert draw.records_sha256 == sha256(joined.encode()).hexdigest()


def test_a_record_is_asked_for_once_and_one_of_the_reserve_may_come_up_later(company):
    accepted(company, 4)
    first = drawn(share=50)
    later = drawn(share=100, seed="other")
    asked = set(first.picks.filter(position__lte=2).values_list("completion_id", flat=True))
    assert later.records == 2
    assert asked.isdisjoint(later.picks.values_list("completion_id", flat=True))
    with pytest.raises(Refused, match="left to be drawn"):
        drawn()


def test_a_reserve_follows_one_that_could_not_be_seen_and_no_result_is_recorded_twice(company):
    accepted(company, 4)
    draw = drawn(share=25)
    first, second = draw.picks.order_by("position")
    assert in_turn(draw) == {first.pk}
    with pytest.raises(Refused, match="in reserve"):
        reinspection_record(reinspection=second, result="AS_RECORDED", **VISIT)
    with pytest.raises(Refused, match="Say what"):
        reinspection_record(reinspection=first, result="NO_ACCESS", **VISIT)
    reinspection_record(reinspection=first, result="NO_ACCESS", note="paved over", **VISIT)
    assert in_turn(draw) == {first.pk, second.pk}
    reinspection_record(reinspection=second, result="DIFFERS", note="galvanized left", **VISIT)
    with pytest.raises(Refused, match="has a result"):
        reinspection_record(reinspection=second, result="AS_RECORDED", **VISIT)
    (shown,) = draws_shown()
    assert (shown.seen, shown.differ, shown.done) == (1, 1, True)
    assert by_contractor() == [{"name": company.name, "seen": 1, "differ": 1}]


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"by": "crew"}, "handed a record in"),
        ({"by": "reviewer"}, "accepted it"),
        ({"seen_on": DAY - timedelta(days=1)}, "was finished on"),
        ({"seen_on": TODAY + timedelta(days=1)}, "today is"),
        ({"seen_by": " "}, "who looked"),
    ],
)
def test_nobody_looks_at_what_they_did_themselves_nor_on_a_day_that_cannot_be(
    company, changed, sentence
):
    accepted(company, 1)
    (pick,) = drawn().picks.all()
    with pytest.raises(Refused, match=sentence):
        reinspection_record(reinspection=pick, result="AS_RECORDED", **VISIT | changed)
    assert not Reinspection.objects.exclude(result="").exists()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [({"share": 0}, "above 0"), ({"share": 101}, "at most 100"), ({"seed": " "}, "seed")],
)
def test_a_draw_that_cannot_be_is_told(company, changed, sentence):
    accepted(company, 1)
    with pytest.raises(Refused, match=sentence):
        drawn(**changed)


def test_the_pages_draw_and_record_and_the_company_reads_what_was_seen(
    client, company, monkeypatch
):
    monkeypatch.setattr("program.clock.now", lambda: REVIEW)
    monkeypatch.setattr("program.clock.today", lambda: TODAY)
    (record,) = accepted(company, 1)
    client.force_login(user("manager", "Program manager"))
    listed = reverse("reinspection_list")
    sent = {"first_day": "2028-04-01", "last_day": "2028-04-30", "share_percent": "5",
            "seed": "quill"}  # fmt: skip
    page = client.post(listed, sent, follow=True)
    assert "1 of 1 accepted records are drawn" in page.content.decode()
    pick = Reinspection.objects.get()
    result = {"result": "DIFFERS", "seen_on": "2028-04-12", "seen_by": "Rowan Fell",
              "note": "brass at the stop"}  # fmt: skip
    page = client.post(reverse("reinspection_result", args=[pick.pk]), result, follow=True)
    assert "brass at the stop" in page.content.decode()
    assert "1 of 1" in client.get(listed).content.decode()
    client.force_login(user("crew", "Contractor", company))
    assert client.get(listed).status_code == 403
    shown = client.get(reverse("work_order", args=[record.work_order_id])).content.decode()
    assert "differs from the record" in shown and "brass at the stop" in shown
