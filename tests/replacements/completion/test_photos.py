"""Photos as phones make them: drawn anew, only the picture kept, place and time beside it."""

from hashlib import sha256
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image
from pillow_heif import from_pillow
from pypdf import PdfWriter

from replacements.completion.photos import PhotoRefused, paper_keep, photo_clean, photo_keep
from replacements.models import PhotoFacts
from services_inventory.operations.documents import DocumentRefused
from tests.replacements.completion.drops import jpeg
from tests.replacements.factories import LATER, order

PLACE = (41.5, -100.25)


def heic(color=(30, 120, 200), size=(160, 96), gps=PLACE) -> bytes:
    """Return a photo as a phone makes it, with place and time in its metadata."""
    out = BytesIO()
    with Image.open(BytesIO(jpeg(gps=gps))) as told:
        exif = told.getexif().tobytes()
    made = from_pillow(Image.new("RGB", size, color))
    made.info["exif"] = exif
    made.save(out, quality=90)
    return out.getvalue()


def test_a_heic_photo_becomes_a_jpeg_with_its_place_its_time_and_its_digest():
    content = heic()
    clean = photo_clean(content, "IMG_0001.HEIC")
    assert (clean.latitude, clean.longitude) == pytest.approx(PLACE, abs=1e-4)
    assert clean.taken_at == "2028-04-10T09:15:00"
    assert clean.original_sha256 == sha256(content).hexdigest()
    with Image.open(BytesIO(clean.jpeg)) as drawn:
        assert (drawn.format, drawn.size, len(drawn.getexif())) == ("JPEG", (160, 96), 0)
        assert drawn.getpixel((80, 48)) == pytest.approx((30, 120, 200), abs=12)
    assert b"private words" not in clean.jpeg


def test_a_heic_photo_cut_short_is_refused_by_a_sentence():
    with pytest.raises(PhotoRefused, match="damaged or not whole"):
        photo_clean(heic()[:700], "IMG_0001.HEIC")


def test_what_shows_through_a_picture_is_white_paper():
    out = BytesIO()
    Image.new("RGBA", (40, 30), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(BytesIO(photo_clean(out.getvalue(), "signature.png").jpeg)) as drawn:
        assert drawn.getpixel((20, 15)) == (255, 255, 255)


@pytest.mark.django_db
def test_a_kept_photo_is_named_for_what_it_is_and_remembers_its_original():
    job, content = order(), heic()
    kept = photo_keep(
        work_order=job, content=content, name="IMG_7.HEIC", kind="OLD_PIPE", by="crew", at=LATER
    )
    facts = PhotoFacts.objects.get(document=kept)
    assert (kept.name, kept.content_type) == ("IMG_7.jpg", "image/jpeg")
    assert facts.original_sha256 == sha256(content).hexdigest()
    assert facts.latitude == pytest.approx(41.5, abs=1e-4)


@pytest.mark.django_db
def test_a_photographed_paper_loses_its_metadata_and_a_pdf_stays_as_it_is():
    job, pdf = order(), BytesIO()
    writer = PdfWriter()
    writer.add_blank_page(100, 100)
    writer.write(pdf)
    photographed = SimpleUploadedFile("signed.jpg", jpeg(gps=PLACE))
    scanned = SimpleUploadedFile("signed.pdf", pdf.getvalue())
    one, other = (
        paper_keep(file=file, kind="CONSENT", work_order=job, by="clerk", at=LATER)
        for file in (photographed, scanned)
    )
    with one.file.open("rb") as file:
        content = file.read()
    with Image.open(BytesIO(content)) as drawn:
        assert len(drawn.getexif()) == 0
    assert b"private words" not in content
    assert (one.kind, one.content_type) == ("CONSENT", "image/jpeg")
    with other.file.open("rb") as file:
        assert file.read() == pdf.getvalue()


@pytest.mark.django_db
@pytest.mark.parametrize(
    "content", [b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"<html></html>", b""]
)
def test_a_drawing_a_page_or_nothing_is_no_paper(content):
    file = SimpleUploadedFile("signed.jpg", content)
    with pytest.raises(DocumentRefused):
        paper_keep(file=file, kind="CONSENT", work_order=order(), by="clerk", at=LATER)
