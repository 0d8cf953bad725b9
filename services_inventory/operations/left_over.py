"""What a killed process left beside the data: removed at the next start.

Three kinds: an upload that nobody receives any more, a kept copy that no row came to know, and a
folder of a file that was never finished. What is younger may be in use and is left alone. A store
that machines share is tidied at night, as it may take a while to list.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.core.files.storage import storages

from ..kept_files import PARTS, in_store, names_in
from ..models import Batch, Document
from ..progress import UNFINISHED, age_seconds, seconds_since
from ..uploading import uploads_let_go

IN_USE_S = 3600  # since the last write; no one act and no piece of a file takes so long
STORED_S = 3 * 24 * 3600  # in a store: longer than any batch that other machines may be at
COPIES = ((Batch, "batches"), (Document, "documents"))


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
    for model, folder in COPIES:
        old = [path for path in (root / folder).rglob("*") if path.is_file() and _is_old(path)]
        if old:
            known = set(model.objects.exclude(file="").values_list("file", flat=True))
            yield from (path for path in old if str(path.relative_to(root)) not in known)


def store_tidied() -> int:
    """Remove what lies in a store without a row, or was never finished; return the number."""
    files, frozen = storages["default"], storages["frozen"]
    if not in_store(files):
        return 0
    found = []
    for model, folder in COPIES:
        known = set(model.objects.exclude(file="").values_list("file", flat=True))
        found += [(files, name) for name in names_in(files, f"{folder}/") if name not in known]
    for photo in frozen.listdir(PARTS)[0]:
        found += [(frozen, name) for name in names_in(frozen, f"{PARTS}/{photo}/")]
    old = [one for one in found if seconds_since(one[0].get_modified_time(one[1])) > STORED_S]
    for store, name in old:
        store.delete(name)
    return len(old)


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
