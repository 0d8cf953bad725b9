"""A photo that comes in pieces: what was received is kept, and goes on from there.

Each photo has a folder, bound to account, order and key, beside the data or in the store that
machines share, so that any of them may receive the next piece; a piece is a file named by where it
begins and ends. What nobody writes to any more is removed with all that was left unfinished
(`services_inventory/operations/left_over.py`).

Source: Content-Range as in RFC 9110, 14.4 and 14.5.
"""

import re
from contextlib import suppress
from hashlib import sha256

from django.core.files.base import ContentFile
from django.core.files.storage import storages
from rest_framework.parsers import BaseParser
from rest_framework.response import Response

from services_inventory.kept_files import PARTS
from services_inventory.progress import UNFINISHED

from ..api.base import KEY_LENGTH, DeviceView
from ..api.problems import Problem
from ..api.serializers import PartInSerializer
from ..api.views.records import photo_of
from ..completion.photos import PHOTO_LIMIT_BYTES

_RANGE = re.compile(r"bytes (\d{1,10})-(\d{1,10})/(\d{1,10})")
_AGAIN = "The part of the photo that was received is gone; send it from its beginning."


class AnyBytes(BaseParser):
    """A body that is taken as it is."""

    media_type = "application/octet-stream"

    def parse(self, stream, media_type=None, parser_context=None) -> bytes:
        """Return the body."""
        return stream.read()


class PhonePart(DeviceView):
    """The pieces of a photo: the next one, and that it is whole."""

    schema = None
    parser_classes = (AnyBytes, *DeviceView.parser_classes)

    def put(self, request, pk: int, key: str):
        """Take the next piece; one that does not go on where it stands is told where that is."""
        self.order(pk)
        start, photo = self._start(request.data), Received(self._folder(pk, key))
        if (received := photo.until) != start:
            raise Problem(409, "other-place", "Go on where it stands.", received=received)
        photo.add(start, request.data)
        return Response({"received": start + len(request.data)})

    def post(self, request, pk: int, key: str):
        """Keep the photo, which is whole now, as one that was sent at once is kept."""
        order, given = self.order(pk), self.taken(PartInSerializer)
        photo = Received(self._folder(pk, key))
        kept = self.once(lambda: self._keep(order, given, photo))
        photo.forget()
        return kept

    def _keep(self, order, given: dict, photo: "Received") -> Response:
        if not (content := photo.content()):
            photo.forget()
            raise Problem(409, "part-gone", _AGAIN, received=0)
        return photo_of(order, given, content, given["name"], self.request.user)

    def _start(self, content) -> int:
        """Return where a piece begins."""
        told = _RANGE.fullmatch(self.request.headers.get("Content-Range", ""))
        first, last, whole = map(int, told.groups()) if told else (0, -1, 0)
        if not isinstance(content, bytes) or not content or last - first + 1 != len(content):
            said = "Send the piece as bytes, and say by Content-Range which it is."
            raise Problem(400, "bad-piece", said)
        if last >= whole or whole > PHOTO_LIMIT_BYTES:
            most = PHOTO_LIMIT_BYTES // 1024**2
            raise Problem(413, "too-large", f"A photo may have {most} MB. Send it smaller.")
        return first

    def _folder(self, pk: int, key: str) -> str:
        """Return the folder of a key; another account or order has another one."""
        if len(key) > KEY_LENGTH:
            raise Problem(400, "bad-key", f"A key has at most {KEY_LENGTH} signs.")
        named = sha256(f"{self.request.user.pk} {pk} {key}".encode()).hexdigest()[:32]
        return f"{PARTS}/{UNFINISHED}{named}"


class Received:
    """What came of a photo: the pieces that follow one another from its beginning."""

    def __init__(self, folder: str):
        self.folder, self.storage = folder, storages["frozen"]

    @property
    def pieces(self) -> list[tuple[int, int]]:
        """Return where each piece begins and ends; one that came twice is one."""
        ends: dict[int, int] = {}
        for name in self._names():
            if told := re.fullmatch(r"(\d+)-(\d+)", name):
                start, end = map(int, told.groups())
                ends[start] = max(end, ends.get(start, 0))
        found, at = [], 0
        while at in ends:
            found.append((at, ends[at]))
            at = ends[at]
        return found

    @property
    def until(self) -> int:
        """Return where to go on."""
        return self.pieces[-1][1] if self.pieces else 0

    def add(self, start: int, content: bytes) -> None:
        """Keep a piece."""
        name = f"{self.folder}/{start}-{start + len(content)}"
        self.storage.save(name, ContentFile(content))

    def content(self) -> bytes:
        """Return the photo; nothing where a piece was kept by halves, as by a killed process."""
        whole = b""
        for start, end in self.pieces:
            with self.storage.open(f"{self.folder}/{start}-{end}", "rb") as file:
                whole += file.read()
            if len(whole) != end:
                return b""
        return whole

    def forget(self) -> None:
        """Remove the pieces and their folder."""
        for name in self._names():
            self.storage.delete(f"{self.folder}/{name}")
        with suppress(OSError):  # another piece came just now
            self.storage.delete(self.folder)

    def _names(self) -> list[str]:
        try:
            return self.storage.listdir(self.folder)[1]
        except FileNotFoundError:
            return []
