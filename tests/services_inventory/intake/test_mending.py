"""Held rows mended in the table or by the downloaded file, and totals that add up (constructed)."""

import random

import pytest
from django.urls import reverse

from services_inventory.models import Batch, HeldRow, ServiceLine
from services_inventory.operations.batches import batch_run
from services_inventory.operations.mending import (
    held_bring_back,
    held_leave_out,
    held_mend,
    held_replace,
    held_upload,
    mended_take_in,
)
from services_inventory.queries.checks import counts_add_up
from services_inventory.queries.held import (
    held_file,
    held_groups,
    held_open,
    held_table,
    left_out_acts,
)
from services_inventory.refused import Refused
from services_inventory.today import now
from tests.services_inventory.operations.takes import (
    APRIL,
    ELM,
    MILL,
    OAK,
    counted,
    open_file,
    run,
)
from tests.services_inventory.people import CREW, STAFF, browser_of

pytestmark = pytest.mark.django_db
WHO = {"by": "clerk", "at": APRIL}
BAD_YEAR = ("L2", "40 Oak Ave", "41.51", "-100.31", "copper", "copper", "19x5", "tap card")
BAD_WORD = ("L3", "7 Elm Rd", "41.52", "-100.32", "qqq", "copper", "1950", "tap card")


@pytest.fixture
def batch(tmp_path) -> Batch:
    """Return a file taken in, of which two rows are held for two reasons."""
    made = open_file(tmp_path, [MILL, BAD_YEAR, BAD_WORD], source="tap card")
    run(made, "CHECK")
    assert run(made) == counted(new=1, held=2)
    return made


def mended(batch, **typed) -> int:
    """Type texts into cells named row_place."""
    cells: dict = {}
    for name, text in typed.items():
        row, place = name[1:].split("_")
        cells.setdefault(int(row), {})[int(place)] = text
    return held_mend(batch=batch, typed=cells, seen=None, **WHO)


def taken_in(batch) -> dict:
    """Take in what is mended; return the counts of its batch."""
    made, number, _ = mended_take_in(batch=batch, by="clerk", at=now())
    batch_run(batch=made)
    assert (made.state, made.counts["total"]) == (Batch.State.APPLIED, number)
    assert made.parameters["source"] == "tap card"
    return made.counts


def test_rows_are_grouped_by_reason_and_what_is_wrong_stands_at_its_cell(batch):
    groups = held_groups(batch)
    assert sorted(len(group.rows) for group in groups) == [1, 1]
    rows = [row for group in groups for row in group.rows]
    table = held_table(batch, sorted(rows), whole=False)
    wrong = {(row["number"], cell["heading"]) for row in table["rows"] for cell in row["cells"]
             if cell["wrong"]}  # fmt: skip
    assert wrong == {(3, "year installed"), (4, "system side material")}


def test_a_mended_row_is_taken_in_as_a_file_of_its_own_and_waits_no_longer(batch):
    with pytest.raises(Refused, match="No row was mended yet"):
        mended_take_in(batch=batch, **WHO)
    assert mended(batch, r3_6="1995", r4_4="still qqq") == 2
    assert taken_in(batch) == counted(new=1)
    assert ServiceLine.objects.get(location_id="L2").installed_year == 1995
    (left,) = held_open(batch)
    assert (left.row_number, left.mended) == (4, {"4": "still qqq"})
    with pytest.raises(Refused, match="No mended row can be read yet"):
        mended_take_in(batch=batch, **WHO)
    assert mended(batch, r4_4="qqq") == 1  # as it came: nothing is mended
    assert held_open(batch).get().mended is None


def test_what_was_typed_outlives_another_check_and_waits_for_the_file_itself(tmp_path):
    made = open_file(tmp_path, [MILL, BAD_YEAR])
    run(made, "CHECK")
    mended(made, r3_6="1995")
    with pytest.raises(Refused, match="Take the file itself in first"):
        mended_take_in(batch=made, **WHO)
    assert run(made) == counted(new=1, held=1)
    assert held_open(made).get().mended == {"6": "1995"}
    assert "1995" in held_file(made).read_text()


def test_rows_whose_batch_is_withdrawn_or_refused_wait_again(batch):
    mended(batch, r3_6="1995")
    made, _, _ = mended_take_in(batch=batch, **WHO)
    assert held_open(batch).count() == 1
    Batch.objects.filter(pk=made.pk).update(state="REFUSED")
    assert held_open(batch).count() == 2


def test_two_who_mend_the_same_row_are_told(batch):
    mended(batch, r3_6="1995")
    with pytest.raises(Refused, match="clerk mended row 3 meanwhile"):
        held_mend(
            batch=batch, typed={3: {6: "1996"}}, seen=APRIL.replace(hour=1), by="other", at=APRIL
        )
    assert held_open(batch).first().mended == {"6": "1995"}


def test_one_correction_for_all_rows_of_a_reason(batch):
    put = {"batch": batch, "rows": [3, 4], "at_place": 4, **WHO}
    with pytest.raises(Refused, match="No row of this reason"):
        held_replace(**put, old="zzz", new="lead")
    assert held_replace(**put, old="qqq", new="lead") == 1
    assert taken_in(batch) == counted(new=1)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_downloaded_file_corrected_and_uploaded_is_as_if_typed(tmp_path, kind):
    import openpyxl

    made = open_file(tmp_path, [MILL, BAD_YEAR, BAD_WORD], source="tap card")
    if kind == "xlsx":
        book = openpyxl.Workbook()
        for row in [made.result or None, MILL, BAD_YEAR, BAD_WORD][1:]:
            book.active.append(row)
        book.active.insert_rows(1)
        header = ("location id", "address", "latitude", "longitude", "system side material",
                  "customer side material", "year installed", "source")  # fmt: skip
        for at, heading in enumerate(header, 1):
            book.active.cell(1, at, heading)
        book.save(made.file.path)
    run(made, "CHECK")
    run(made)
    path = held_file(made)
    if kind == "xlsx":
        book = openpyxl.load_workbook(path)
        book.active.cell(2, 7, 1995)
        book.save(path)
    else:
        path.write_text(path.read_text().replace("19x5", "1995"))
    done = held_upload(batch=made, path=path, **WHO)
    assert done == {"mended": 1, "others": 0}
    assert taken_in(made) == counted(new=1)
    other = tmp_path / "other.csv"
    other.write_text("a,b\n1,2\n")
    with pytest.raises(Refused, match="lacks the column"):
        held_upload(batch=made, path=other, **WHO)


def test_the_page_keeps_marks_and_takes_in_and_other_roles_see_none(batch):
    staff, page = browser_of(STAFF), reverse("held_mend", args=[batch.pk])
    why = {group.rows[0]: group.key for group in held_groups(batch)}
    sent = {"why": why[3], "c-3-6": "95x", "c-3-7": "tap card"}
    said = staff.post(page, sent, follow=True).content.decode()
    assert "1 row kept" in said and 'value="95x"' in said and "aria-invalid" in said
    staff.post(page, sent | {"c-3-6": "1995"})
    said = staff.get(page, {"why": why[3]}).content.decode()
    assert "reads well now" in said and "1 row is mended" in said
    said = staff.post(reverse("mended_take_in", args=[batch.pk]), follow=True).content.decode()
    assert "1 mended row is being taken in" in said
    assert browser_of(CREW).get(page).status_code in (403, 404)
    assert staff.get(page, {"after": "x"}).status_code == 400


CELLS = (
    ["L1", "L2", "L3", "", "L1 ", "9" * 80],
    ["12 Mill St", "40 Oak Ave", "7 Elm Rd", "", "Main & 2nd", "PO Box 4", "12-14 Mill St"],
    ["41.5", "0", "", "95", "x"],
    ["-100.3", "100.3", "", "x"],
    ["lead", "copper", "qqq", "", "unk"],
    ["copper", "galv", "?", ""],
    ["1950", "19x0", "", "2190", "'84"],
    ["tap card", "hearsay", ""],
)


@pytest.mark.parametrize("seed", range(6))
def test_whatever_a_file_holds_its_rows_add_up_before_and_after_mending(tmp_path, seed):
    chance = random.Random(seed)
    rows = [MILL, OAK, ELM] if seed % 2 else []
    if rows:
        run(open_file(tmp_path, rows))
    rows = [[chance.choice(column) for column in CELLS] for _ in range(60)]
    made = open_file(tmp_path, rows, name="wild.csv", source="tap card")
    checked = run(made, "CHECK")
    assert run(made) == checked
    blank = sum(not any(row) for row in rows)
    assert made.counts["total"] == len(rows) - blank
    parts = sum(made.counts[name] for name in ("new", "changed", "unchanged", "held"))
    assert parts == made.counts["total"]
    assert HeldRow.objects.filter(batch=made).count() == made.counts["held"] > 0
    assert sum(len(group.rows) for group in held_groups(made)) == made.counts["held"]
    for row in held_open(made):
        good = {0: f"N{row.row_number}", 1: f"{row.row_number} New St", 2: "41.6", 3: "-100.4",
                4: "lead", 5: "copper", 6: "1950", 7: "tap card"}  # fmt: skip
        held_mend(batch=made, typed={row.row_number: good}, seen=None, **WHO)
    counts = taken_in(made)
    assert counts == counted(new=made.counts["held"])
    assert not held_open(made).exists()


def test_a_row_left_out_waits_no_longer_is_counted_and_comes_back(batch):
    with pytest.raises(Refused, match="Say why"):
        held_leave_out(batch=batch, rows=[3], reason=" ", **WHO)
    with pytest.raises(Refused, match="None of the rows waits"):
        held_leave_out(batch=batch, rows=[2, 9], reason="gone", **WHO)
    assert held_leave_out(batch=batch, rows=[3], reason="torn down", **WHO) == 1
    batch.refresh_from_db()
    assert batch.counts == counted(new=1, held=1) | {"left_out": 1, "total": 3}
    assert list(counts_add_up()) == []
    assert [row.row_number for row in held_open(batch)] == [4]
    assert "19x5" not in held_file(batch).read_text()
    left_out = held_file(batch, left_out=True).read_text()
    assert "19x5" in left_out and "torn down" in left_out
    (act,) = left_out_acts(batch)
    assert (act["rows"], act["left_out_by"]) == ([3], "clerk")
    assert held_bring_back(batch=batch, act=act["key"]) == 1
    with pytest.raises(Refused, match="brought back already"):
        held_bring_back(batch=batch, act=act["key"])
    batch.refresh_from_db()
    assert batch.counts == counted(new=1, held=2) | {"left_out": 0}
    assert mended(batch, r3_6="1995") == 1


def test_no_row_is_left_out_of_a_file_that_was_not_taken_in(tmp_path):
    checked = open_file(tmp_path, [MILL, BAD_YEAR])
    run(checked, "CHECK")
    with pytest.raises(Refused, match="Take the file itself in first"):
        held_leave_out(batch=checked, rows=[3], reason="why not", **WHO)


def test_rows_are_left_out_and_brought_back_on_the_page(batch):
    staff, table = browser_of(STAFF), reverse("held_mend", args=[batch.pk])
    page = staff.get(table).content.decode()
    assert 'form="leave-out"' in page and "Leave all 1 of this reason out" in page
    sent = {"row": ["3"], "reason": "a hydrant"}
    said = staff.post(reverse("held_leave_out", args=[batch.pk]), sent, follow=True)
    assert "1 row is left out" in said.content.decode() and b"a hydrant" in said.content
    key = held_groups(batch)[0].key
    sent = {"why": key, "which": "all", "reason": "nobody knows"}
    staff.post(reverse("held_leave_out", args=[batch.pk]), sent)
    page = staff.get(reverse("batch", args=[batch.pk])).content.decode()
    assert "Mend the held rows" not in page and "left out</a> by a person" in page
    act = left_out_acts(batch)[0]["key"]
    said = staff.post(reverse("held_bring_back", args=[batch.pk]), {"act": act}, follow=True)
    assert "1 row waits again" in said.content.decode()
    others = browser_of(CREW).post(reverse("held_leave_out", args=[batch.pk]))
    assert others.status_code in (403, 404)
