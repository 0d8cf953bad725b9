"""What a killed process left beside the data: removed at the next start.

Three kinds: an upload that nobody receives any more, a kept copy that no row came to know, and a
folder of a file that was never finished. What is younger may be in use and is left alone.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

from ..models import Batch, Document
from ..progress import UNFINISHED, age_seconds
from ..uploading import uploads_let_go

IN_USE_S = 3600  # since the last write; no one act and no piece of a file takes so long


def left_over_remove() -> int:
    """Remove what was left over; return the number of files and folders."""
    found = [*_copies_without_row(), *_unfinished()]
    for path in found:
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
    return uploads_let_go() + len(found)


def _copies_without_row() -> Iterator[Path]:
    """Yield kept files that no row names: whoever kept them was killed before the row was."""
    running = Batch.objects.filter(state__in=(Batch.State.CHECKING, Batch.State.APPLYING))
    if running.exists():  # what it keeps has its rows once it is done
        return
    root = Path(settings.MEDIA_ROOT)
    for model, folder in ((Batch, "batches"), (Document, "documents")):
        old = [path for path in (root / folder).rglob("*") if path.is_file() and _is_old(path)]
        if old:
            known = set(model.objects.exclude(file="").values_list("file", flat=True))
            yield from (path for path in old if str(path.relative_to(root)) not in known)


def _unfinished() -> Iterator[Path]:
    """Yield folders of files in the making that nobody writes to any more."""
    kept = {Path(settings.MEDIA_ROOT), Path(settings.STATIC_ROOT)}
    for folder in set(Path(settings.DATA_DIR).iterdir()) - kept:
        for path in folder.rglob(f"{UNFINISHED}*"):
            if path.is_dir() and all(map(_is_old, [path, *path.rglob("*")])):
                yield path


def _is_old(path: Path) -> bool:
    """Whether nothing was written to it, nor was it put there, within the hour."""
    try:
        return age_seconds(path, moved=True) > IN_USE_S
    except OSError:
        return False
