"""A photo that comes in pieces: what was received is kept, and goes on from there.

Each photo has a folder beside the data, bound to account, order and key; its only file holds what
came so far, so that its size says where to go on. What nobody writes to any more is removed with
all that was left unfinished (`services_inventory/operations/left_over.py`).

Source: Content-Range as in RFC 9110, 14.4 and 14.5.
"""

import fcntl
import re
import shutil
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from rest_framework.parsers import BaseParser
from rest_framework.response import Response

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
        start = self._start(request.data)
        file = self._file(pk, key)
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("ab") as held:
            fcntl.flock(held.fileno(), fcntl.LOCK_EX)
            received = file.stat().st_size
            if received != start:
                raise Problem(409, "other-place", "Go on where it stands.", received=received)
            held.write(request.data)
        return Response({"received": start + len(request.data)})

    def post(self, request, pk: int, key: str):
        """Keep the photo, which is whole now, as one that was sent at once is kept."""
        order, given = self.order(pk), self.taken(PartInSerializer)
        file = self._file(pk, key)
        kept = self.once(lambda: self._keep(order, given, file))
        shutil.rmtree(file.parent, ignore_errors=True)
        return kept

    def _keep(self, order, given: dict, file: Path) -> Response:
        if not file.exists():
            raise Problem(409, "part-gone", _AGAIN, received=0)
        return photo_of(order, given, file.read_bytes(), given["name"], self.request.user)

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

    def _file(self, pk: int, key: str) -> Path:
        """Return the file of a key; another account or order has another one."""
        if len(key) > KEY_LENGTH:
            raise Problem(400, "bad-key", f"A key has at most {KEY_LENGTH} signs.")
        named = sha256(f"{self.request.user.pk} {pk} {key}".encode()).hexdigest()[:32]
        return Path(settings.DATA_DIR) / "parts" / f"{UNFINISHED}{named}" / "photo"
