"""Guessing, correcting and saving column maps; headings are common practice, no source."""

import pytest
from hypothesis import strategies as st

from services_inventory.domain.columns import plain
from services_inventory.intake.columns import FIELDS, BadColumnMap, ColumnMap, guess
from tests.services_inventory.intake import files


def _mapped(header, rows=()):
    return dict(guess(header, rows).to_dict()["columns"])


def test_clear_headings_need_no_help():
    found = guess(files.HEADER, files.ROWS)
    assert dict(found.to_dict()["columns"]) == {
        "location_id": "location id",
        "address": "address",
        "latitude": "latitude",
        "longitude": "longitude",
        "system_material": "system side material",
        "customer_material": "customer side material",
        "year_installed": "year installed",
        "source": "source",
    }
    assert found.unmapped == ()
    assert all(column.confidence == 1.0 for column in found.columns)


@pytest.mark.parametrize("days", [["2024-06-01"] * 5, ["6/1/2024", "12/30/1998", "1/2/24"]])
def test_days_under_a_heading_of_words_are_no_words(days):
    found = guess(["Acct", "SRC_DT"], [(f"P{n}", day) for n, day in enumerate(days)])
    assert "source" not in found.to_dict()["columns"]
    assert dict(found.unmapped) == {"SRC_DT": "It holds days; say what was done on them."}
    words = [(f"P{n}", "tap card") for n in range(5)]
    assert guess(["Acct", "SRC_DT"], words).to_dict()["columns"]["source"] == "SRC_DT"


def test_materials_under_a_heading_that_names_a_side_are_of_that_side_now():
    found = ("Lead", "Copper", "galvanized", "Lead")
    header = ["Utility side found", "Customer side found", "Customer side replaced"]
    mapped = guess(header, [(one, one, one) for one in found])
    assert dict(mapped.to_dict()["columns"]) == {
        "system_material": header[0], "customer_material": header[1],
    }  # fmt: skip
    assert [heading for heading, _ in mapped.unmapped] == [header[2]]


def test_headings_of_utilities():
    header = [
        "Svc_No",
        "PARCEL ADDR",
        "UTIL_SIDE_MATL",
        "CUST_SIDE_MATL",
        "Install Yr",
        "LAT",
        "LON",
    ]
    assert _mapped([*header, "Gooseneck"]) == {
        "location_id": "Svc_No",
        "address": "PARCEL ADDR",
        "system_material": "UTIL_SIDE_MATL",
        "customer_material": "CUST_SIDE_MATL",
        "year_installed": "Install Yr",
        "latitude": "LAT",
        "longitude": "LON",
        "connector_material": "Gooseneck",
    }
    assert _mapped(["Acct No", "StreetAddr", "Pub Side", "Priv Side", "X", "Y"]) == {
        "location_id": "Acct No",
        "address": "StreetAddr",
        "system_material": "Pub Side",
        "customer_material": "Priv Side",
        "longitude": "X",
        "latitude": "Y",
    }


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("SystemSideMatl", "system_material"),
        ("PUBLIC SIDE MATERIAL", "system_material"),
        ("Utility-side material", "system_material"),
        ("private_side_matl", "customer_material"),
        ("Customer Side Matrial", "customer_material"),
        ("CustSideDia", "customer_diameter_in"),
        ("Sys Install Date", "system_installed"),
        ("Date Installed", "year_installed"),
        ("Year Blt", None),
        ("Yr Built", "building_year"),
        ("Zip", "postcode"),
        ("Pigtail", "connector_material"),
        ("Verification Method", "source"),
        ("Neighborhood", "neighborhood"),
        ("City", "city"),
        ("Owner", None),
        ("Main Size", None),
        ("Material", None),
        ("Customer Name", None),
    ],
)
def test_one_heading(heading, field):
    assert _mapped(["location id", heading]) == {
        "location_id": "location id",
        **({field: heading} if field else {}),
    }


def test_the_sides_are_never_mixed_up():
    """Close spelling must not carry a customer column to the system side or the other way."""
    for heading in ("customer side materials", "custmer side material", "system sde material"):
        field = next(iter(_mapped([heading])), None)
        side = "system" if "system" in heading else "customer"
        assert field is None or field.startswith(side), (heading, field)


def test_each_column_and_each_field_at_most_once():
    found = guess(["LAT", "Latitude", "address", "Service Address", "id", "location id"])
    fields = [column.field for column in found.columns]
    headings = [column.heading for column in found.columns]
    assert len(set(fields)) == len(fields)
    assert len(set(headings)) == len(headings)
    assert dict(found.to_dict()["columns"])["location_id"] == "location id"
    assert len(headings) + len(found.unmapped) == 6


def test_places_are_told_by_their_values():
    rows = [["a", "12 Main St", 41.9 + n / 1000, -91.6 - n / 1000] for n in range(5)]
    found = guess(["ref", "where", "p1", "p2"], rows)
    assert dict(found.to_dict()["columns"]) == {
        "address": "where",
        "latitude": "p1",
        "longitude": "p2",
    }
    assert {column.confidence for column in found.columns} == {0.6}


def test_materials_under_a_heading_without_side_are_left_to_a_person():
    rows = [["L-1", "Cu"], ["L-2", "LEAD"], ["L-3", "GALV"]]
    found = guess(["location id", "Pipe"], rows)
    assert dict(found.to_dict()["columns"]) == {"location_id": "location id"}
    assert "system side or the customer side" in dict(found.unmapped)["Pipe"]


def test_a_heading_is_not_believed_against_its_values():
    rows = [["L-1", "north"], ["L-2", "south"]]
    assert "latitude" not in _mapped(["location id", "Y"], rows)


def test_columns_that_the_program_appended_are_passed_over():
    assert guess([*files.HEADER, "row", "reason"]).unmapped == ()


def test_the_order_of_dates_is_told_by_days_above_twelve():
    assert guess(["id", "seen on"], [["1", "31/05/2024"], ["2", "01/06/2024"]]).date_order == "DMY"
    assert guess(["id", "seen on"], [["1", "05/31/2024"], ["2", "01/06/2024"]]).date_order == "MDY"
    assert guess(["id", "seen on"], [["1", "05/06/2024"]]).date_order == "MDY"


HEADINGS = st.text(min_size=1, max_size=20).filter(str.strip)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("columns = 5", "no \\[columns\\]"),
        ("[columns]\n", "no \\[columns\\]"),
        ('[columns]\nadress = "a"', "no field 'adress'"),
        ('[columns]\naddress = "a"\ncity = "A"', "'a' is mapped twice"),
        ("[columns]\naddress = 5", "write its heading"),
        ('[columns]\naddress = ""', "write its heading"),
        ('date_order = "YMD"\n[columns]\naddress = "a"', "MDY or DMY"),
        ('delimiter = ","\n[columns]\naddress = "a"', "'delimiter', which means nothing"),
        ("[columns\n", "no TOML"),
    ],
)
def test_a_map_that_does_not_fit_is_refused_with_a_sentence(text, words):
    with pytest.raises(BadColumnMap, match=words):
        ColumnMap.from_toml(text)


def test_a_mapped_column_that_the_file_lacks_is_named():
    kept = ColumnMap.from_dict({"columns": {"address": "Svc Addr", "city": "Town"}})
    assert kept.positions(["id", "SVC_ADDR", "Town"]) == {"address": 1, "city": 2}
    with pytest.raises(BadColumnMap, match="no column 'Town'.*'id', 'Svc Addr'"):
        kept.positions(["id", "Svc Addr"])


def test_no_usual_heading_stands_for_two_fields():
    seen: dict[str, str] = {}
    for field in FIELDS.values():
        for heading in (field.key, *field.headings):
            assert seen.setdefault(plain(heading), field.key) == field.key, heading
