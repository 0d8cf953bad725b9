"""The page of a live pull: what it says before its script runs, who may open it, what it does."""

import pytest

from replacements.models import LiveFeed, PullRecord
from replacements.operations.pulls import live_samples_take
from tests.replacements.factories import LATER, contractor, started_order, user
from tests.replacements.operations.test_live import samples_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(settings):
    settings.NOW = "tests.replacements.api.test_api.moment"
    settings.TODAY = ""
    return started_order()


@pytest.fixture
def crew(client, job):
    client.force_login(user("crew", "Contractor", job.contractor))
    return client


def feed_of(job, samples):
    return live_samples_take(work_order=job, key="logger", samples=samples, by="crew", at=LATER)[0]


def test_before_its_script_runs_the_page_shows_no_force_and_names_the_gauge(crew, job):
    feed_of(job, samples_of()[:40])
    shown = crew.get(f"/work/orders/{job.pk}/live/").content.decode()
    assert '<b id="live-force">—</b>' in shown
    assert "The gauge and the relief valve go first." in shown
    assert "This page needs its script. Read the gauge." in shown
    assert "removed 30 days after" in " ".join(shown.split())


def test_what_is_said_now_is_fresh_and_never_kept_by_a_browser(crew, job):
    before = crew.get(f"/work/orders/{job.pk}/live/now/").json()
    assert (before["word"], before["force"]) == ("WAITING", None)
    feed_of(job, samples_of()[:400])
    answer = crew.get(f"/work/orders/{job.pk}/live/now/")
    said = answer.json()
    assert answer["Cache-Control"] == "no-store"
    assert (said["word"], said["is_played"]) == ("OK", False)
    assert said["limit"].endswith("% of the limit, 3,840 lb (cable)")
    assert said["ahead"] == ["end of the run in 4.7 ft"]
    assert said["strip"].startswith("<svg")


def test_another_company_finds_nothing_and_staff_read_only(client, job):
    feed = feed_of(job, samples_of()[:40])
    address = f"/work/orders/{job.pk}/live/"
    client.force_login(user("other", "Contractor", contractor()))
    for path in ("", "now/", f"{feed.pk}/samples.csv"):
        assert client.get(address + path).status_code == 404
    for action in ("end", "keep"):
        assert client.post(f"{address}{feed.pk}/{action}/").status_code == 404
    client.force_login(user("manager", "Program manager"))
    assert client.get(f"{address}now/").json()["word"] == "OK"
    assert b"End this feed" not in client.get(address).content
    assert client.post(f"{address}{feed.pk}/end/").status_code == 403
    assert LiveFeed.objects.get().ended_at is None


def test_a_feed_is_ended_kept_and_found_on_the_orders_page(crew, job):
    feed = feed_of(job, samples_of())
    address = f"/work/orders/{job.pk}/live/{feed.pk}"
    rows = crew.get(f"{address}/samples.csv").content.decode().splitlines()
    assert len(rows) == len(samples_of()) + 1
    page = crew.get(f"/work/orders/{job.pk}/").content.decode()
    assert f"{feed.peak_lbf:,.0f} lb peak" in page
    assert "no log handed in" in page
    crew.post(f"{address}/end/")
    told = crew.post(f"{address}/keep/", follow=True).content.decode()
    assert "The feed is the pull&#x27;s log" in told
    assert "no log handed in" not in told
    assert PullRecord.objects.get().work_order == job
    assert crew.get(f"{address}/samples.csv").status_code == 404


def test_why_a_feed_cannot_be_kept_is_told_on_its_page(crew, job):
    feed = feed_of(job, samples_of()[:1])
    told = crew.post(f"/work/orders/{job.pk}/live/{feed.pk}/keep/", follow=True).content.decode()
    assert "note-error" in told
    assert LiveFeed.objects.get().pull is None
