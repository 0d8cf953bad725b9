"""Regular sources: where their files lie, what each changed, which of them waits."""

from pathlib import Path

from django.conf import settings

from ..models import Batch, Feed

SHOWN = 100


def folder_of(feed: Feed) -> Path:
    """Return the folder that is watched for a source."""
    return Path(settings.DATA_DIR) / "feeds" / feed.folder


def share_percent(touched: int, lines: int) -> float:
    """Return which share of the lines a file would add or change; all of an empty record."""
    return 0.0 if not touched else min(100.0, 100 * touched / lines) if lines else 100.0


def feeds_shown() -> list[dict]:
    """Return every source with its last file and how many of its files wait for a person."""
    latest: dict[int, list[Batch]] = {}
    files = Batch.objects.filter(kind="INTAKE", parameters__feed__isnull=False).order_by("-id")
    for batch in files[:2_000]:
        latest.setdefault(batch.parameters["feed"], []).append(batch)
    return [
        {
            "feed": feed,
            "last": latest.get(feed.pk, [None])[0],
            "waiting": [one for one in latest.get(feed.pk, ()) if one.state == "CHECKED"],
        }
        for feed in Feed.objects.order_by("name")
    ]


def feed_files(feed: Feed) -> list[Batch]:
    """Return the files of a source, latest first, each with its share of the lines known now."""
    return list(
        Batch.objects.filter(kind="INTAKE", parameters__feed=feed.pk).order_by("-id")[:SHOWN]
    )


def files_to_save() -> list[Batch]:
    """Return the latest files that were read, of which one can become a source."""
    read = Batch.objects.filter(kind="INTAKE", state__in=("CHECKED", "APPLIED"))
    return list(read.exclude(result={}).order_by("-id")[:20])
