"""A kept file is sent as it was kept, or refused with a sentence."""

from hashlib import sha256

import pytest

from services_inventory.models import Document
from services_inventory.sending import NotAsKept, file_as_kept
from services_inventory.today import now
from tests.replacements.factories import user

CONTENT = b"%PDF-1.4 a card"


@pytest.fixture
def path(tmp_path):
    """A file on the disk."""
    path = tmp_path / "card.pdf"
    path.write_bytes(CONTENT)
    return path


def test_what_is_as_it_was_kept_is_sent_whole(path):
    answer = file_as_kept(path, sha256(CONTENT).hexdigest(), "a card.pdf")
    assert b"".join(answer.streaming_content) == CONTENT
    assert answer["Content-Disposition"] == 'attachment; filename="a card.pdf"'


def test_what_was_altered_or_is_gone_is_refused(path):
    with pytest.raises(NotAsKept, match="altered"):
        file_as_kept(path, "0" * 64)
    path.unlink()
    with pytest.raises(NotAsKept, match="missing from the disk"):
        file_as_kept(path, "0" * 64)


@pytest.mark.django_db
@pytest.mark.parametrize("fault", ["altered", "missing"])
def test_the_page_says_so(client, path, settings, fault):
    settings.MEDIA_ROOT = path.parent
    document = Document.objects.create(
        file=path.name, name="a card.pdf", kind="CARD", content_type="application/pdf", bytes=9,
        sha256=sha256(CONTENT).hexdigest(), uploaded_by="clerk", uploaded_at=now(),
    )  # fmt: skip
    client.force_login(user("clerk", role="Compliance staff"))
    assert client.get(f"/inventory/documents/{document.pk}/").status_code == 200
    if fault == "missing":
        path.unlink()
    else:
        path.write_bytes(CONTENT[:-1] + b"x")
    answer = client.get(f"/inventory/documents/{document.pk}/")
    assert answer.status_code == 404
    assert fault in answer.content.decode()
