"""The samples of a pull while it happens: once each, whatever the network does; then a log."""

import random
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fixtures.pull_logs import synthetic_log
from replacements.domain.live_pull import Sample, Word
from replacements.models import LiveFeed, LiveSample, PullRecord
from replacements.operations.pulls import (
    PullRefused,
    estimate_make,
    live_feed_end,
    live_feed_keep,
    live_samples_clear,
    live_samples_take,
    pull_record,
)
from replacements.operations.work_orders import work_order_call_off
from replacements.queries.live import live_now, state_of
from tests.replacements.factories import LATER, order, ready, started, started_order, string

pytestmark = pytest.mark.django_db
TEXT = synthetic_log(35.2, seed=7)


def samples_of(text=TEXT):
    """Return the rows of a log as samples."""
    rows = [line.split(",") for line in text.splitlines()[1:]]
    return [Sample(i, *(float(cell) for cell in row)) for i, row in enumerate(rows)]


def take(job, samples, **more):
    """Let an order's device send samples; one second after the last by its clock unless told."""
    samples = list(samples)
    after_s = more.pop("after_s", max((s.time_s for s in samples), default=0.0))
    values = {"key": "logger", "by": "crew", "at": LATER + timedelta(seconds=after_s)}
    return live_samples_take(work_order=job, samples=samples, **(values | more))


def own_file(job, text=TEXT):
    """Hand in what the logger itself wrote, on the day of the feed."""
    return pull_record(
        work_order=job,
        log=text.encode(),
        machine={},
        by="crew",
        at=LATER,
        pulled_on=LATER.date(),
    )


@pytest.fixture
def job():
    return started_order()


def test_samples_out_of_order_late_and_repeated_come_to_the_same_feed(job):
    whole = samples_of()
    take(job, whole, key="at once")
    mixed = [whole[i : i + 7] for i in range(0, len(whole), 5)]
    random.Random(3).shuffle(mixed)
    for at, post in enumerate(mixed):
        take(job, post, key="mixed", at=LATER + timedelta(seconds=1000 + at))
    one, other = LiveFeed.objects.order_by("id")
    assert one.samples.count() == other.samples.count() == len(whole)
    for name in ("sample_count", "peak_lbf", "peak_ft", "trace", "last_sequence", "last_time_s"):
        assert getattr(one, name) == getattr(other, name), name
    assert one.sample_count == len(whole)


def test_a_repeat_with_another_force_changes_nothing(job):
    feed, new = take(job, samples_of()[:3])
    again, none = take(job, [samples_of()[1]._replace(force_lbf=9000.0)])
    assert (feed.pk, new, none) == (again.pk, 3, 0)
    assert again.peak_lbf < 1000


@pytest.mark.parametrize(
    ("why", "sentence"),
    [
        ("planned", "only released work"),
        ("unstarted", "No safe start is on record"),
        ("no pull planned", "says nothing of a loaded cable"),
        ("another string", "holds no more: .*another tool string"),
        ("called off", "only released work"),
    ],
)
def test_an_order_that_is_not_to_be_pulled_is_refused_in_a_sentence(why, sentence):
    method = "OPEN_CUT" if why == "no pull planned" else "SPLIT"
    job = order(released=why != "planned", method=method)
    if why not in ("planned", "unstarted"):
        started(job)
    if why == "no pull planned":
        job.safety["answers"]["pull"] = None
        job.save()
    if why == "another string":
        string(job, list(job.contractor.components.order_by("id")))
        ready(job)
    if why == "called off":
        work_order_call_off(work_order=job, by="planner", at=LATER, reason="Dry hole")
    with pytest.raises(PullRefused, match=sentence):
        take(job, samples_of()[:1])
    assert not LiveFeed.objects.exists()


def test_a_feed_that_runs_is_not_blinded_by_what_comes_up_against_its_start(job):
    take(job, samples_of()[:10])
    string(job, list(job.contractor.components.order_by("id")))
    feed, new = take(job, samples_of()[10:20])
    assert (new, state_of(feed, LATER + timedelta(seconds=19)).word) == (10, Word.OK)


def test_the_page_is_held_against_the_weakest_of_string_and_estimate(job):
    feed, _ = take(job, samples_of()[:3])
    # 14,400 lb by the cable's certificate, 80% of it at the end fitting, a third of that.
    assert (feed.plan["limit_lbf"], feed.plan["limited_by"]) == (3840, "cable")
    estimate_make(work_order=job, by="crew", at=LATER, anchor_lbf=3000.0)
    feed, _ = take(job, samples_of()[:3], key="second", after_s=60)
    assert (feed.plan["limit_lbf"], feed.plan["limited_by"]) == (3000, "anchor")


def test_silence_is_told_and_a_late_post_does_not_pass_for_the_present(job):
    whole = samples_of()
    feed, _ = take(job, whole[:60])
    at = LATER + timedelta(seconds=59)
    assert state_of(feed, at).force_lbf == whole[59].force_lbf
    assert state_of(feed, at + timedelta(seconds=12)).word is Word.NO_SAMPLE
    feed, _ = take(job, whole[60:70], after_s=120)
    late = state_of(feed, LATER + timedelta(seconds=120))
    assert (late.word, late.force_lbf) == (Word.NO_SAMPLE, None)
    assert "No sample for 51 s" in " ".join(late.sentences)


def test_one_device_feeds_an_order_at_a_time_and_goes_before_a_played_log(job):
    played, _ = take(job, samples_of()[:5], key="played", played=True)
    real, _ = take(job, samples_of()[:5], key="logger")
    played.refresh_from_db()
    assert (played.ended_by, real.ended_at) == ("another feed began", None)
    with pytest.raises(PullRefused, match="Another device feeds"):
        take(job, samples_of()[:5], key="second logger", after_s=6)
    with pytest.raises(PullRefused, match="End that feed first"):
        take(job, samples_of()[:5], key="played again", played=True, after_s=600)
    take(job, samples_of()[:5], key="logger after its restart", after_s=30)


def test_a_feed_ended_too_early_opens_again_by_newer_samples_only(job):
    feed, _ = take(job, samples_of()[10:20])
    live_feed_end(feed=feed, by="crew", at=LATER)
    late, _ = take(job, samples_of()[:10])
    assert late.ended_at is not None
    newer, _ = take(job, samples_of()[20:21])
    assert newer.ended_at is None
    last, _ = take(job, samples_of()[21:22], ended=True)
    assert (last.ended_by, live_now(job, LATER)["word"]) == ("crew", Word.ENDED)


class TestKeeping:
    def test_a_feed_becomes_the_log_once_and_leaves_no_samples_behind(self, job):
        feed, _ = take(job, samples_of())
        made = live_feed_keep(feed=feed, by="crew", at=LATER)
        assert live_feed_keep(feed=feed, by="crew", at=LATER) == made
        assert (PullRecord.objects.count(), LiveSample.objects.count()) == (1, 0)
        assert made.length_ft == pytest.approx(35.2, abs=0.2)
        assert made.metrics["samples"] == len(samples_of())
        with made.log.file.open("rb") as file:
            assert file.read().decode() == TEXT
        with pytest.raises(PullRefused, match="takes no more samples"):
            take(job, samples_of())

    def test_the_loggers_own_file_takes_the_place_of_its_feed(self, job):
        feed, _ = take(job, samples_of()[::3])
        fed = live_feed_keep(feed=feed, by="crew", at=LATER)
        own = own_file(job)
        assert list(job.pulls.standing()) == [own]
        fed.refresh_from_db()
        assert fed.withdrawn_reason == "The logger's own file replaced it."

    def test_a_feed_is_not_kept_beside_its_own_file(self, job):
        feed, _ = take(job, samples_of())
        own = own_file(job, TEXT.replace("Time (s)", "Elapsed (s)"))
        with pytest.raises(PullRefused, match="on record from its own log"):
            live_feed_keep(feed=feed, by="crew", at=LATER)
        assert list(job.pulls.standing()) == [own]

    def test_a_pull_that_broke_off_and_a_whole_one_both_stand(self, job):
        whole = samples_of()
        feed, _ = take(job, whole[:200], ended=True)
        live_feed_keep(feed=feed, by="crew", at=LATER)
        own_file(job, synthetic_log(35.2, seed=8))
        assert job.pulls.standing().count() == 2

    def test_a_played_log_is_never_a_pull(self, job):
        feed, _ = take(job, samples_of(), played=True)
        with pytest.raises(PullRefused, match="Hand in the log itself"):
            live_feed_keep(feed=feed, by="crew", at=LATER)

    def test_samples_without_a_log_go_after_their_days_and_the_figures_stay(self, job):
        feed, _ = take(job, samples_of())
        assert live_samples_clear(at=LATER + timedelta(days=29)) == 0
        assert live_samples_clear(at=LATER + timedelta(days=31)) == len(samples_of())
        feed.refresh_from_db()
        assert (feed.sample_count, LiveSample.objects.count()) == (len(samples_of()), 0)
        assert feed.trace
        with pytest.raises(PullRefused, match="no samples any more"):
            live_feed_keep(feed=feed, by="crew", at=LATER)
        assert live_samples_clear(at=LATER + timedelta(days=32)) == 0


class TestCommands:
    def test_a_log_is_played_into_the_page_of_an_order(self, job, tmp_path):
        path, out = tmp_path / "pull.csv", StringIO()
        path.write_text(TEXT)
        call_command("play_pull", str(path), order=job.number, speed=1e6, stdout=out)
        feed = LiveFeed.objects.get()
        assert (feed.sample_count, feed.is_played) == (len(samples_of()), True)
        assert feed.ended_at is not None
        assert f"/work/orders/{job.pk}/live/" in out.getvalue()

    @pytest.mark.parametrize(
        ("text", "number", "speed", "sentence"),
        [
            ("a,b\n1,2\n", None, 1, "column"),
            (TEXT, "W-999999", 1, "There is no order W-999999"),
            (TEXT, None, 0.5, "1 or more"),
        ],
    )
    def test_what_cannot_be_played_is_told(self, job, tmp_path, text, number, speed, sentence):
        path = tmp_path / "pull.csv"
        path.write_text(text)
        with pytest.raises(CommandError, match=sentence):
            call_command("play_pull", str(path), order=number or job.number, speed=speed)
        assert not LiveFeed.objects.exists()

    def test_old_samples_are_removed_at_night(self, job, settings):
        settings.NOW = "tests.replacements.operations.test_live.much_later"
        take(job, samples_of()[:4])
        out = StringIO()
        call_command("clear_live_samples", stdout=out)
        assert out.getvalue().startswith("4 samples removed")


def much_later():
    """Return a moment when samples are too old to be kept."""
    return LATER + timedelta(days=400)
