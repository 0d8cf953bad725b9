"""A photo in pieces: it goes on where it broke, and belongs to one account and one order."""

from pathlib import Path

import pytest
from django.core.management import call_command
from django.test import Client

from program.roles import sync_roles
from replacements.models import PhotoFacts
from replacements.phone import parts
from tests.replacements.completion.drops import jpeg
from tests.replacements.factories import contractor, order, user

pytestmark = pytest.mark.django_db
TOLD = {"name": "IMG_1.jpg", "kind": "OLD_PIPE", "latitude": 41.5, "longitude": -100.3}


@pytest.fixture
def job():
    sync_roles()
    return order(contractor())


@pytest.fixture
def crew(job):
    return signed_in("crew", job.contractor)


def signed_in(name, company) -> Client:
    client = Client()
    client.force_login(user(name, "Contractor", company))
    return client


def address(job, key="k-photo-0"):
    return f"/work/phone/send/{job.pk}/photos/{key}/"


def piece(client, job, content, start, whole, told="bytes {start}-{last}/{whole}", **more):
    said = told.format(start=start, last=start + len(content) - 1, whole=whole)
    return client.put(
        address(job, **more), content, "application/octet-stream", headers={"content-range": said}
    )


def whole(client, job, **more):
    return client.post(
        address(job, **more), TOLD, "application/json", headers={"idempotency-key": "k-photo-0"}
    )


def folders(settings) -> list[Path]:
    return list((Path(settings.DATA_DIR) / "parts").glob("*"))


def test_it_goes_on_where_it_broke_and_is_kept_as_one_that_was_sent_at_once(crew, job, settings):
    photo = jpeg(gps=(41.5, -100.3))
    assert piece(crew, job, photo[:300], 0, len(photo)).json() == {"received": 300}
    lost = piece(crew, job, photo[:300], 0, len(photo))  # its answer was lost on the way
    assert (lost.status_code, lost.json()["received"]) == (409, 300)
    assert piece(crew, job, photo[500:], 500, len(photo)).status_code == 409  # a gap
    assert piece(crew, job, photo[300:], 300, len(photo)).json() == {"received": len(photo)}
    first, again = whole(crew, job), whole(crew, job)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert again["Idempotency-Replayed"] == "true"
    assert round(PhotoFacts.objects.get().latitude, 2) == 41.5
    assert folders(settings) == []


def test_a_photo_of_which_nothing_is_there_any_more_begins_again(crew, job):
    gone = whole(crew, job)
    assert (gone.status_code, gone.json()["received"]) == (409, 0)
    assert "from its beginning" in gone.json()["detail"]
    photo = jpeg()
    assert piece(crew, job, photo, 0, len(photo)).status_code == 200
    assert whole(crew, job).status_code == 201  # a refusal used up no key


def test_a_piece_belongs_to_its_account_and_its_order(crew, job):
    photo, other = jpeg(), order(job.contractor)
    piece(crew, job, photo, 0, len(photo))
    mate = signed_in("mate", job.contractor)
    assert whole(mate, job).json()["received"] == 0
    assert whole(crew, other).json()["received"] == 0
    stranger = signed_in("stranger", contractor("Other company"))
    assert whole(stranger, job).status_code == 404
    assert piece(stranger, job, photo, 0, len(photo)).status_code == 404
    assert whole(crew, job).status_code == 201


@pytest.mark.parametrize(
    ("told", "status"),
    [
        ("", 400),
        ("bytes 0-/9", 400),
        ("bytes {start}-{last}/*", 400),
        ("bytes {start}-{start}/{whole}", 400),
        ("bytes {start}-{last}/3", 413),
        (f"bytes {{start}}-{{last}}/{parts.PHOTO_LIMIT_BYTES + 1}", 413),
    ],
)
def test_a_piece_that_says_nothing_or_too_much_is_refused(crew, job, settings, told, status):
    answer = piece(crew, job, b"x" * 10, 0, 10, told=told)
    assert answer.status_code == status, answer.content
    assert folders(settings) == []


def test_what_is_no_photo_is_refused_when_it_is_whole(crew, job):
    piece(crew, job, b"no photo", 0, 8)
    refused = whole(crew, job)
    assert refused.status_code == 422
    assert "is no JPEG, PNG or HEIC photo" in refused.json()["detail"]
    assert not PhotoFacts.objects.exists()


def test_the_key_is_no_path(crew, job, settings):
    photo = jpeg()
    assert piece(crew, job, photo, 0, len(photo), key="..%2F..%2Fx").status_code in (200, 404)
    assert piece(crew, job, photo, 0, len(photo), key="k" * 300).status_code == 400
    root = Path(settings.DATA_DIR)
    assert all(path.parent == root / "parts" for path in folders(settings))


def test_parts_left_over_go_at_the_next_start_and_those_in_use_stay(
    crew, job, settings, monkeypatch
):
    photo = jpeg()
    piece(crew, job, photo[:100], 0, len(photo))
    (folder,) = folders(settings)
    call_command("worker", once=True)
    assert folder.exists()
    monkeypatch.setattr("services_inventory.operations.left_over.IN_USE_S", -1)
    call_command("worker", once=True)
    assert not folder.exists()
