"""Columns made of others: parts of an address, one split, two joined, the same for all rows."""

from datetime import UTC, date, datetime

import pytest

from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import BadColumnMap, ColumnMap, guess, made_of
from services_inventory.intake.preview import preview
from services_inventory.models import SavedColumns
from services_inventory.operations.columns import columns_asked, columns_previewed
from services_inventory.queries.batches import map_of
from tests.services_inventory.operations import takes

DAY = date(2030, 6, 1)
PARTS = ["SVC", "HSE NO", "PREDIR", "ST NAME", "ST TYPE", "POSTDIR", "APT", "MAT"]


def _checked(columns, header, *rows):
    checker = RowChecker(columns, header, as_of=DAY)
    return checker.check_many(list(enumerate(map(list, rows), start=2)))


def test_parts_of_an_address_are_joined_in_the_order_of_publication_28():
    header = ["House No", "Direction", "Street Name", "Street Type", "Post Dir", "Unit", "Zip"]
    columns = guess(header)
    found = _checked(
        columns, header,
        [12.0, "N", "Alder", "St", "", "3", "52401"],
        ["14", "", "Mill Creek", "Rd", "NW", "", "52401"],
    )  # fmt: skip
    assert found.columns["address"] == ["12 N Alder St", "14 Mill Creek Rd NW"]
    assert [one.unit for one in found.columns["normal_address"]] == ["# 3", ""] or found.columns[
        "normal_address"
    ][0].key != found.columns["normal_address"][1].key
    assert made_of(columns, header).used == frozenset(range(7))


def test_an_address_of_its_own_leaves_the_parts_alone_and_both_are_refused():
    found = guess(["Address", "House No", "Street Name"])
    assert {column.field for column in found.columns} == {"address"}
    both = ColumnMap.from_dict({"columns": {"address": "A", "house_number": "H"}})
    with pytest.raises(BadColumnMap, match="Choose either"):
        made_of(both, ["A", "H"])


def _asked(header, **chosen):
    return columns_asked(header, {name.replace("_N", "-"): v for name, v in chosen.items()})


def test_a_form_joins_splits_and_says_what_holds_for_the_whole_file():
    header = ["ID", "STREET", "CITY ZIP", "NOTE 1", "NOTE 2", "MAT", "HOW"]
    sent = {
        "column-0": "location_id", "column-1": "address", "column-2": "city",
        "second-2": "postcode", "sign-2": ",", "column-3": "notes", "column-4": "notes",
        "column-5": "system_material", "column-6": "source", "same-source": "tap card",
        "same-observed_on": "2029-05-01", "date_order": "MDY",
    }  # fmt: skip
    columns = columns_asked(header, sent)
    assert ColumnMap.from_dict(columns.to_dict()) == columns
    found = _checked(
        columns, header,
        ["1", "12 Alder St", "Quillwater, 52401", "a", "b", "copper", ""],
        ["2", "14 Alder St", "Quillwater", "", "c", "copper", "excavation"],
    )  # fmt: skip
    assert found.columns["city"] == ["Quillwater", "Quillwater"]
    assert found.columns["postcode"] == ["52401", ""]
    assert found.columns["notes"] == ["a b", "c"]
    assert found.columns["system_basis"] == ["RECORD_TAP_CARD", "EXCAVATION"]
    assert found.columns["system_observed_on"] == [date(2029, 5, 1)] * 2


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"column-0": "location_id", "column-1": "system_material",
          "column-2": "system_material"}, "Set it for one"),
        ({"column-0": "location_id", "same-source": "somebody said so"}, "not a known word"),
        ({"column-0": "city", "second-0": "city", "sign-0": ","}, "Set it for one"),
        ({}, "no .columns."),
    ],
)  # fmt: skip
def test_what_cannot_be_made_is_refused_in_a_sentence(sent, sentence):
    with pytest.raises(BadColumnMap, match=sentence):
        columns_asked(["A", "B", "C"], sent)


def test_a_preview_shows_what_would_be_understood_and_why_a_row_would_be_held():
    header = ["id", "address", "system side material", "source", "year installed"]
    rows = [
        (2, ["1", "12 Alder St", "cu", "tap card", "1994"]),
        (5, ["2", "", "zz", "", "94"]),
        (6, ["3", "14 Alder St", "cu", "", "5/2/1926"]),
    ]
    found = preview(header, rows, guess(header), DAY)
    assert found["rows"][0]["sides"][0] == ("system side", "copper, by tap card, laid 1994")
    assert "'zz'" in found["rows"][1]["held"][0]
    assert [row["number"] for row in found["rows"]] == [2, 5, 6], "as the file and the batch say"
    assert found["rows"][2]["sides"][0][1] == "copper, not stated how known, laid May 2, 1926"
    assert found["words"] == ["zz", "years of two digits"]
    assert preview(header, rows, ColumnMap.from_dict({"columns": {"city": "id"}}), DAY)["problem"]


@pytest.mark.parametrize("sent", [{}, {"header": "[", "sample": "[]"}, {"header": "3",
                                  "sample": "[]"}])  # fmt: skip
def test_a_preview_of_nonsense_is_a_sentence(sent):
    assert columns_previewed(sent, DAY)["problem"]


@pytest.mark.django_db
def test_a_map_is_found_again_whatever_columns_were_added_and_by_sheet(tmp_path):
    at = datetime(2028, 4, 3, 9, tzinfo=UTC)
    header = ["A", "B", "C"]
    columns = {"columns": {"location_id": "A", "address": "B", "system_material": "C"}}
    SavedColumns.objects.create(
        header_sha256="x", name="", columns=columns, headings=header, saved_by="mira", saved_at=at
    )
    batch = takes.open_file(
        tmp_path, [("1", "copper", "12 Alder St", "52401")], header=("A", "C", "B", "Zip")
    )
    assert takes.run(batch)["new"] == 1
    assert batch.result["columns"]["columns"] == columns["columns"] | {"postcode": "Zip"}
    assert batch.result["columns_from"] == "saved"
    other = takes.open_file(tmp_path, [("1", "x")], header=("A", "address"))
    from services_inventory.queries.batches import table_of

    assert map_of(other, table_of(other))[1] == "guessed"


@pytest.mark.django_db
def test_known_premises_are_found_again_by_an_address_in_parts(tmp_path):
    """The file that once offered every known premise as a new line."""
    rows = [(f"L{n}", f"{n} N Alder St", "copper") for n in (12, 14, 16)]
    takes.take_in(tmp_path, rows, header=("id", "address", "system side material"))
    parts = [(n, "N", "Alder", "Street", "lead") for n in (12, 14, 16)]
    header = ("House Number", "Direction", "Street Name", "Street Type", "Public side material")
    counts = takes.take_in(tmp_path, parts, header=header)
    assert counts == takes.counted(changed=3)


def test_a_preview_tells_codes_by_their_words():
    header = ["id", "building type", "use of the line"]
    found = preview(header, [(2, ["1", "single family", "irrigation"])], guess(header), DAY)
    assert found["rows"][0]["others"] == "building single-family home; use irrigation"
