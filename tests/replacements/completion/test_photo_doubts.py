"""What is told of photos at hand-in and beside them at the review; nothing of it refuses one."""

from io import BytesIO

import pytest
from PIL import Image, ImageDraw, ImageEnhance

from replacements.completion.photos import photo_clean, photo_keep
from replacements.completion.pictures import seen
from replacements.models import PhotoFacts
from replacements.operations.completions import completion_hand_in
from tests.replacements.factories import DAY, LATER, contractor, order, started, user


def trench(spots=1, light=1.0, side=640) -> Image.Image:
    """Return a picture drawn from a number."""
    image = Image.new("RGB", (640, 480), "#c8bfae")
    pen = ImageDraw.Draw(image)
    for n in range(14):
        x, y = 50 * ((n * spots * 7) % 12), 40 * ((n * spots * 5) % 11)
        tone = (30 + 15 * n, 60 + 9 * n, 140 - 8 * n)
        pen.ellipse((x, y, x + 120, y + 90), fill=tone)
    return ImageEnhance.Brightness(image).enhance(light).resize((side, side * 3 // 4))


def as_jpeg(image, quality=90) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=quality)
    return out.getvalue()


def apart(one: Image.Image, other: Image.Image) -> int:
    bits = [photo_clean(as_jpeg(each), "a.jpg").likeness for each in (one, other)]
    return ((bits[0] ^ bits[1]) & (2**64 - 1)).bit_count()


def test_a_picture_made_smaller_or_saved_worse_stays_alike_and_another_does_not():
    first = trench(side=1600)
    assert apart(first, trench(side=500)) <= 6
    with Image.open(BytesIO(as_jpeg(first, quality=30))) as worse:
        assert apart(first, worse) <= 6
    assert apart(first, trench(spots=3)) > 12
    assert apart(first, first.rotate(180)) > 12


def test_a_picture_without_light_and_shade_is_like_no_other():
    assert seen(Image.new("RGB", (64, 48), (90, 90, 90))) == (None, 90)


def test_a_bit_is_set_where_a_spot_is_brighter_than_the_one_at_its_right():
    ramp = Image.new("L", (9, 8))
    ramp.putdata([25 * (8 - n % 9) for n in range(72)])
    assert seen(ramp.resize((360, 320), Image.Resampling.NEAREST).convert("RGB")) == (-1, 100)
    mirrored = ramp.transpose(Image.Transpose.FLIP_LEFT_RIGHT).resize((360, 320))
    assert seen(mirrored.convert("RGB"))[0] == 0


def sent(job, image, kind="OLD_PIPE", name="image.jpg"):
    return photo_keep(
        work_order=job, content=as_jpeg(image), name=name, kind=kind, by="crew", at=LATER
    )


def handed_in(job, *photos):
    return completion_hand_in(
        work_order=job, photos=photos, by="crew", at=LATER, outcome="NO_ACCESS", finished_on=DAY,
        note="Nobody was there.", despite_stops=True,
    )  # fmt: skip


def doubts(record) -> list[str]:
    return [f["message"] for f in record.findings if f["rule"] in ("PHOTO_ALIKE", "PHOTO_DARK")]


@pytest.fixture
def reviewer(client):
    from program.roles import sync_roles

    sync_roles()
    client.force_login(user("reviewer", "Compliance staff"))
    return client


@pytest.mark.django_db
def test_the_same_picture_is_told_within_an_order_and_of_the_company_and_a_dark_one(reviewer):
    company = contractor()
    first, second, other = started(order(company)), started(order(company)), started(order())
    one = sent(first, trench(), name="monday.jpg")
    assert doubts(handed_in(first, one)) == []
    assert doubts(handed_in(other, sent(other, trench(side=600)))) == []  # another company's
    again = sent(second, trench(side=600), name="tuesday.jpg")
    twice = sent(second, trench(side=580), kind="NEW_AT_HOUSE", name="house.jpg")
    dark = sent(second, trench(spots=3, light=0.2), kind="LEAD_REMOVED", name="night.jpg")
    record = handed_in(second, again, twice, dark)
    assert sorted(doubts(record)) == [
        "house.jpg looks like the same picture as tuesday.jpg, sent for this order too.",
        "night.jpg may be too dark.",
        f"tuesday.jpg looks like the same picture as monday.jpg, sent for {first.number}.",
    ]
    page = reviewer.get(f"/work/review/{record.pk}/").content.decode()
    for message in doubts(record):
        assert page.count(message) == 1
    assert "Is the end of the new pipe in it?" in page


@pytest.mark.django_db
def test_a_photo_of_before_is_compared_with_nothing():
    job = started(order())
    kept = sent(job, trench())
    PhotoFacts.objects.update(likeness=None, brightness=None)
    assert doubts(handed_in(job, kept)) == []
