"""The picture of what a camera made, without metadata; its place and time are read.

Runs in a process of its own (`services_inventory.apart`), and so knows no Django.
"""

import math
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from io import BytesIO
from pathlib import Path

from services_inventory.domain.content_types import content_type_of

from .jpeg_parts import as_taken

PHOTO_LIMIT_BYTES = 25 * 1024**2
PHOTO_TYPES = {"image/jpeg": "JPEG", "image/png": "PNG", "image/heic": "HEIF"}

PIXEL_LIMIT = 64_000_000
# A large photo is decoded at a half, quarter or eighth of its size, whichever still has the first.
DRAWN_FROM_PX, KEPT_SIDE_PX = 1600, 2400
_BLOCKS = 4  # of at most 16 MB
_WHITE = (255, 255, 255)
_ORIENTATION = 0x0112
_GPS_IFD, _EXIF_IFD, _TAKEN, _TAKEN_ZONE = 0x8825, 0x8769, 0x9003, 0x9011


class PictureRefused(Exception):
    """The picture cannot be drawn; the message goes on after the file's name."""

    def __init__(self, said: str):
        super().__init__(said.replace("The file", "can't be shown: the file", 1))


@dataclass(frozen=True)
class CleanPhoto:
    """A photo's picture as JPEG, and what the file said of its place (degrees) and time.

    jpeg : what is in it, or the path of a file that is to be moved to where it is kept
    sha256 : names the picture that is kept
    original_sha256 : names the file as the camera made it, which is not kept
    likeness, brightness : see `seen`
    """

    jpeg: bytes | Path
    original_sha256: str = ""
    latitude: float | None = None
    longitude: float | None = None
    taken_at: str = ""
    likeness: int | None = None
    brightness: int | None = None
    sha256: str = ""


def made_clean(content: bytes) -> CleanPhoto:
    """Return the picture of a JPEG, PNG or HEIF file, at most 2,400 pixels a side.

    An upright JPEG of that size keeps its picture as it was taken, and is decoded to see that it
    can be; everything else is drawn anew.

    Raises
    ------
    PictureRefused: it is too large, is no JPEG, PNG or HEIC, has too many pixels, or cannot be
        decoded.
    """
    from PIL import Image, UnidentifiedImageError

    kind = _kind(content)
    if kind == "HEIF":
        _learn_heif()
    # A picture's memory is kept for the next: half as long again goes into asking for it anew.
    Image.core.set_blocks_max(_BLOCKS)
    try:
        with Image.open(BytesIO(content), formats=(kind,)) as image:
            if image.width * image.height > PIXEL_LIMIT:
                raise PictureRefused(
                    f"has {image.width} x {image.height} pixels; send it smaller than "
                    f"{PIXEL_LIMIT // 10**6} million."
                )
            where, taken_at = _place(image), _time(image)
            jpeg = _as_taken(content, image)
            if jpeg is None:
                small = _small(image)
                jpeg = _jpeg(small)
            else:
                small = _seen_from_afar(jpeg)
            digests = [sha256(each).hexdigest() for each in (content, jpeg)]
            return CleanPhoto(jpeg, digests[0], *where, taken_at, *seen(small), digests[1])
    except (
        UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError,
        RuntimeError, EOFError,
    ) as error:  # fmt: skip
        raise PictureRefused(
            "is damaged or not whole and cannot be shown. Take or send it again."
        ) from error


def _kind(content: bytes) -> str:
    if not content:
        raise PictureRefused("is empty. Choose the photo again.")
    if len(content) > PHOTO_LIMIT_BYTES:
        raise PictureRefused(
            f"has {len(content) / 1024**2:.0f} MB; a photo may have "
            f"{PHOTO_LIMIT_BYTES // 1024**2} MB. Send it smaller."
        )
    found = content_type_of(content[:4096])
    if found not in PHOTO_TYPES:
        raise PictureRefused("is no JPEG, PNG or HEIC photo, whatever its name says.")
    return PHOTO_TYPES[found]


def _as_taken(content: bytes, image) -> bytes | None:
    fits = max(image.size) <= KEPT_SIDE_PX and image.getexif().get(_ORIENTATION) in (None, 1)
    return as_taken(content, image.size) if image.format == "JPEG" and fits else None


def _seen_from_afar(jpeg: bytes):
    """Return a picture decoded as small as it can still be looked at, every code of it read."""
    from PIL import Image

    with Image.open(BytesIO(jpeg), formats=("JPEG",)) as image:
        image.draft("L", _AFAR)
        image.load()
    return image


def _learn_heif() -> None:
    """Let the picture library open HEIC, as phones make it; learning twice changes nothing."""
    from pillow_heif import register_heif_opener

    register_heif_opener(thumbnails=False, depth_images=False)


def _small(image):
    """Return the picture upright, without transparency, at most 2,400 pixels a side."""
    from PIL import ImageOps

    orientation = image.getexif().get(_ORIENTATION)
    share = DRAWN_FROM_PX / max(image.size)
    image.draft("RGB", (max(1, int(image.width * share)), max(1, int(image.height * share))))
    image.thumbnail((KEPT_SIDE_PX, KEPT_SIDE_PX))
    if orientation not in (None, 1):
        image = ImageOps.exif_transpose(image)
    return _on_white(image)


def _jpeg(image) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=82)
    return out.getvalue()


def seen(image) -> tuple[int | None, int]:
    """Return the likeness of a picture in 64 bits, signed, and its mean brightness, of 255.

    A bit tells whether a spot of 9 x 8 is brighter than the one at its right: a difference hash
    (common practice, no source). A picture without light and shade has no likeness.
    """
    from PIL import Image

    fewer = image.resize(_LOOKED_AT, Image.Resampling.NEAREST).convert("L")
    spots = fewer.resize((9, 8), Image.Resampling.BOX)
    tones = list(spots.tobytes())
    brightness = round(sum(tones) / len(tones))
    if max(tones) - min(tones) < _SHADES:
        return None, brightness
    bits = [tones[9 * y + x] > tones[9 * y + x + 1] for y in range(8) for x in range(8)]
    number = sum(1 << place for place, bit in enumerate(bits) if bit)
    return number - (number >> 63 << 64), brightness


_AFAR = 144, 128  # points, 16 x 16 of each spot
_LOOKED_AT = 360, 320  # points, 40 x 40 of each spot; ten times quicker than all of them
_SHADES = 16  # of 255, between the brightest spot and the darkest; own judgment


def _on_white(image):
    """Return the picture without transparency: what shows through is paper."""
    from PIL import Image

    if not image.has_transparency_data:
        return image.convert("RGB")
    seen = image.convert("RGBA")
    paper = Image.new("RGB", seen.size, _WHITE)
    paper.paste(seen, mask=seen.getchannel("A"))
    return paper


def _place(image) -> tuple[float | None, float | None]:
    """Return latitude and longitude that the file states, or none when they cannot be."""
    try:
        gps = image.getexif().get_ifd(_GPS_IFD)
        latitude = _degrees(gps[2]) * (-1 if str(gps.get(1, "N")).upper().startswith("S") else 1)
        longitude = _degrees(gps[4]) * (-1 if str(gps.get(3, "E")).upper().startswith("W") else 1)
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None, None
    possible = -90 <= latitude <= 90 and -180 <= longitude <= 180
    return (latitude, longitude) if possible else (None, None)


def _degrees(parts) -> float:
    degrees, minutes, seconds = (float(part) for part in parts)
    value = degrees + minutes / 60 + seconds / 3600
    if not math.isfinite(value):
        raise ValueError("no finite angle")
    return value


def _time(image) -> str:
    exif = image.getexif().get_ifd(_EXIF_IFD)
    said = str(exif.get(_TAKEN, "")).strip("\x00 ")
    try:
        taken = datetime.strptime(said, "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return ""
    zone = str(exif.get(_TAKEN_ZONE, "")).strip("\x00 ")
    return taken.isoformat() + (zone if len(zone) == 6 and zone.isascii() else "")
