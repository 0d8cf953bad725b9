"""Every pull counts at the review, whichever of them the record names (constructed logs)."""

from io import BytesIO

import pytest
from django.urls import reverse

from fixtures.pull_logs import synthetic_log
from replacements.operations.completions import CompletionError, completion_accept
from replacements.operations.pulls import (
    PullRefused,
    live_samples_take,
    pull_explain,
    pull_explanation_withdraw,
    pull_record,
    pull_withdraw,
)
from replacements.queries.pull_review import (
    pulls_by_order,
    unexplained,
    unlogged_by_order,
    weighed_by_order,
)
from services_inventory.domain.days import day_told
from tests.replacements.factories import (
    DAY,
    LATER,
    REVIEW,
    contractor,
    handed_in,
    order,
    pull,
    started,
    user,
)
from tests.replacements.operations.test_live import samples_of

pytestmark = pytest.mark.django_db
WORD = "Dug up at 20 ft: a brass coupling. Pipe measured, no stretch."


@pytest.fixture(autouse=True)
def _the_day(settings):
    settings.NOW, settings.TODAY = f"{__name__}.moment", ""


def moment():
    """Return the moment of the review."""
    return REVIEW


def too_hard(work):
    """Return a pull whose log goes over the string's limit of 3,840 lb."""
    text = synthetic_log(35.2, force_start_lbf=4400, force_end_lbf=4600, seed=work.pk + 50)
    return pull_record(work_order=work, log=BytesIO(text.encode()), name="hard.csv", machine={},
                       by="crew", at=LATER, pulled_on=DAY)  # fmt: skip


def accept(record, **more):
    """Accept a record as the reviewer."""
    return completion_accept(completion=record, by="reviewer", at=REVIEW, **more)


def test_a_rejected_pull_holds_a_record_that_names_a_good_one_until_the_utility_explains_it():
    work = started(order())
    good, bad = pull(work), too_hard(work)
    assert (bad.verdict, good.verdict) == ("REJECT", "ACCEPT")
    record = handed_in(work, pull=good)
    assert "PULL_STOP" in [f["rule"] for f in record.findings if f["level"] == "STOP"]
    for despite in ("", "It will do."):
        with pytest.raises(CompletionError, match="4,6.. lb at most"):
            accept(record, despite=despite)
    pull_explain(pull=bad, why="The gauge jumped.", by="foreman", at=LATER)
    with pytest.raises(CompletionError, match="nobody has explained"):
        accept(record)
    said = pull_explain(pull=bad, why=WORD, by="reviewer", at=REVIEW, of_utility=True)
    pull_explanation_withdraw(explanation=said, by="reviewer", at=REVIEW, reason="other house")
    with pytest.raises(CompletionError, match="nobody has explained"):
        accept(record)
    pull_explain(pull=bad, why=WORD, by="reviewer", at=REVIEW, of_utility=True)
    accept(record)
    assert [e.explained_by for e in bad.explanations.order_by("id")] == [
        "foreman", "reviewer", "reviewer"
    ]  # fmt: skip


def test_a_pull_on_a_cable_that_went_over_its_limit_asks_for_a_word_though_its_log_is_good():
    work = started(order())
    bad, good = too_hard(work), pull(work)
    assert good.verdict == "ACCEPT"
    assert unexplained(pulls_by_order([work.pk])[work.pk]) == [bad, good]


@pytest.mark.parametrize("outcome", ["REPLACED", "STOPPED", "NO_ACCESS"])
def test_neither_naming_no_pull_nor_withdrawing_it_nor_another_outcome_makes_it_unhappen(outcome):
    work = started(order())
    pull_withdraw(pull=too_hard(work), by="crew", at=LATER, reason="log of the house next door")
    record = handed_in(work, outcome=outcome, note="see the note")
    with pytest.raises(CompletionError, match="rejected and withdrawn"):
        accept(record, despite="seen")


def test_an_explanation_needs_words_a_pull_that_asks_and_another_person():
    work = started(order())
    good, bad = pull(work), too_hard(work)
    given = {"by": "reviewer", "at": REVIEW, "of_utility": True}
    with pytest.raises(PullRefused, match="Say why"):
        pull_explain(pull=bad, why="  ", **given)
    with pytest.raises(PullRefused, match="Nothing is held"):
        pull_explain(pull=good, why=WORD, **given)
    with pytest.raises(PullRefused, match="Nobody passes"):
        pull_explain(pull=bad, why=WORD, **given | {"by": "crew"})
    assert unexplained(pulls_by_order([work.pk])[work.pk]) == [bad]


def test_a_record_without_log_or_start_is_held_by_the_missing_start():
    record = handed_in(order(), outcome="REPLACED", method_used="OPEN_CUT")
    assert "NO_START" not in [f["rule"] for f in record.findings]
    work = order()
    work.safety = {"unseen": True}  # keeps the test's own helper from recording a start
    record = handed_in(work)
    assert "NO_START" in [f["rule"] for f in record.findings if f["level"] == "STOP"]
    with pytest.raises(CompletionError, match="safe start of a pull is not on record"):
        accept(record)


def test_the_review_shows_every_pull_with_picture_log_and_verdict_and_takes_the_word(client):
    company = contractor()
    work = started(order(company))
    good, taken_back = pull(work), pull(work, seed=77)
    bad = too_hard(work)
    pull_withdraw(pull=taken_back, by="crew", at=LATER, reason="log of the house next door")
    record = handed_in(work, pull=good)
    client.force_login(user("reviewer", "Compliance staff"))
    address = reverse("review", args=[record.pk])
    page = client.get(address).content.decode()
    for made in (bad, good, taken_back):
        assert reverse("work_document", args=[made.log_id]) in page
    assert page.count("<svg") >= 3 and "log of the house next door" in page
    refused = client.post(address, {"accept": "1", "reasons": "fine"}).content.decode()
    assert "nobody has explained" in refused
    client.post(reverse("review_queue"), {"record": record.pk, "accept": "1"})
    client.post(reverse("pull_explain", args=[work.pk, bad.pk]), {"why": WORD})
    assert WORD in client.get(address).content.decode()
    assert client.post(address, {"accept": "1"}).status_code == 302
    work.refresh_from_db()
    assert work.state == "ACCEPTED"


def test_a_crew_explains_its_own_pull_and_nobody_elses(client):
    company, other = contractor(), contractor()
    work = started(order(company))
    bad = too_hard(work)
    address = reverse("pull_explain", args=[work.pk, bad.pk])
    client.force_login(user("stranger", "Contractor", other))
    assert client.post(address, {"why": WORD}).status_code == 404
    client.force_login(user("foreman", "Contractor", company))
    client.post(address, {"why": WORD})
    said = bad.explanations.get()
    assert (said.explained_by, said.of_utility) == ("foreman", False)
    assert unexplained(pulls_by_order([work.pk])[work.pk]) == [bad]


def seen_live(work, text, key="logger"):
    """Return a feed of a log's rows, sent while the pull went on and never handed in."""
    return live_samples_take(work_order=work, key=key, samples=samples_of(text), by="crew",
                             at=LATER, ended=True)[0]  # fmt: skip


HARD = synthetic_log(35.2, force_start_lbf=4400, force_end_lbf=4600, seed=91)


def test_a_live_pull_without_its_log_holds_the_record_until_the_utility_explains_it():
    """A bad pull could once be hidden by never handing in its log."""
    work = started(order())
    feed = seen_live(work, HARD)
    record = handed_in(work, pull=pull(work))
    said = next(f["message"] for f in record.findings if f["rule"] == "PULL_UNLOGGED")
    peak = f"{feed.peak_lbf:,.0f} lb peak, no log handed in, over its limit of 3,840 lb"
    assert said == f"A live pull of {day_told(feed.pulled_on)}, {peak}."
    with pytest.raises(CompletionError, match="no log handed in"):
        accept(record, despite="It will do.")
    with pytest.raises(PullRefused, match="another person looks"):
        pull_explain(pull=feed, why=WORD, by="crew", at=REVIEW, of_utility=True)
    said = pull_explain(pull=feed, why=WORD, by="reviewer", at=REVIEW, of_utility=True)
    pull_explanation_withdraw(explanation=said, by="reviewer", at=REVIEW, reason="other house")
    with pytest.raises(CompletionError, match="no log handed in"):
        accept(record)
    pull_explain(pull=feed, why=WORD, by="reviewer", at=REVIEW, of_utility=True)
    accept(record)


def test_the_page_of_the_review_lists_it_and_takes_the_word(client):
    work = started(order())
    feed = seen_live(work, HARD)
    record = handed_in(work, pull=pull(work))
    client.force_login(user("compliance", "Program manager"))
    page = client.get(reverse("review", args=[record.pk])).content.decode()
    assert "Live pull of" in page and "no log handed in" in page
    at = reverse("live_explain", args=[work.pk, feed.pk])
    assert at in page
    client.post(at, {"why": WORD})
    assert feed.explanations.get().of_utility
    assert "Live, no log" in client.get(reverse("review_queue")).content.decode()


def test_a_live_pull_whose_log_is_on_record_is_logged_until_that_is_withdrawn():
    work = started(order())
    text = synthetic_log(35.2, seed=17)
    feed = seen_live(work, text)
    assert unlogged_by_order([work.pk])[work.pk] == [feed]
    log = pull_record(work_order=work, log=BytesIO(text.encode()), name="own.csv", machine={},
                      by="crew", at=LATER, pulled_on=feed.pulled_on)  # fmt: skip
    assert unlogged_by_order([work.pk])[work.pk] == []
    pull_withdraw(pull=log, by="crew", at=LATER, reason="wrong file")
    assert unlogged_by_order([work.pk])[work.pk] == [feed]


def test_a_softer_log_of_that_day_or_a_played_feed_hides_nothing():
    work = started(order())
    feed = seen_live(work, HARD)
    pull_record(work_order=work, log=BytesIO(synthetic_log(35.2, seed=18).encode()), machine={},
                name="soft.csv", by="crew", at=LATER, pulled_on=feed.pulled_on)  # fmt: skip
    live_samples_take(work_order=work, key="practice", samples=samples_of(HARD), by="crew",
                      at=LATER, ended=True, played=True)  # fmt: skip
    assert feed in unexplained(weighed_by_order([work.pk])[work.pk])
    assert [f.key for f in unlogged_by_order([work.pk])[work.pk]] == ["logger"]
