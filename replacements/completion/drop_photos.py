"""A photo of a drop, read and made clean where its zip lies; only what is known of it is sent back.

Runs in a process of its own (`services_inventory.apart`), and so knows no Django.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path
from zipfile import ZipFile, ZipInfo

from services_inventory.zips import read_entry

from .archive import DropRefused
from .pictures import PHOTO_LIMIT_BYTES, CleanPhoto, PictureRefused, made_clean


def cleaned_of_drop(path: str, info: ZipInfo, put: str) -> CleanPhoto:
    """Return a photo of a zip as `made_clean` does; its picture is put beside the data.

    Parameters
    ----------
    path, info : the zip, and which of its files
    put : where the picture is to be, as a path; what it lies in is there

    Raises
    ------
    PictureRefused: it cannot be kept as a photo.
    """
    try:
        content = read_entry(_opened(path), info, PHOTO_LIMIT_BYTES, DropRefused)
    except DropRefused as error:
        raise PictureRefused("is damaged inside the zip. Make the zip again.") from error
    clean, place = made_clean(content), Path(put)
    place.write_bytes(clean.jpeg)
    return replace(clean, jpeg=place)


@cache  # of the one drop that this process is for
def _opened(path: str) -> ZipFile:
    return ZipFile(path)
