"""Photos on the phone: smaller, place and time kept, dark and alike told, nothing refused."""

from io import BytesIO

from PIL import Image, ImageDraw

from replacements.completion.photos import photo_keep
from replacements.models import PhotoFacts
from replacements.operations.completions import completion_return
from tests.browser.phone import MARKS, signed_in
from tests.replacements.factories import LATER, handed_in, order, started, user

pytestmark = MARKS


def picture(path, *, tone=200, spots=1, orientation=1):
    """Write a large photo with place and time, drawn from a number."""
    image = Image.new("RGB", (2400, 1800), (tone, tone, tone))
    pen = ImageDraw.Draw(image)
    for n in range(12):
        x, y = 190 * ((n * spots * 7) % 12), 145 * ((n * spots * 5) % 11)
        pen.ellipse((x, y, x + 500, y + 400), fill=(tone // 3, tone // 2, tone))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif.get_ifd(0x8769)[0x9003] = "2028:04:11 09:30:00"
    exif.get_ifd(0x8825).update({1: "N", 2: (41.0, 30.0, 0.0), 3: "W", 4: (100.0, 18.0, 0.0)})
    buffer = BytesIO()
    image.save(buffer, "JPEG", quality=95, exif=exif)
    path.write_bytes(buffer.getvalue())
    return path


def take(page, kind, path):
    before = page.locator(".photo.has").count()
    page.set_input_files(f"input[data-kind={kind}]", str(path))
    page.wait_for_function("n => document.querySelectorAll('.photo.has').length > n", arg=before)


def test_a_photo_goes_smaller_with_its_place_and_time(browser, live_server, company, tmp_path):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    page.evaluate(f"location.hash = '#/order/{job.pk}/record'")
    page.wait_for_selector(".photos")
    large = picture(tmp_path / "old.jpg", orientation=6)
    take(page, "OLD_PIPE", large)
    page.select_option("select[name=outcome]", "NO_ACCESS")
    page.fill("textarea[name=note]", "Nobody opened.")
    page.click("button:has-text('Hand in')")
    page.wait_for_selector("h1:has-text('Record sent')")
    facts = PhotoFacts.objects.get()
    assert (round(facts.latitude, 2), round(facts.longitude, 2)) == (41.5, -100.3)
    assert facts.taken_at.startswith("2028-04-11T09:30")
    with facts.document.file.open("rb") as file, Image.open(file) as kept:
        assert kept.size == (1200, 1600)  # upright, once
    context.close()


def test_dark_and_alike_are_told_and_left_to_a_person(browser, live_server, company, tmp_path):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    page.evaluate(f"location.hash = '#/order/{job.pk}/record'")
    page.wait_for_selector(".photos")
    take(page, "OLD_PIPE", picture(tmp_path / "a.jpg"))
    take(page, "LEAD_REMOVED", picture(tmp_path / "b.jpg", tone=190))
    assert page.locator(".photo:has-text('Looks like the same picture as')").count() == 1
    take(page, "NEW_AT_MAIN", picture(tmp_path / "c.jpg", spots=3, tone=30))
    shown = page.locator(".photo:has([data-kind=NEW_AT_MAIN])").inner_text()
    assert "Too dark?" in shown and "Is the end of the new pipe in the picture?" in shown
    assert "Looks like" not in shown
    for kind, tone in (("NEW_AT_HOUSE", 6), ("RESTORED", 180)):
        Image.new("RGB", (640, 480), (tone, tone, tone)).save(tmp_path / "flat.jpg")
        take(page, kind, tmp_path / "flat.jpg")
        assert "Looks like" not in page.locator(f".photo:has([data-kind={kind}])").inner_text()
    context.close()


def test_a_photo_taken_anew_takes_the_place_of_the_one_that_came_back(
    browser, live_server, company, tmp_path
):
    job = started(order(company))
    content = picture(tmp_path / "old.jpg").read_bytes()
    kept = photo_keep(
        work_order=job, content=content, name="old.jpg", kind="OLD_PIPE", by="crew", at=LATER
    )
    record = handed_in(job, photos=[kept])
    completion_return(completion=record, reasons="Blurred.", by="office", at=LATER)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    page.evaluate(f"location.hash = '#/order/{job.pk}/record'")
    tile = page.locator(".photo:has([data-kind=OLD_PIPE])")
    tile.get_by_text("sent before, kept").wait_for()
    page.set_input_files("input[data-kind=OLD_PIPE]", str(picture(tmp_path / "new.jpg", spots=3)))
    tile.locator("img").wait_for()
    assert "sent before" not in tile.inner_text()
    context.close()


def test_a_photo_goes_on_where_the_network_broke(browser, live_server, company, tmp_path):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    taken = picture(tmp_path / "a.jpg")
    with Image.open(taken) as image:  # shot on a phone, which does not shrink it further
        noise = Image.effect_noise((1600, 1200), 120).convert("RGB")
        Image.blend(image.resize((1600, 1200)), noise, 0.5).save(taken, "JPEG", quality=88)
    pieces, breaks = [], [True]

    def break_once(route):
        pieces.append(route.request.headers.get("content-range", ""))
        if len(pieces) == 3 and breaks.pop():
            route.fetch()  # it arrives, and nobody hears of it
            route.abort()
        else:
            route.continue_()

    context.route("**/work/phone/send/*/photos/**", break_once)
    page.evaluate(f"location.hash = '#/order/{job.pk}/record'")
    page.wait_for_selector(".photos")
    take(page, "OLD_PIPE", taken)
    page.select_option("select[name=outcome]", "NO_ACCESS")
    page.fill("textarea[name=note]", "Nobody opened.")
    page.click("button:has-text('Hand in')")
    page.wait_for_selector("#waiting:has-text('1 not sent')")
    page.wait_for_timeout(300)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_selector("h1:has-text('Record sent')")
    starts = [int(each.split()[1].split("-")[0]) for each in pieces if each]
    assert len(starts) > 4 and starts == sorted(starts)
    assert starts.count(0) == 1  # it did not begin again
    facts = PhotoFacts.objects.get()
    with facts.document.file.open("rb") as file, Image.open(file) as kept:
        assert kept.size == (1600, 1200)
    context.close()


def test_what_is_no_photo_is_told_at_once_and_the_others_stay(
    browser, live_server, company, tmp_path
):
    job = order(company)
    context = browser()
    page = signed_in(context, live_server, user("crew", "Contractor", company))
    page.evaluate(f"location.hash = '#/order/{job.pk}/record'")
    page.wait_for_selector(".photos")
    good = picture(tmp_path / "a.jpg")
    take(page, "OLD_PIPE", good)
    (tmp_path / "list.jpg").write_text("1 wrench")
    (tmp_path / "cut.jpg").write_bytes(good.read_bytes()[:400])
    for kind, name in (("OLD_PIPE", "list.jpg"), ("RESTORED", "cut.jpg")):
        page.set_input_files(f"input[data-kind={kind}]", str(tmp_path / name))
        page.wait_for_selector(f".photo:has([data-kind={kind}]) .note-error:has-text('{name}')")
    assert page.locator(".photo.has img").count() == page.locator(".photo img").count() == 1
    take(page, "RESTORED", picture(tmp_path / "b.jpg", spots=3))
    assert page.locator(".note-error").count() == 1
    context.close()
