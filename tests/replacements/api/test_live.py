"""Samples of a pull through the API: small posts that may repeat, and who is refused."""

import pytest

from replacements.models import LiveFeed, LiveSample
from services_inventory.models import SentOnce
from tests.replacements.api.test_api import _the_day, bearer, company, headers  # noqa: F401
from tests.replacements.factories import contractor, order, started

pytestmark = pytest.mark.django_db


def rows(*forces, first=0):
    """Return a sample a second of these forces, by 6 ft a minute."""
    return [
        {"sequence": first + i, "time_s": float(first + i), "force_lbf": lbf, "distance_ft": i / 10}
        for i, lbf in enumerate(forces)
    ]


@pytest.fixture
def send(client, headers):  # noqa: F811
    def post(job, samples, **more):
        body = {"feed": "logger 1", "samples": samples, **more}
        return client.post(
            f"/api/v1/work-orders/{job.pk}/live/", body, "application/json", headers=headers
        )

    return post


@pytest.fixture
def job(company):  # noqa: F811
    return started(order(company))


def test_posts_that_repeat_and_overlap_are_counted_once(send, job):
    first = send(job, rows(800, 812))
    assert first.json() == {
        "new": 2,
        "repeated": 0,
        "last_sequence": 1,
        "word": "OK",
        "sentences": ["Below 80% of the limit. Slow comes at 3,072 lb."],
    }
    again = send(job, rows(800, 812, 820)).json()
    assert (again["new"], again["repeated"], again["last_sequence"]) == (1, 2, 2)
    late = send(job, rows(800)).json()
    assert (late["new"], late["last_sequence"]) == (0, 2)
    assert LiveSample.objects.count() == 3
    assert not SentOnce.objects.exists(), "a row a second would be kept for nothing"


def test_the_answer_tells_slow_and_stop(send, job):
    assert send(job, rows(3100)).json()["word"] == "SLOW"
    stop = send(job, rows(3500, first=1)).json()
    assert (stop["word"], stop["sentences"][0][:12]) == ("STOP", "Stop pulling")
    assert send(job, [], ended=True).json()["word"] == "ENDED"


def test_another_companys_order_is_not_there(client, job):
    other = bearer(contractor(), "other")
    body = {"feed": "x", "samples": rows(800)}
    answer = client.post(
        f"/api/v1/work-orders/{job.pk}/live/", body, "application/json", headers=other
    )
    assert (answer.status_code, LiveFeed.objects.count()) == (404, 0)


def test_an_order_without_a_start_is_refused_in_a_sentence(send, company):  # noqa: F811
    answer = send(order(company), rows(800))
    assert (answer.status_code, answer.json()["type"]) == (409, "urn:problem:feed-refused")
    assert answer.json()["detail"].startswith("No safe start is on record for W-")


@pytest.mark.parametrize(
    ("samples", "pointer"),
    [
        ([rows(800)[0] | {"force_lbf": "nan"}], "/samples/0/force_lbf"),
        ([*rows(800), rows(9e9)[0]], "/samples/1/force_lbf"),
        ([rows(800)[0] | {"sequence": -1}], "/samples/0/sequence"),
        (rows(*[800] * 501), "/samples"),
        ([{"sequence": 1}], "/samples/0/time_s"),
    ],
)
def test_a_post_with_a_sample_that_cannot_be_is_refused_whole(send, job, samples, pointer):
    answer = send(job, samples)
    assert answer.status_code == 400
    assert pointer in {error["pointer"] for error in answer.json()["errors"]}
    assert not LiveFeed.objects.exists()
