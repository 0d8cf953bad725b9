"""Sending a kept file: as it was kept, or not at all."""

from hashlib import file_digest
from pathlib import Path

from django.http import FileResponse, Http404


class NotAsKept(Http404):
    """A kept file is gone or was altered; the message says so and what to do."""


def file_as_kept(path: Path | str, sha256: str, name: str = "", **how) -> FileResponse:
    """Return a file whose content is what its row says, as a download unless told otherwise.

    Raises
    ------
    NotAsKept: it is missing, or its SHA-256 is another.
    """
    name = name or Path(path).name
    try:
        file = open(path, "rb")  # closed by the response
    except OSError as error:
        raise NotAsKept(
            f"The file {name} is on record but is missing from the disk. Ask whoever runs the "
            "program to put it back from a back-up."
        ) from error
    if file_digest(file, "sha256").hexdigest() != sha256:
        file.close()
        raise NotAsKept(
            f"The file {name} is not as it was kept: somebody altered it. It is not sent. Ask "
            "whoever runs the program to put it back from a back-up."
        )
    file.seek(0)
    return FileResponse(file, **({"as_attachment": True, "filename": name} | how))
