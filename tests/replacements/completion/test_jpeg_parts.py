"""A JPEG kept as it was taken: its own picture to the last pixel, and nothing beside it."""

from io import BytesIO

import pytest
from PIL import Image, ImageChops

from replacements.completion.jpeg_parts import as_taken
from replacements.completion.photos import PhotoRefused, photo_clean
from tests.replacements.completion.drops import jpeg

SIZE = (160, 120)


def picture(**how) -> bytes:
    """Return a photo with light and shade in it, saved so."""
    out = BytesIO()
    shades = Image.radial_gradient("L").resize(SIZE)
    Image.merge("RGB", [shades, ImageChops.invert(shades), shades]).save(out, "JPEG", **how)
    return out.getvalue()


def with_segment(content: bytes, mark: int, said: bytes) -> bytes:
    """Return a photo with one more segment behind its start."""
    segment = bytes([0xFF, mark]) + (len(said) + 2).to_bytes(2, "big") + said
    return content[:2] + segment + content[2:]


def pixels(content: bytes) -> bytes:
    """Return what is seen."""
    with Image.open(BytesIO(content)) as seen:
        return seen.convert("RGB").tobytes()


def test_the_pixels_stay_and_place_words_and_what_follows_the_end_do_not():
    content = jpeg(gps=(41.5, -100.25)) + b"a second file behind the end"
    content = with_segment(with_segment(content, 0xFE, b"a comment"), 0xED, b"who took it")
    clean = photo_clean(content, "a.jpg")
    assert pixels(clean.jpeg) == pixels(content)
    assert clean.latitude == pytest.approx(41.5)
    for word in (b"private words", b"a comment", b"who took it", b"a second file", b"Exif"):
        assert word in content and word not in clean.jpeg


@pytest.mark.parametrize("how", [{"quality": 70}, {"subsampling": 0}, {"restart_marker_rows": 1}])
def test_every_plain_photo_is_kept_as_it_was_taken(how):
    content = picture(**how)
    kept = as_taken(content, SIZE)
    assert kept is not None and pixels(kept) == pixels(content)
    assert as_taken(kept, SIZE) == kept


def test_a_gray_one_too():
    out = BytesIO()
    Image.linear_gradient("L").save(out, "JPEG")
    assert pixels(as_taken(out.getvalue(), (256, 256))) == pixels(out.getvalue())


PLAIN = picture()
ODD = {
    "passes": picture(progressive=True),
    "another size than was read": PLAIN.replace(b"\x00\x78\x00\xa0", b"\x00\x79\x00\xa0", 1),
    "colors of print": with_segment(PLAIN, 0xEE, b"Adobe\x00d\x00\x00\x00\x00\x02"),
    "two frames": with_segment(PLAIN, 0xC0, b"\x08\0\x78\0\xa0\x03\x01\x11\0\x02\x11\0\x03\x11\0"),
    "a segment of no kind": with_segment(PLAIN, 0xF7, b"what is this"),
    "tables without end": with_segment(PLAIN, 0xDB, b"\x00" * 4000),
    "a zip": PLAIN[:-2] + b"PK\x05\x06" + PLAIN[-2:],
    "a page of print": PLAIN[:-2] + b"%PDF-1.7" + PLAIN[-2:],
    "more than its pixels need": PLAIN[:-2] + b"\x01" * 40_000 + PLAIN[-2:],
    "no end": PLAIN[:-2],
    "half a segment": PLAIN[:9],
    "no scan": PLAIN[: PLAIN.index(b"\xff\xda")] + b"\xff\xd9",
}  # fmt: skip


@pytest.mark.parametrize("what", ODD)
def test_what_is_not_plain_is_drawn_anew(what):
    assert as_taken(ODD[what], SIZE) is None


def test_a_sideways_or_a_large_photo_is_drawn_anew_upright_and_smaller():
    exif = Image.Exif()
    exif[0x0112] = 6
    with Image.open(BytesIO(photo_clean(picture(exif=exif), "a.jpg").jpeg)) as seen:
        assert seen.size == (120, 160)
    out = BytesIO()
    Image.new("RGB", (2600, 1300), (9, 99, 200)).save(out, "JPEG")
    with Image.open(BytesIO(photo_clean(out.getvalue(), "a.jpg").jpeg)) as seen:
        assert max(seen.size) <= 2400


def test_one_whose_pixels_are_cut_off_is_refused():
    content = picture(quality=95)
    with pytest.raises(PhotoRefused, match="damaged or not whole"):
        photo_clean(content[: len(content) // 2], "a.jpg")
