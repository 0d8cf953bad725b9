"""Regular files: read as the first was, taken from a folder, held back where much changes."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from django.db import transaction
from django.utils.text import slugify

from services_inventory.refused import Refused

from ..models import Batch, Feed, ServiceLine
from ..progress import age_seconds
from ..queries.feeds import folder_of, share_percent
from .batches import HERE, batch_open, batch_queue, sha256_of
from .mending import CARRIED

SETTLED_S = 30  # a file that was written to less long ago is still on its way
TAKEN = "taken"
ON_ITS_WAY = (".part", ".partial", ".tmp", ".crdownload", ".filepart", ".lock")
GONE = ("REFUSED", "STOPPED", "WITHDRAWN")
WORKER = "watched folder"


def feed_save(*, name: str, batch: Batch, most_percent: int, by: str, at: datetime) -> Feed:
    """Save how a file was read as a source, and make its folder.

    Raises
    ------
    Refused: the name has no letter, or another source has it; the file was not read yet.
    """
    name, folder = " ".join(name.split())[:80], slugify(name)[:80]
    if not folder:
        raise Refused("Give the source a name of letters, such as GIS export, weekly.")
    if Feed.objects.filter(folder=folder).exists():
        raise Refused(f"There is a source named so, or nearly so: {name}. Choose another name.")
    columns = batch.result.get("columns")
    if not columns:
        raise Refused("That file was not read yet. Choose one that was checked or taken in.")
    parameters = {key: batch.parameters[key] for key in CARRIED if batch.parameters.get(key)}
    parameters.pop("true_since", None)  # a regular file counts from the day it comes
    made = Feed.objects.create(
        name=name, folder=folder, parameters={**parameters, "columns": columns},
        most_percent=most_percent, made_by=by, made_at=at,
    )  # fmt: skip
    folder_of(made).mkdir(parents=True, exist_ok=True)
    return made


def feed_change(*, feed: Feed, most_percent: int, watched: bool) -> None:
    """Change from which share a person looks, and whether the folder is watched."""
    feed.most_percent, feed.watched, feed.note = most_percent, watched, ""
    feed.save(update_fields=["most_percent", "watched", "note"])


def feeds_look(*, at: datetime, settled_s: float = SETTLED_S) -> list[Batch]:
    """Open a batch for each file that lies whole in a watched folder and did not come before."""
    made = []
    for feed in Feed.objects.filter(watched=True).order_by("id"):
        notes = []
        try:
            for path in _whole_files(folder_of(feed), settled_s):
                batch, note = _take(feed, path, at)
                made += [batch] if batch else []
                notes += [note] if note else []
        except OSError as error:
            notes = [f"The folder can't be read: {error.strerror}."]
        feed.looked_at = at
        feed.note = (notes[-1] if notes else feed.note)[:300]
        feed.save(update_fields=["looked_at", "note"])
    return made


def _whole_files(folder: Path, settled_s: float) -> Iterator[Path]:
    """Yield the files of a folder that nobody writes to any more, oldest first."""
    folder.mkdir(parents=True, exist_ok=True)
    files = [
        path
        for path in folder.iterdir()
        if path.is_file()
        and not path.is_symlink()
        and not path.name.startswith((".", "~"))
        and path.suffix.lower() not in ON_ITS_WAY
    ]
    for path in sorted(files, key=lambda path: path.stat().st_mtime):
        if path.stat().st_size and age_seconds(path, moved=True) >= settled_s:
            yield path


def _take(feed: Feed, path: Path, at: datetime) -> tuple[Batch | None, str]:
    """Move a file aside, so that nobody else takes it, and have it checked if it is new."""
    aside = path.parent / TAKEN
    try:
        aside.mkdir(exist_ok=True)
        mine = path.rename(aside / f"{at:%Y%m%d-%H%M%S}-{path.name[-200:]}")
    except FileNotFoundError:  # another worker was first
        return None, ""
    except OSError as error:
        return None, f"{path.name} can't be moved aside, so it was not taken: {error.strerror}."
    before = feed_batches(feed).filter(file_sha256=sha256_of(mine)).exclude(state__in=GONE).first()
    if before:
        return None, f"{path.name} is word for word the file of batch {before.pk}; not taken again."
    batch = batch_open(
        kind="INTAKE", by=f"{WORKER}: {feed.name}"[:150], at=at, file=mine,
        parameters={**feed.parameters, "feed": feed.pk},
    )  # fmt: skip
    batch.file_name = path.name[:255]
    batch.save(update_fields=["file_name"])
    return batch_queue(batch=batch, step="CHECK"), ""


def feed_batches(feed: Feed):
    """Return the files of a source, latest first."""
    return Batch.objects.filter(kind="INTAKE", parameters__feed=feed.pk).order_by("-id")


def feed_go_on(batch: Batch) -> None:
    """After the check of a source's file: have it taken in, or let it wait for a person."""
    is_new = batch.parameters.get("feed") is not None and not batch.parameters.get("waits")
    if is_new and batch.state == Batch.State.CHECKED and not feed_waits(batch):
        batch_queue(batch=batch, step="APPLY")


def feed_waits(batch: Batch) -> str:
    """Return why a checked file of a source waits for a person; empty where it may go on."""
    feed = Feed.objects.filter(pk=batch.parameters["feed"]).first()
    lines = ServiceLine.objects.filter(category__isnull=False).count()
    touched = batch.result["lines_touched"]
    share = share_percent(touched, lines)
    if feed is not None and share <= feed.most_percent:
        return ""
    most = "" if feed is None else f", more than the {feed.most_percent} % stated for {feed.name}"
    batch.message = (
        f"It would add or change {share:.1f} % of the lines{most}: {touched:,}, where {lines:,} "
        "are known. It waits for a person to look, and to accept or refuse it."
    )
    kept = {key: value for key, value in batch.parameters.items() if key != HERE}
    batch.parameters = {**kept, "waits": True}  # also after its columns or words were corrected
    batch.save(update_fields=["message", "parameters"])
    return batch.message


@transaction.atomic
def feed_answer(*, batch: Batch, accept: bool, reason: str, by: str, at: datetime) -> None:
    """Accept a file that waits, or refuse it with a reason.

    Raises
    ------
    Refused: it waits no longer, or no reason is given.
    """
    batch = Batch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    if batch.state != Batch.State.CHECKED or batch.parameters.get("feed") is None:
        raise Refused("That file waits no longer; somebody answered meanwhile.")
    if not reason.strip():
        raise Refused("Say why; it stays with the file.")
    said = f"{'Accepted' if accept else 'Refused'} by {by}: {reason.strip()[:300]}"
    batch.parameters = {**batch.parameters, "answered": said}
    batch.message = said
    if accept:
        batch.save(update_fields=["parameters", "message"])
        batch_queue(batch=batch, step="APPLY")
        return
    batch.state, batch.ended_at = Batch.State.REFUSED, at
    batch.save(update_fields=["parameters", "message", "state", "ended_at"])


def feed_named(name: str) -> Feed:
    """Return a source by its name, whatever its letters' case.

    Raises
    ------
    Refused: there is none.
    """
    found = Feed.objects.filter(name__iexact=" ".join(name.split())).first()
    if found is None:
        known = ", ".join(Feed.objects.order_by("name").values_list("name", flat=True)) or "none"
        raise Refused(f"There is no source {name!r}. Known: {known}.")
    return found
