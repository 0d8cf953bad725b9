"""Checking rows: typed values, every problem of a row, repeats; all rows are constructed."""

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from services_inventory.domain.addresses import AddressKind
from services_inventory.intake.checking import RowChecker, values
from services_inventory.intake.checking.problems import Bad
from services_inventory.intake.columns import BadColumnMap, ColumnMap, guess
from services_inventory.intake.reading import UnusableCell
from tests.examples import examples
from tests.services_inventory.intake import files
from tests.services_inventory.intake.checks import CheckedRow, check, check_all, held_rows

AS_OF = date(2031, 1, 15)


def _checker(header=files.HEADER, **settings_):
    return RowChecker(guess(header), header, as_of=AS_OF, **settings_)


def _row(**cells):
    """A good row with some of its cells replaced."""
    row = dict(zip(files.HEADER, files.ROWS[0], strict=True))
    row.update({key.replace("_", " "): cell for key, cell in cells.items()})
    return list(row.values())


def _sentences(**cells):
    found = check(_checker(), 7, _row(**cells))
    return [] if isinstance(found, CheckedRow) else [str(problem) for problem in found]


def test_a_good_row():
    found = check(_checker(), 2, files.ROWS[0])
    assert isinstance(found, CheckedRow)
    assert found.values["normal_address"].key == "12 N MAIN ST"
    expected = {
        "location_id": "L-1",
        "address": "12 N Main St",
        "latitude": 41.9001,
        "longitude": -91.6001,
        "system_material": "LEAD",
        "customer_material": "COPPER",
        "system_installed_year": 1934,
        "customer_installed_year": 1934,
        "system_installed_on": None,
        "system_basis": "RECORD_TAP_CARD",
        "customer_basis": "RECORD_TAP_CARD",
        "connector_basis": "RECORD_TAP_CARD",
        "system_source": "tap card",
    }
    assert {name: found.values[name] for name in expected} == expected


def test_blank_cells_are_no_evidence_and_unknown_is():
    found = check(_checker(), 2, files.ROWS[2])
    assert found.values["system_material"] == "UNKNOWN"
    assert found.values["customer_material"] == ""
    assert found.values["system_installed_year"] is None
    assert found.values["system_basis"] == ""


BAD_CELLS = [
    ({"system_side_material": "unobtainium"}, "'unobtainium'"),
    ({"system_side_material": "=A2"}, "formula"),
    ({"system_side_material": "Pb?"}, "guess"),
    ({"year_installed": "19"}, "'19' is not a possible year"),
    ({"year_installed": "20255"}, "'20255' is not a possible year"),
    ({"year_installed": 20255.0}, "'20255' is not a possible year"),
    ({"year_installed": "1930s"}, "'1930s' is not a year"),
    ({"year_installed": "5/2/34"}, "two digits"),
    ({"year_installed": "2031-02-01"}, "is Feb 1, 2031, which lies after Jan 15, 2031"),
    ({"year_installed": "2032"}, "not a possible year"),
    ({"year_installed": "31/12/1999"}, "month/day/year"),
    ({"year_installed": "02/30/1999"}, "no calendar"),
    ({"latitude": "-91.6", "longitude": "41.9"}, "exchanged"),
    ({"latitude": "0", "longitude": "0"}, "both 0"),
    ({"latitude": "41.9", "longitude": "91.6"}, "minus sign"),
    ({"latitude": "4641234.5", "longitude": "612345.6"}, "another coordinate reference system"),
    ({"latitude": "51.5", "longitude": "-0.1"}, "outside the United States"),
    ({"latitude": "95", "longitude": "-91.6"}, "no degrees"),
    ({"latitude": "41.9", "longitude": ""}, "a latitude but no longitude"),
    ({"latitude": "41° 54' N"}, "decimal degrees"),
    ({"latitude": "nan", "longitude": "inf"}, "'inf' is no coordinate"),
    ({"address": "12 Main St " + "x" * 300}, "311 characters long"),
    ({"address": "12 Main\x07 St"}, "control character \\(U\\+0007\\)"),
    ({"address": "=HYPERLINK(1)"}, "formula"),
    ({"location_id": "1.23E+12"}, "shortened"),
    ({"location_id": "x" * 81}, "81 characters"),
    ({"location_id": "#REF!"}, "spreadsheet error"),
    (
        {"location_id": UnusableCell("it holds a formula whose result is not in the file")},
        "formula",
    ),
    ({"location_id": "", "address": "Main St & 3rd Ave", "latitude": "", "longitude": ""}, "inter"),
    ({"location_id": "", "address": "", "latitude": "", "longitude": ""}, "no address and no"),
    ({"location_id": "", "address": "Main St", "latitude": "", "longitude": ""}, "No house number"),
]


@pytest.mark.parametrize(("cells", "words"), BAD_CELLS)
def test_a_bad_cell_holds_its_row_with_a_sentence(cells, words):
    found = check(_checker(), 7, _row(**cells))
    assert not isinstance(found, CheckedRow)
    (problem,) = found
    with pytest.raises(AssertionError, match=words):
        raise AssertionError(str(problem))
    assert str(problem).startswith("Row 7, column '")
    assert str(problem).endswith(".")


def test_all_problems_of_a_row_are_told():
    sentences = _sentences(
        system_side_material="unobtainium", year_installed="19", latitude="0", longitude="0"
    )
    assert len(sentences) == 3
    assert [word in " ".join(sentences) for word in ("unobtainium", "'19'", "both 0")] == [True] * 3


@pytest.mark.parametrize(("cells", "expected"), [
    ({"year_installed": "1934.0"}, {"system_installed_year": 1934}),
    ({"year_installed": 1934.0}, {"system_installed_year": 1934}),
    ({"year_installed": "5/2/1934"}, {"system_installed_on": date(1934, 5, 2)}),
    ({"year_installed": date(1934, 5, 2)}, {"system_installed_year": 1934}),
    ({"year_installed": "1934-05"}, {"system_installed_year": 1934, "system_installed_on": None}),
    ({"year_installed": "unknown"}, {"system_installed_year": None}),
    ({"year_installed": "0"}, {"system_installed_year": None}),
    ({"location_id": 1002.0}, {"location_id": "1002"}),
    ({"location_id": "  L-1 "}, {"location_id": "L-1"}),
    ({"location_id": "'-12-A"}, {"location_id": "-12-A"}),
    ({"address": "12 N Main St\nApt 2"}, {"address": "12 N Main St Apt 2"}),
    ({"address": None}, {"address": ""}),
    ({"latitude": 41.9, "longitude": -91.6}, {"latitude": 41.9}),
    ({"latitude": "", "longitude": None}, {"latitude": None, "longitude": None}),
    ({"latitude": "13.4", "longitude": "144.8"}, {"latitude": 13.4}),
    ({"latitude": "-14.3", "longitude": "-170.7"}, {"latitude": -14.3}),
    ({"system_side_material": '3/4" Cu type K'}, {"system_material": "COPPER"}),
])  # fmt: skip
def test_what_can_be_read_is_read(cells, expected):
    found = check(_checker(), 2, _row(**cells))
    assert isinstance(found, CheckedRow), found
    assert {name: found.values[name] for name in expected} == expected


@pytest.mark.parametrize(
    ("address", "kind"),
    [
        ("11-13 Mill St", AddressKind.RANGE),
        ("12 1/2 Oak Ave", AddressKind.FRACTION),
        ("RR 2 Box 15", AddressKind.RURAL_ROUTE),
        ("Main St & 3rd Ave", AddressKind.INTERSECTION),
    ],
)
def test_unusual_addresses_are_taken_in_when_an_identifier_ties_the_row(address, kind):
    found = check(_checker(), 2, _row(address=address))
    assert found.values["normal_address"].kind is kind
    assert bool(found.notes) == (kind is AddressKind.INTERSECTION)
    assert not any(note.held for note in found.notes)


def test_a_unit_of_its_own_column_counts_like_one_in_the_address():
    header = ["address", "unit"]
    checker = RowChecker(guess(header), header, as_of=AS_OF)
    rows = [(2, ["12 Main St", "3"]), (3, ["12 Main St", "Apt 3"]), (4, ["12 Main St Apt 3", "3"])]
    batch = checker.check_many([*rows, (5, ["12 Main St", ""])])
    keys = [found.key for found in batch.columns["normal_address"]]
    assert keys == ["12 MAIN ST # 3"] * 3 + ["12 MAIN ST"]


def test_words_that_do_not_matter_for_the_category_are_noted_and_left_out():
    header = ["location id", "premise type", "service type"]
    checker = RowChecker(guess(header), header, as_of=AS_OF)
    found = check(checker, 2, ["L-1", "elementary school", "brewery"])
    assert (found.values["premise_kind"], found.values["line_use"]) == ("SCHOOL", "")
    (note,) = found.notes
    assert (note.column, note.held) == ("service type", False)


def test_coordinates_of_another_system_are_converted_when_it_is_named():
    """UTM zone 15 N of 41.9 N, 91.6 W, by pyproj."""
    import pyproj

    change = pyproj.Transformer.from_crs(4326, 26915, always_xy=True)
    east, north = change.transform(-91.6, 41.9)
    header = ["location id", "X", "Y"]
    columns = ColumnMap.from_dict(
        {"columns": {"location_id": "location id", "longitude": "X", "latitude": "Y"},
         "crs": "EPSG:26915"}
    )  # fmt: skip
    checker = RowChecker(columns, header, as_of=AS_OF)
    batch = checker.check_many([(2, ["L-1", str(east), str(north)]), (3, ["L-2", "", ""])])
    assert batch.columns["latitude"] == [pytest.approx(41.9), None]
    assert batch.columns["longitude"] == [pytest.approx(-91.6), None]
    lost = checker.check_many([(4, ["L-3", "41.9", "-91.6"])])
    assert held_rows(lost) == [4]


def test_a_nan_among_good_coordinates_is_no_place():
    rows = [(2, _row()), (3, _row(latitude="nan", longitude="nan")), (4, _row(latitude="nan"))]
    batch = _checker().check_many(rows)
    assert batch.columns["latitude"] == [41.9001, None]
    assert held_rows(batch) == [4]


def test_points_as_text_give_latitude_and_longitude():
    header = ["location id", "wkt"]
    checker = RowChecker(guess(header), header, as_of=AS_OF)
    found = check(checker, 2, ["L-1", "POINT (-91.6 41.9)"])
    assert (found.values["latitude"], found.values["longitude"]) == (41.9, -91.6)
    assert not isinstance(check(checker, 3, ["L-2", "LINESTRING (1 2, 3 4)"]), CheckedRow)


def test_what_a_side_says_itself_counts_before_what_both_share():
    header = ["location id", "year installed", "customer side installed", "source",
              "customer side source"]  # fmt: skip
    found = check(
        RowChecker(guess(header), header, as_of=AS_OF),
        2,
        ["L-1", "1934", "1971", "tap card", "permit"],
    )
    assert found.values["system_installed_year"] == 1934
    assert found.values["customer_installed_year"] == 1971
    assert found.values["system_basis"] == "RECORD_TAP_CARD"
    assert found.values["customer_basis"] == "RECORD_PERMIT"
    assert found.values["customer_source"] == "permit"


def test_a_pipe_seen_before_it_was_laid_is_held():
    header = ["location id", "date installed", "inspection date"]
    checker = RowChecker(guess(header), header, as_of=AS_OF)
    assert isinstance(check(checker, 2, ["L-1", "1971-05-02", "2020-06-01"]), CheckedRow)
    problems = check(checker, 3, ["L-1", "1971-05-02", "1970-06-01"])
    assert "before it was laid" in str(problems[0])


def test_rows_longer_or_shorter_than_the_header_are_held():
    batch = _checker().check_many([(2, files.ROWS[0]), (3, ["L-2", "x"]), (4, ["x"] * 1_000_001)])
    assert batch.row_numbers == [2]
    assert held_rows(batch) == [3, 4]
    assert "2 cells, the header has 8" in str(batch.problems[0])
    assert "1,000,001 cells" in str(batch.problems[1])


def test_read_held_and_good_add_up_and_columns_stay_together():
    rows = [(2, _row()), (3, _row(latitude="x")), (4, _row(location_id="L-4")), (5, ["a"])]
    batch = _checker().check_many(rows)
    assert len(batch.row_numbers) + len(held_rows(batch)) == 4
    assert {len(column) for column in batch.columns.values()} == {2}
    assert batch.columns["location_id"] == ["L-1", "L-4"]
    assert batch.column("notes", "") == ["", ""]


def test_batches_give_what_single_rows_give():
    rows = [(number, _row(**cells)) for number, (cells, _) in enumerate(BAD_CELLS, start=2)]
    rows += [(100 + number, _row(year_installed=str(1900 + number))) for number in range(20)]
    together = [
        str(problem) for batch in check_all(_checker(), rows, 7) for problem in batch.problems
    ]
    alone = []
    for number, cells in rows:
        found = check(_checker(), number, cells)
        alone += [] if isinstance(found, CheckedRow) else map(str, found)
    assert together == alone
    assert len(alone) >= len(BAD_CELLS)


def test_the_same_location_twice():
    """Rows that say the same collapse; rows that differ are both held (all of them)."""
    checker = _checker()
    rows = [
        (2, _row(location_id="A")),
        (3, _row(location_id="B")),
        (4, _row(location_id="A", system_side_material="LEAD")),
        (5, _row(location_id="B", system_side_material="Cu")),
        (6, _row(location_id="C")),
        (7, _row(location_id="B")),
        (8, _row(location_id="D", latitude="x")),
    ]
    assert len(list(check_all(checker, rows, 2))) == 4
    repeats = checker.repeats(lambda: rows)
    assert repeats.same == [(4, 2)]
    assert repeats.different == [[3, 5, 7]]
    problems = checker.repeat_problems(repeats)
    assert [problem.row_number for problem in problems] == [3, 5, 7]
    assert "row 3, 7" in str(problems[1])


def test_the_same_address_twice_without_identifiers():
    header = ["address", "system side material", "line use"]
    checker = RowChecker(guess(header), header, as_of=AS_OF)
    rows = [
        (2, ["12 N. Main Street", "Pb", ""]),
        (3, ["12 NORTH MAIN ST", "Cu", ""]),
        (4, ["12 N Main St", "Cu", "fire"]),
        (5, ["12 N Main St Apt 2", "Cu", ""]),
    ]
    checker.check_many(rows)
    assert checker.repeats(lambda: rows).different == [[2, 3]]


def test_a_map_that_places_no_row_is_refused():
    for header in (["system side material"], ["latitude", "system side material"]):
        with pytest.raises(BadColumnMap):
            RowChecker(guess(header), header, as_of=AS_OF)


@pytest.mark.parametrize(
    ("written", "inches"),
    [
        ("0.75", 0.75), (".75", 0.75), ("3/4", 0.75), ('3/4"', 0.75), ("1 1/4 in", 1.25),
        ("1-1/2", 1.5), ("1½", 1.5), ("¾", 0.75), ("2 inch", 2.0), (1.0, 1.0), ("19 mm", 0.748),
        ("", None), ("unk", None), ("0", None),
    ],
)  # fmt: skip
def test_diameters(written, inches):
    assert values.diameter_in(written) == inches


@pytest.mark.parametrize("written", ["3/0", "abc", "750", "-1", "3/4/5", '"', date(2026, 4, 3)])
def test_no_diameters(written):
    assert isinstance(values.diameter_in(written), Bad)


@pytest.mark.parametrize(
    "written",
    ["2024-05-31", "2024/5/31", "2024-05-31T10:00:00", "5/31/2024", "05-31-2024", "20240531",
     "May 31, 2024", "31 May 2024", "31-May-2024", "45443", 45443.0, date(2024, 5, 31),
     datetime(2024, 5, 31, 8, 0)],
)  # fmt: skip
def test_days(written):
    assert values.day(AS_OF, "MDY")(written) == date(2024, 5, 31)


def test_days_first():
    assert values.day(AS_OF, "DMY")("1/5/2024") == date(2024, 5, 1)
    assert values.day(AS_OF, "MDY")("1/5/2024") == date(2024, 1, 5)


@pytest.mark.parametrize(
    "written", ["2024-13-01", "5/31/24", "soon", "2024", "99999", "31/31/2024"]
)
def test_no_days(written):
    assert isinstance(values.day(AS_OF, "MDY")(written), Bad)


CELLS = st.one_of(
    st.text(max_size=12),
    st.floats(),
    st.integers(),
    st.none(),
    st.dates(),
    st.sampled_from(["Pb", "1934", "0", "41.9", "-91.6", "=1", "'=1", "#N/A", "12 Main St"]),
)


@examples(300, derandomize=True)
@given(st.lists(CELLS, min_size=8, max_size=8))
def test_no_cell_breaks_the_checker(cells):
    checker = _checker()
    found = check(checker, 2, cells)
    if isinstance(found, CheckedRow):
        latitude = found.values["latitude"]
        assert latitude is None or -15 <= latitude <= 72
        assert found.values["system_installed_year"] in (None, *range(1800, 2032))
    else:
        assert all(str(problem).endswith(".") for problem in found)


def test_a_source_that_is_no_known_basis_is_taken_as_not_stated_and_its_words_are_kept():
    header = ["location id", "address", "system side material", "source"]
    checker = RowChecker(guess(header), header, as_of=date(2028, 1, 1))
    batch = checker.check_many([(2, ["A-1", "12 Mill St", "Cu", "billing list"])])
    assert batch.problems == []
    assert batch.columns["system_basis"] == ["NOT_STATED"]
    assert batch.columns["system_source"] == ["billing list"]
    assert "billing list" in batch.notes[0].sentence
