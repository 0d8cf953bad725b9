"""A JPEG as it was taken, without anything beside the picture; nothing is decoded.

A file is a row of segments, each with a mark (ITU-T T.81, annex B). The tables, the frame and its
one scan are the picture; what a camera, a program or anybody else wrote beside it (APP0 to APP15,
comments, whatever follows the end) is left behind.

Runs in a process of its own (`services_inventory.apart`), and so knows no Django.
"""

import re

_TABLES = {0xDB, 0xC4, 0xDD}  # of quantization, of codes; the restart interval
_FRAMES = {0xC0, 0xC1}  # one pass; a progressive picture is drawn anew, as it may have any number
_BESIDE = {*range(0xE0, 0xF0), 0xFE}
_ADOBE, _SCAN, _END = 0xEE, 0xDA, 0xD9
# Says that the colors are luminance and two of color, and no more (JFIF 1.02: no unit, 1 : 1).
_JFIF = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x00\x00"
_END_OF_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7]", re.DOTALL)
_TABLES_BYTES = 1500  # two of quantization and four of codes are some 600
_BYTES_A_PIXEL = 0.5  # a finely kept photo has a third; what has more is drawn smaller
# Files that programs find wherever they stand in another one.
_OTHER_FILES = (b"PK\x05\x06", b"%PDF-")


def as_taken(content: bytes, size: tuple[int, int]) -> bytes | None:
    """Return a JPEG's picture as it was taken; None where it has to be drawn anew.

    Parameters
    ----------
    content : the file
    size : width and height that a decoder reads of it, pixels

    Examples
    --------
    >>> as_taken(b"a page", (10, 10)) is None
    True
    """
    try:
        kept = _picture(content, size)
    except IndexError:  # it ends within a segment
        return None
    if kept is None or len(kept) > size[0] * size[1] * _BYTES_A_PIXEL + _TABLES_BYTES:
        return None
    return None if any(mark in kept for mark in _OTHER_FILES) else kept


def _picture(content: bytes, size: tuple[int, int]) -> bytes | None:
    if content[:2] != b"\xff\xd8":
        return None
    place, tables, frame = 2, [], b""
    while content[place] == 0xFF:
        mark = content[place + 1]
        after = place + 2 + (content[place + 2] << 8 | content[place + 3])
        segment, place = content[place:after], after
        if mark == _SCAN:
            return _whole(content, tables, frame, segment, after) if frame else None
        if mark == _ADOBE and segment[4:9] == b"Adobe" and segment[15:16] != b"\x01":
            return None
        if mark in _FRAMES and not frame and _plain(segment, size):
            frame = segment
        elif mark not in _TABLES | _BESIDE:
            return None
        if mark not in _BESIDE:
            tables.append(segment)
    return None


def _plain(frame: bytes, size: tuple[int, int]) -> bool:
    """Tell whether a frame is of this size, of eight bits, gray or of the usual three colors."""
    high, wide = frame[5] << 8 | frame[6], frame[7] << 8 | frame[8]
    parts = [frame[10 + 3 * place] for place in range(frame[9])]
    return (wide, high) == size and frame[4] == 8 and parts in ([1], [1, 2, 3])


def _whole(content: bytes, tables: list, frame: bytes, scan: bytes, begins: int) -> bytes | None:
    """Return the picture whose one scan begins here, if all colors are in it and it ends well."""
    end = _END_OF_SCAN.search(content, begins)
    if end is None or content[end.start() + 1] != _END or scan[4] != frame[9]:
        return None
    if sum(map(len, tables)) + len(scan) > _TABLES_BYTES:
        return None
    return b"".join([_JFIF, *tables, scan, content[begins : end.start()], b"\xff\xd9"])
