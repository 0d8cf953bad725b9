"""A drop: every row its verdict, good rows in, the rest back with reasons, nothing twice."""

import zipfile
from hashlib import sha256
from io import BytesIO

import pytest
from openpyxl import load_workbook

from replacements.models import CompletionRecord, PhotoFacts, PullRecord
from replacements.operations.completions import completion_return
from replacements.packages.record_form import form_returned
from services_inventory.models import Batch, Document
from tests.replacements.completion.drops import GOOD, files_of, filled, jpeg, run, taken, zipped
from tests.replacements.factories import LATER, REVIEW, contractor, handed_in, order, started

KEPT = (CompletionRecord, PullRecord, PhotoFacts, Document)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day(settings):
    settings.NOW = "tests.replacements.completion.test_bundle.moment"
    settings.TODAY = ""


def moment():
    """Return the moment the drop is taken in at."""
    return LATER


@pytest.fixture
def company(db):
    return contractor()


def verdicts(batch) -> dict[str, str]:
    """Return the verdict by order."""
    return {row["order"]: row["verdict"] for row in batch.result["rows"]}


def said(batch) -> str:
    """Return all that was said of the rows."""
    return "\n".join(sentence for row in batch.result["rows"] for sentence in row["says"])


def drop_of(*jobs, **more):
    """Return the files of a whole drop."""
    files = {"form.xlsx": filled(jobs, **more)}
    for job in jobs:
        files |= files_of(job)
    return files


def test_good_rows_go_in_whole_with_log_and_photos_and_again_nothing_doubles(company):
    jobs = [started(order(company)) for _ in range(3)]
    files = drop_of(*jobs)
    seen = []
    batch = taken(company, files, report=lambda done, total: seen.append((done, total)))
    assert batch.state == Batch.State.APPLIED
    assert set(verdicts(batch).values()) == {"TAKEN"}, said(batch)
    assert seen == [(0, 3), (1, 3), (2, 3), (3, 3)]
    record = CompletionRecord.objects.get(work_order=jobs[0])
    assert record.pull.peak_lbf > 500
    assert record.photos.count() == 5
    assert record.quality["pressure_test"]["pressure_psi"] == 100
    assert [f for f in record.findings if f["level"] == "STOP"] == []
    counts = [kept.objects.count() for kept in KEPT]
    again = taken(company, files)
    assert set(verdicts(again).values()) == {"ALREADY"}
    assert counts == [
        m.objects.count() for m in (CompletionRecord, PullRecord, PhotoFacts, Document)
    ]  # noqa: E501


def test_bad_rows_come_back_as_the_same_form_with_cell_and_sentence_and_can_be_mended(company):
    good, bad = started(order(company)), started(order(company))
    files = drop_of(good, bad, rows={bad.number: {"test_psi": "ninety", "system_found": "tin"}})
    batch = taken(company, files)
    assert verdicts(batch) == {good.number: "TAKEN", bad.number: "FIX"}
    assert batch.counts["held"] == 1
    row = next(row for row in batch.result["rows"] if row["order"] == bad.number)
    assert any(s.startswith("H4: 'tin' is not in the list") for s in row["says"]), row["says"]
    back = load_workbook(BytesIO(form_returned(batch)))["Records"]
    assert back.max_row == 4
    headings = [cell.value for cell in back[2]]
    assert (back.cell(3, 1).value, back.cell(4, 1).value) == (bad.number, good.number)
    assert back.protection.sheet
    assert [back.cell(row, 5).protection.locked for row in (3, 4)] == [False, True]
    locked = back.cell(4, headings.index("Why it came back") + 1).value
    assert locked.startswith("In already, and locked")
    reasons = back.cell(3, headings.index("Why it came back") + 1).value
    assert "Enter a number." in reasons
    psi = back.cell(3, headings.index("Test pressure, psi") + 1)
    assert (psi.value, psi.comment.text) == ("ninety", "Enter a number.")
    psi.value = 100
    back.cell(3, headings.index("System side found") + 1).value = "lead"
    out = BytesIO()
    back.parent.save(out)
    mended = taken(company, files_of(bad) | {"returned.xlsx": out.getvalue()})
    assert verdicts(mended) == {bad.number: "TAKEN"}, said(mended)
    assert mended.counts["locked"] == 1


def test_a_record_that_nobody_could_accept_comes_back_unless_its_note_says_why(company):
    job = started(order(company))
    files = drop_of(job, rows={job.number: {"test_minutes": 5}})
    batch = taken(company, files)
    assert verdicts(batch) == {job.number: "FIX"}
    assert "Held for 5 min, 15 min asked for." in said(batch)
    assert CompletionRecord.objects.count() == PullRecord.objects.count() == 0
    files = drop_of(job, rows={job.number: {"test_minutes": 5, "note": "Gauge failed, retested."}})
    batch = taken(company, files)
    assert verdicts(batch) == {job.number: "TAKEN"}
    assert "The reviewer will ask: Held for 5 min" in said(batch)


def test_two_rows_of_one_order_a_closed_order_and_a_strangers_order(company):
    twice, closed = started(order(company)), started(order(company))
    handed_in(closed)
    theirs = started(order(contractor()))
    book = load_workbook(BytesIO(filled([twice, closed, theirs])))
    sheet = book["Records"]
    sheet.append([cell.value for cell in sheet[3]])
    out = BytesIO()
    book.save(out)
    batch = taken(company, {"form.xlsx": out.getvalue(), **files_of(twice)})
    rows = {row["row"]: row for row in batch.result["rows"]}
    assert "Rows 3 and 6 are both for" in rows[3]["says"][0]
    assert "Rows 3 and 6 are both for" in rows[6]["says"][0]
    assert "handed in" in rows[4]["says"][0]
    assert rows[5]["says"][0] == f"A5: Your company has no work order {theirs.number}."
    assert CompletionRecord.objects.count() == 1


def test_a_log_of_another_pull_and_a_missing_file_are_told_at_their_cell(company):
    first, second, third = (started(order(company)) for _ in range(3))
    assert set(verdicts(taken(company, drop_of(first))).values()) == {"TAKEN"}
    files = drop_of(second, third, rows={third.number: {"photo_OLD_PIPE": "not-there.jpg"}})
    files[f"{second.number}_pull.csv"] = files_of(first)[f"{first.number}_pull.csv"]
    batch = taken(company, files)
    assert verdicts(batch) == {second.number: "FIX", third.number: "FIX"}
    assert f"This very log was handed in for {first.number}" in said(batch)
    assert "The drop holds no file 'not-there.jpg'" in said(batch)


@pytest.mark.parametrize(
    "content",
    [
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
        b"<html><script>alert(1)</script></html>",
        jpeg()[:300],
    ],
)
def test_what_is_no_photo_returns_its_row_and_keeps_nothing(company, content):
    job = started(order(company))
    files = drop_of(job) | {f"{job.number}_old_pipe.jpg": content}
    batch = taken(company, files)
    assert verdicts(batch) == {job.number: "FIX"}
    assert f"{job.number.lower()}_old_pipe.jpg" in said(batch).lower()
    assert Document.objects.count() == 0


def test_a_photo_damaged_inside_the_zip_returns_its_row_and_nothing_is_left_lying(
    company, settings
):
    whole, broken = started(order(company)), started(order(company))
    files, name = drop_of(whole, broken), f"{broken.number}_old_pipe.jpg"
    packed = zipped(files)
    with zipfile.ZipFile(packed) as held:
        at = held.getinfo(name).header_offset + 30 + len(name) + 20
    content = bytearray(packed.getvalue())
    content[at] ^= 0xFF
    batch = run(company, BytesIO(bytes(content)))
    assert verdicts(batch) == {whole.number: "TAKEN", broken.number: "FIX"}
    assert f"{name} is damaged inside the zip" in said(batch)
    assert Document.objects.filter(kind="PHOTO_OLD_PIPE").count() == 1
    kept = Document.objects.get(kind="PHOTO_OLD_PIPE")
    with kept.file.open("rb") as file:
        assert sha256(file.read()).hexdigest() == kept.sha256
    assert list((settings.DATA_DIR / "drops").iterdir()) == []


def test_the_same_picture_for_two_places_is_kept_for_both(company):
    job = started(order(company))
    files = drop_of(job)
    files[f"{job.number}_restored.jpg"] = files[f"{job.number}_old_pipe.jpg"]
    assert verdicts(taken(company, files)) == {job.number: "TAKEN"}
    kept = Document.objects.filter(kind__in=("PHOTO_OLD_PIPE", "PHOTO_RESTORED"))
    assert len(kept) == 2
    assert all(document.file.open("rb").read(2) == b"\xff\xd8" for document in kept)


def test_a_photo_of_80_megabytes_returns_its_row_and_the_others_go_in(company):
    small, large = started(order(company)), started(order(company))
    files = drop_of(small, large)
    import random

    noise = random.Random(1).randbytes(1024**2) * 80
    files[f"{large.number}_old_pipe.jpg"] = b"\xff\xd8\xff" + noise
    batch = taken(company, files)
    assert verdicts(batch) == {small.number: "TAKEN", large.number: "FIX"}
    assert "has 80 MB; send at most 25 MB" in said(batch)


def test_photos_lose_their_metadata_and_one_taken_far_away_is_a_caution(company):
    near, far = started(order(company)), started(order(company))
    files = drop_of(near, far)
    files[f"{near.number}_old_pipe.jpg"] = jpeg((1, 2, 3), gps=(41.5002, -100.3001))
    files[f"{far.number}_old_pipe.jpg"] = jpeg((3, 2, 1), gps=(41.52, -100.3))
    batch = taken(company, files)
    assert set(verdicts(batch).values()) == {"TAKEN"}, said(batch)
    facts = PhotoFacts.objects.get(work_order=near, latitude__isnull=False)
    assert facts.latitude == pytest.approx(41.5002, abs=1e-5)
    assert facts.longitude == pytest.approx(-100.3001, abs=1e-5)
    assert facts.taken_at == "2028-04-10T09:15:00"
    kept = facts.document.file.open("rb").read()
    assert b"Exif" not in kept
    assert b"private words" not in kept
    rules = {
        job.pk: [f["rule"] for f in CompletionRecord.objects.get(work_order=job).findings]
        for job in (near, far)
    }
    assert "PHOTO_FAR_AWAY" in rules[far.pk]
    assert "PHOTO_FAR_AWAY" not in rules[near.pk]


def test_a_photo_that_was_sent_for_another_order_is_a_caution(company):
    first, second = (started(order(company)) for _ in range(2))
    taken(company, drop_of(first))
    files = drop_of(second)
    files[f"{second.number}_old_pipe.jpg"] = files_of(first)[f"{first.number}_old_pipe.jpg"]
    batch = taken(company, files)
    assert verdicts(batch) == {second.number: "TAKEN"}
    rules = [f["rule"] for f in CompletionRecord.objects.get(work_order=second).findings]
    assert rules.count("PHOTO_USED_BEFORE") == 1
    assert f"the same picture as one sent for {first.number}" in said(batch)


def test_a_returned_record_sent_unchanged_says_so_and_changed_is_a_new_revision(company):
    job = started(order(company))
    files = drop_of(job)
    taken(company, files)
    completion_return(
        completion=CompletionRecord.objects.get(), by="office", at=REVIEW, reasons="Photo is dark."
    )
    assert "It was returned: Photo is dark." in said(taken(company, files))
    files["form.xlsx"] = filled([job], change={"note": "New photo."})
    batch = taken(company, files)
    assert verdicts(batch) == {job.number: "TAKEN"}, said(batch)
    assert CompletionRecord.objects.order_by("-id").first().revision == 2


def bomb() -> dict:
    """Return a file that unpacks to a thousand times its size."""
    return {"form.xlsx": b"x", "W-000001_old_pipe.jpg": b"\0" * 30 * 1024**2}


def link(name="W-000001_pull.csv"):
    """Return a zip with a symbolic link."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        info = zipfile.ZipInfo(name)
        info.external_attr = 0o120777 << 16
        made.writestr(info, "/etc/passwd")
    out.seek(0)
    return out


@pytest.mark.parametrize(
    ("file", "sentence"),
    [
        (zipped({"../../evil.jpg": b"x"}), "leads outside"),
        (zipped({"/etc/cron.d/evil": b"x"}), "leads outside"),
        (zipped({"C:\\evil.jpg": b"x"}), "leads outside"),
        (zipped({"a\\..\\..\\evil.jpg": b"x"}), "leads outside"),
        (link(), "holds a link"),
        (zipped(bomb()), "times its size"),
        (zipped({"a/x.jpg": b"1", "b/X.JPG": b"2"}), "Two files are named"),
        (zipped({"x.jpg": b"1"}), "no record form"),
        (zipped({"a.xlsx": b"1", "b.xlsx": b"2"}), "more than one workbook"),
        (zipped({"a.xlsx": b"PK\x03\x04 no"}), "no workbook"),
        (BytesIO(b"PK\x03\x04 not whole"), "damaged"),
    ],
)
def test_an_unsafe_drop_is_refused_whole_by_a_sentence(company, file, sentence, settings):
    file.seek(0)
    batch = run(company, file)
    assert batch.state == Batch.State.REFUSED
    assert sentence in batch.message
    assert CompletionRecord.objects.count() == Document.objects.count() == 0


def test_a_stop_keeps_what_went_in_and_the_rest_can_follow(company):
    from services_inventory import progress

    jobs = [started(order(company)) for _ in range(3)]
    files = drop_of(*jobs)

    def report(done, total):
        if done == 2:
            progress.ask_to_stop(Batch.objects.get().pk)

    batch = taken(company, files, report=report)
    assert batch.state == Batch.State.STOPPED
    assert CompletionRecord.objects.count() == 2
    again = taken(company, files)
    assert sorted(verdicts(again).values()) == ["ALREADY", "ALREADY", "TAKEN"]


def test_blank_rows_are_left_and_text_that_looks_like_a_formula_stays_text(company):
    filled_in, blank = started(order(company)), order(company)
    files = {"form.xlsx": filled([filled_in, blank], change={}), **files_of(filled_in)}
    book = load_workbook(BytesIO(files["form.xlsx"]))
    for cell in book["Records"][4][5:]:
        cell.value = None
    out = BytesIO()
    book.save(out)
    batch = taken(company, files | {"form.xlsx": out.getvalue()})
    assert (batch.counts["rows"], batch.counts["blank"]) == (1, 1)
    bad = started(order(company))
    book = load_workbook(BytesIO(filled([bad], rows={bad.number: {"outcome": "@SUM(1)"}})))
    out = BytesIO()
    book.save(out)
    batch = taken(company, {"form.xlsx": out.getvalue()})
    back = load_workbook(BytesIO(form_returned(batch)))["Records"]
    assert (back["F3"].value, back["F3"].data_type) == ("@SUM(1)", "s")
    assert GOOD["outcome"] == "replaced"


def test_all_that_is_wrong_with_a_row_is_said_at_once(company):
    job = started(order(company))
    wrong = {"system_found": "tin", "test_psi": "ninety", "finished_on": "2028-12-24",
             "system_replaced": None, "customer_replaced": None, "aerators_off": None}  # fmt: skip
    files = drop_of(job, rows={job.number: wrong})
    del files[f"{job.number}_restored.jpg"], files[f"{job.number}_new_at_main.jpg"]
    batch = taken(company, files)
    (row,) = batch.result["rows"]
    told = " ".join(row["says"])
    wanted = ("'tin' is not in the list", "Enter a number.", "which has not come yet",
              "Tick which portion was replaced", "No photo: new at main",
              "The aerators were not taken off")  # fmt: skip
    for words in wanted:
        assert words in told, words
    # What rests on the cell that cannot be read is not asked for a second time.
    assert "pressure test" not in told.lower()
    assert len(row["cells"]) == len(row["says"])
    assert not CompletionRecord.objects.exists()
