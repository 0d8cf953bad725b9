"""Addresses in one spelling (USPS Publication 28); the cases are constructed unless named."""

import csv
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from services_inventory.domain.addresses import AddressKind, normalize, tables
from tests.examples import examples

EQUAL_PLACES = [
    ("12 N. Main Street Apt 3", "12 NORTH MAIN ST #3"),
    ("12 Main St, Unit 3", "12 Main St. # 3"),
    ("12 Main St Apt 000003", "12 main street suite 3"),
    ("0012 Main St", "12   Main   Str"),
    ("12½ Oak Ave", "12 1/2 Oak Avenue"),
    ("12-1/2 Oak Ave", "12 1/2 Oak Av"),
    ("11 - 13 Mill St", "11-13 Mill Street"),
    ("11 & 13 Mill St", "11-13 MILL ST"),
    ("1101-07 Arch St", "1101-1107 Arch St"),
    ("100 Avenue N", "100 Ave N"),
    ("100 Saint Charles St", "100 St. Charles Street"),
    ("100 Mount Vernon Rd", "100 Mt Vernon Rd"),
    ("5 First St", "5 1st Street"),
    ("5 Twenty-First Ave", "5 21st Ave"),
    ("5 03rd St", "5 3rd St"),
    ("12 A Main St", "12A Main St"),
    ("12-A Main St", "12a main st"),
    ("12 North-West Alder St", "12 NW Alder St"),
    ("12 N W Alder St", "12 Northwest Alder Street"),
    ("12 Alder St North West", "12 Alder St NW"),
    ("10 CR 5", "10 County Rd 5"),
    ("10 I-80", "10 Interstate 80"),
    ("8 Hwy 13", "8 Highway 13"),
    ("RR 2 Box 15", "Rural Route 2, Box 015"),
    ("Main St & 3rd Ave", "3rd Avenue and Main Street"),
    ("P.O. Box 12", "PO BOX 012"),
    ("12 O'Brien Ct.", "12 OBRIEN COURT"),
    ("12 Cañon Dr", "12 Canon Drive"),
    ("12 Oak Ave, Springfield, IA 52201", "12 Oak Ave"),
    ("12 Mill Crk Rd", "12 Mill Creek Road"),
    ("12 Oak Ave Bldg 2 Apt 3", "12 Oak Ave Building 2 # 3"),
    ("720 10th Ave SW B-2", "720 10th Ave SW Apt B2"),
]

DIFFERENT_PLACES = [
    ("12 Main St", "12 N Main St"),
    ("12 Main St", "12 Main Ave"),
    ("12 Main St", "12 1/2 Main St"),
    ("12 Main St", "12-14 Main St"),
    ("12 Main St", "12 Main St Apt 1"),
    ("12 Main St Apt 1", "12 Main St Apt 11"),
    ("12 Main St Lot 3", "12 Main St Apt 3"),
    ("12 Main St Fl 2", "12 Main St Apt 2"),
    ("12 Park Ln", "12 Parks Ln"),
    ("12 N St", "12 North St N"),
    ("12 5th St NE", "12 5th St SE"),
    ("12 Avenue A", "12 Avenue B"),
    ("10 Highway 13", "10 County Road 13"),
    ("RR 2 Box 15", "RR 2 Box 16"),
]


@pytest.mark.parametrize(("one", "other"), EQUAL_PLACES)
def test_equal_places_have_equal_keys(one, other):
    assert normalize(one).key == normalize(other).key


@pytest.mark.parametrize(("one", "other"), DIFFERENT_PLACES)
def test_different_places_have_different_keys(one, other):
    assert normalize(one).key != normalize(other).key


@pytest.mark.parametrize(
    ("text", "pre", "name", "suffix", "post", "unit"),
    [
        ("100 Avenue A", "", "AVENUE A", "", "", ""),
        ("5 Court St", "", "COURT", "ST", "", ""),
        ("6 North St", "", "NORTH", "ST", "", ""),
        ("12 N St NW", "", "N", "ST", "NW", ""),
        ("7 N 5th St NE", "N", "5TH", "ST", "NE", ""),
        ("8 Highway 13", "", "HIGHWAY 13", "", "", ""),
        ("222 E Hwy 30", "E", "HIGHWAY 30", "", "", ""),
        ("1592 Hwy 30 E", "", "HIGHWAY 30", "", "E", ""),
        ("9 County Home Rd", "", "COUNTY HOME", "RD", "", ""),
        ("100 W Broadway", "W", "BROADWAY", "", "", ""),
        ("12 S 300 E", "S", "300", "", "E", ""),
        ("2969 C Avenue Ext", "", "C AVENUE", "EXT", "", ""),
        ("12 Front St Rear", "", "FRONT", "ST", "", "REAR"),
        ("12 Upper River Rd", "", "UPPER RIVER", "RD", "", ""),
        ("12 Lot St Lot 12", "", "LOT", "ST", "", "LOT 12"),
        ("12 Oak Ave Apt B", "", "OAK", "AVE", "", "APT B"),
        ("12 Oak Ave W", "", "OAK", "AVE", "W", ""),
        ("12 Town & Country Rd", "", "TOWN & COUNTRY", "RD", "", ""),
    ],
)
def test_parts(text, pre, name, suffix, post, unit):
    found = normalize(text)
    parts = (found.pre_direction, found.street_name, found.street_type, found.post_direction)
    assert (*parts, found.unit) == (pre, name, suffix, post, unit)


@pytest.mark.parametrize(
    ("text", "kind", "number", "range_to", "fraction"),
    [
        ("12 Oak Ave", AddressKind.STREET, "12", "", ""),
        ("11-13 Mill St", AddressKind.RANGE, "11", "13", ""),
        ("12 1/2 Oak Ave", AddressKind.FRACTION, "12", "", "1/2"),
        ("112-10 Grand Blvd", AddressKind.STREET, "112-10", "", ""),
        ("N6W23001 Bluemound Rd", AddressKind.STREET, "N6W23001", "", ""),
        ("RR 2 Box 15", AddressKind.RURAL_ROUTE, "", "", ""),
        ("Main St & 3rd Ave", AddressKind.INTERSECTION, "", "", ""),
        ("PO Box 12", AddressKind.PO_BOX, "", "", ""),
        ("5 Main St & 3rd Ave", AddressKind.UNPARSED, "", "", ""),
        ("Main St", AddressKind.UNPARSED, "", "", ""),
        ("12", AddressKind.UNPARSED, "", "", ""),
        ("", AddressKind.UNPARSED, "", "", ""),
    ],
)
def test_kinds(text, kind, number, range_to, fraction):
    found = normalize(text)
    assert (found.kind, found.number, found.range_to, found.fraction) == (
        kind,
        number,
        range_to,
        fraction,
    )


def test_only_what_names_one_premise_is_a_place():
    places = ["12 Oak Ave", "11-13 Mill St", "12 1/2 Oak Ave", "RR 2 Box 15"]
    others = ["RR 2", "Main St & 3rd Ave", "PO Box 12", "Main St", "12", ""]
    assert all(normalize(text).is_place for text in places)
    assert not any(normalize(text).is_place for text in others)
    assert all(normalize(text).problems for text in others)


def test_a_unit_without_its_number_is_said():
    found = normalize("132 20th Ave SW Apt")
    assert found.unit == "APT"
    assert found.key == normalize("132 20th Ave SW").key
    assert found.problems == ("The unit has no number.",)


def test_the_place_after_a_comma_is_kept_apart():
    found = normalize("12 Oak Ave, Apt 3, Springfield, IA 52201")
    assert (found.unit, found.place) == ("APT 3", "SPRINGFIELD IA 52201")


LOOSE_WORDS = """1 2 12 1/2 11-13 5TH 0 000 4A A-2 B12 A B C MAIN MAPLE TO PO RR COR OF
    # , ( ) . ' ½""".split()
WORDS = st.sampled_from([*sorted(tables.vocabulary()), *LOOSE_WORDS])
ADDRESSES = st.one_of(
    st.text(max_size=40),
    st.lists(WORDS, max_size=8).map(" ".join),
    st.lists(WORDS, max_size=6).map(lambda words: "12 " + " ".join(words)),
    st.lists(WORDS, max_size=5).map("".join),
)


@examples(500, derandomize=True)
@given(ADDRESSES)
def test_the_standard_spelling_reads_as_the_same_place(text):
    found = normalize(text)
    if found.is_place:
        again = normalize(found.text)
        assert (again.key, again.kind) == (found.key, found.kind)


@examples(300, derandomize=True)
@given(ADDRESSES)
def test_letter_case_and_spacing_do_not_matter(text):
    if text.isascii():
        assert normalize("  " + text.lower().replace(" ", "  ")).key == normalize(text).key


@pytest.mark.parametrize(
    "name",
    [
        "street_suffixes.csv",
        "unit_designators.csv",
        "directionals.csv",
        "highway_names.csv",
        "ordinal_words.csv",
    ],
)
def test_every_row_of_a_table_names_its_source(name):
    with (files("services_inventory") / "reference" / name).open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert rows
    assert all(row["source"] and row["mark"] in ("seen", "memory", "derived") for row in rows)
    spellings = [row["spelling"] for row in rows]
    assert len(spellings) == len(set(spellings))
