"""Regular sources: the watched folder, what waits for a person, and the command (constructed)."""

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from services_inventory.models import Batch, Feed, MatchQuestion, ServiceLine
from services_inventory.operations.batches import batch_queue
from services_inventory.operations.feeds import feed_answer, feed_change, feed_save, feeds_look
from services_inventory.operations.matches import match_decide
from services_inventory.queries.feeds import folder_of, share_percent
from services_inventory.refused import Refused
from tests.services_inventory.operations.takes import (
    APRIL,
    ELM,
    HEADER,
    MILL,
    OAK,
    open_file,
    run,
)
from tests.services_inventory.people import CREW, STAFF, browser_of

pytestmark = pytest.mark.django_db
WHO = {"by": "clerk", "at": APRIL}


@pytest.fixture
def feed(tmp_path, settings) -> Feed:
    """Return a source of which two lines were taken in, with an own folder."""
    settings.DATA_DIR = tmp_path
    first = open_file(tmp_path, [MILL, OAK], source="tap card")
    run(first)
    return feed_save(name="GIS export, weekly", batch=first, most_percent=50, **WHO)


def put(feed, rows, name="new.csv"):
    """Put a file into the folder of a source."""
    text = "\n".join(",".join(row) for row in [HEADER, *rows]) + "\n"
    path = folder_of(feed) / name
    path.write_text(text)
    return path


def looked() -> list[Batch]:
    """Look into the folders, and let the worker run what came."""
    made = feeds_look(at=APRIL, settled_s=0)
    call_command("worker", "--once")
    return list(Batch.objects.filter(pk__in=[one.pk for one in made]))


def test_a_file_in_the_folder_is_taken_in_once_and_moved_aside(feed):
    path = put(feed, [MILL, OAK, ELM])
    (batch,) = looked()
    assert (batch.state, batch.file_name, batch.counts["new"]) == ("APPLIED", "new.csv", 1)
    assert batch.parameters["source"] == "tap card"
    assert not path.exists() and len(list((folder_of(feed) / "taken").iterdir())) == 1
    put(feed, [MILL, OAK, ELM], "again.csv")
    assert looked() == []
    feed.refresh_from_db()
    assert f"again.csv is word for word the file of batch {batch.pk}" in feed.note
    assert ServiceLine.objects.count() == 3


def test_what_is_on_its_way_stays_where_it_is(feed):
    put(feed, [ELM])
    assert feeds_look(at=APRIL, settled_s=30) == []
    (folder_of(feed) / "new.csv").unlink()
    put(feed, [ELM], "half.csv.part")
    put(feed, [ELM], ".hidden.csv")
    (folder_of(feed) / "empty.csv").touch()
    (folder_of(feed) / "link.csv").symlink_to(__file__)
    assert looked() == []
    feed_change(feed=feed, most_percent=50, watched=False)
    put(feed, [ELM])
    assert looked() == []


def test_a_file_that_would_change_much_waits_and_is_accepted_or_refused_with_a_reason(feed):
    feed_change(feed=feed, most_percent=49, watched=True)
    put(feed, [ELM])
    (batch,) = looked()
    assert batch.state == "CHECKED" and "50.0 % of the lines, more than the 49 %" in batch.message
    assert ServiceLine.objects.count() == 2
    sent = browser_of(STAFF).post(reverse("batch_apply", args=[batch.pk]))
    assert sent["Location"] == reverse("feed", args=[feed.pk])
    feed_change(feed=feed, most_percent=100, watched=True)
    batch_queue(batch=batch, step="CHECK")  # its columns were corrected: it waits still
    call_command("worker", "--once")
    batch.refresh_from_db()
    assert batch.state == "CHECKED"
    feed_change(feed=feed, most_percent=49, watched=True)
    with pytest.raises(Refused, match="Say why"):
        feed_answer(batch=batch, accept=True, reason=" ", **WHO)
    feed_answer(batch=batch, accept=False, reason="The neighbor’s file", **WHO)
    batch.refresh_from_db()
    assert (batch.state, ServiceLine.objects.count()) == ("REFUSED", 2)
    with pytest.raises(Refused, match="waits no longer"):
        feed_answer(batch=batch, accept=True, reason="After all", **WHO)
    put(feed, [ELM], "once-more.csv")  # what was refused may come again
    (batch,) = looked()
    feed_answer(batch=batch, accept=True, reason="A new street", **WHO)
    call_command("worker", "--once")
    batch.refresh_from_db()
    assert (batch.state, ServiceLine.objects.count()) == ("APPLIED", 3)


def test_a_file_that_cannot_be_read_is_told_and_the_next_one_comes(feed):
    (folder_of(feed) / "bad.csv").write_bytes(b"\x00\x01\x02")
    put(feed, [ELM])
    states = {batch.file_name: batch.state for batch in looked()}
    assert states == {"bad.csv": "REFUSED", "new.csv": "APPLIED"}
    page = browser_of(STAFF).get(reverse("feed", args=[feed.pk])).content.decode()
    assert "bad.csv" in page and "refused" in page and str(folder_of(feed)) in page


def test_the_command_reads_a_file_as_the_source_and_lets_it_wait(feed, tmp_path):
    path = put(feed, [ELM]).rename(tmp_path / "by-hand.csv")
    with pytest.raises(CommandError, match="There is no source 'nobody'. Known: GIS export"):
        call_command("take_in", str(path), "--source-name", "nobody")
    feed_change(feed=feed, most_percent=0, watched=True)
    with pytest.raises(CommandError, match="waits for a person"):
        call_command("take_in", str(path), "--source-name", "gis export, weekly")
    assert Batch.objects.last().state == "CHECKED"
    feed_change(feed=feed, most_percent=100, watched=True)
    call_command("take_in", str(path), "--source-name", "gis export, weekly")
    assert ServiceLine.objects.count() == 3


def test_the_pages_save_a_source_once_and_answer(feed):
    staff, batch = browser_of(STAFF), Batch.objects.first()
    sent = {"name": "Billing", "batch": batch.pk, "most_percent": 5}
    assert staff.post(reverse("feed_list"), sent).status_code == 302
    again = staff.post(reverse("feed_list"), sent | {"name": "billing "})
    assert again.status_code == 422 and b"Choose another name" in again.content
    assert b"Billing" in staff.get(reverse("feed_list")).content
    staff.post(reverse("feed", args=[feed.pk]), {"most_percent": "7"})
    feed.refresh_from_db()
    assert (feed.most_percent, feed.watched) == (7, False)
    answer = reverse("feed_answer", args=[batch.pk])
    assert staff.post(answer, {"answer": "accept", "reason": "x"}).status_code == 404
    assert browser_of(CREW).get(reverse("feed_list")).status_code in (403, 404)


@pytest.mark.parametrize(
    ("touched", "lines", "share"), [(0, 0, 0), (1, 0, 100), (2, 8, 25), (9, 3, 100)]
)
def test_the_share_is_of_the_lines_in_the_record(touched, lines, share):
    assert share_percent(touched, lines) == share


def test_lines_are_counted_and_not_the_rows_that_speak_of_them(feed):
    """A row of a range of house numbers changes two of four lines: half, and not a quarter."""
    feed_change(feed=feed, most_percent=100, watched=True)
    put(feed, [("", f"{n} Elm St", "", "", "copper", "copper", "", "tap card") for n in (12, 14)])
    looked()
    feed_change(feed=feed, most_percent=49, watched=True)
    ends = [("", "12-14 Elm St", "", "", "", "lead", "", "excavation")]
    put(feed, ends, "range.csv")
    (batch,) = looked()
    assert (batch.counts["held"], batch.result["lines_touched"]) == (1, 0)
    lines = ServiceLine.objects.filter(premise__address__contains="Elm St")
    match_decide(question=MatchQuestion.objects.get(), lines=lines, **WHO)
    put(feed, [*ends, OAK], "again.csv")
    (batch,) = looked()
    assert (batch.state, batch.counts["changed"]) == ("CHECKED", 1)
    assert "50.0 % of the lines, more than the 49 %" in batch.message
    assert ": 2, where 4 are known" in batch.message
