"""A picture drawn anew from what a camera made, without metadata; its place and time are read.

Runs in a process of its own (`services_inventory.apart`), and so knows no Django.
"""

import math
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

PIXEL_LIMIT = 64_000_000
# A large photo is decoded at a half, quarter or eighth of its size, whichever still has the first.
DRAWN_FROM_PX, KEPT_SIDE_PX = 1600, 2400
_BLOCKS = 4  # of at most 16 MB
_WHITE = (255, 255, 255)
_GPS_IFD, _EXIF_IFD, _TAKEN, _TAKEN_ZONE = 0x8825, 0x8769, 0x9003, 0x9011


class PictureRefused(Exception):
    """The picture cannot be drawn; the message goes on after the file's name."""

    def __init__(self, said: str):
        super().__init__(said.replace("The file", "can't be shown: the file", 1))


@dataclass(frozen=True)
class CleanPhoto:
    """A photo drawn anew, and what the file said of its place (degrees) and time.

    original_sha256 : names the file as the camera made it, which is not kept
    likeness, brightness : see `seen`
    """

    jpeg: bytes
    original_sha256: str = ""
    latitude: float | None = None
    longitude: float | None = None
    taken_at: str = ""
    likeness: int | None = None
    brightness: int | None = None


def drawn_anew(content: bytes, kind: str, digest: str) -> CleanPhoto:
    """Return a picture of the kind JPEG, PNG or HEIF drawn anew, at most 2,400 pixels a side.

    Raises
    ------
    PictureRefused: it has too many pixels, or cannot be decoded.
    """
    from PIL import Image, UnidentifiedImageError

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
            small = _small(image)
            return CleanPhoto(_jpeg(small), digest, *where, taken_at, *seen(small))
    except (
        UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError,
        RuntimeError, EOFError,
    ) as error:  # fmt: skip
        raise PictureRefused(
            "is damaged or not whole and cannot be shown. Take or send it again."
        ) from error


def _learn_heif() -> None:
    """Let the picture library open HEIC, as phones make it; learning twice changes nothing."""
    from pillow_heif import register_heif_opener

    register_heif_opener(thumbnails=False, depth_images=False)


def _small(image):
    """Return the picture upright, without transparency, at most 2,400 pixels a side."""
    from PIL import ImageOps

    orientation = image.getexif().get(0x0112)
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
