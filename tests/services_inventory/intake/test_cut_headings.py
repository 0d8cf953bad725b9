"""Headings cut to ten characters; a Shapefile's table has room for no more. Invented headings.

ESRI Shapefile Technical Description (1998) leaves the table to dBASE, whose field names have ten
characters and a closing zero; pyogrio, which writes such files here, cuts them itself.
"""

from pathlib import Path

import geopandas
import pytest
from shapely.geometry import Point

from services_inventory.intake.columns import guess
from services_inventory.intake.columns.cut_headings import fields_of_cut
from services_inventory.intake.columns.guessing import CUT


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("SYS_MATERI", "system_material"),
        ("CUST_MATER", "customer_material"),
        ("OWNER_MATE", "customer_material"),
        ("Public_Mat", "system_material"),
        ("CUST_SIDE_", None),
        ("INSTALL_DA", "year_installed"),
        ("NEIGHBORHO", "neighborhood"),
        ("NEIGHBOURH", "neighborhood"),
        ("GPS_LATITU", "latitude"),
        ("SERVICE_AD", "address"),
        ("LOCATIONID", "location_id"),
        ("Y_COORDINA", "latitude"),
        ("TREATMENT_", None),
        # What fits two fields, or has lost whole words, is asked.
        ("SYSTEM_SID", None),
        ("SYSTEM_INS", None),
        ("VERIFICATI", None),
        ("PRIVATE_SI", None),
        ("SERVICE_LI", None),
        ("CUSTOMER_M", None),
        ("CUSTOMER_1", None),
        ("CONNECTOR_", None),
        ("SYSTEM_VER", None),
    ],
)
def test_a_cut_heading_is_guessed_where_one_field_fits(heading, field):
    assert guess([heading]).to_dict()["columns"] == ({field: heading} if field else {})


def test_the_reason_is_stated_and_the_guess_is_less_sure_than_a_whole_heading():
    (column,) = guess(["SYS_MATERI"]).columns
    assert column.why == f"It is {CUT}."
    assert column.confidence < 0.9
    both = guess(["SYS_MATERI", "system material"])
    assert both.to_dict()["columns"]["system_material"] == "system material"


def test_two_cut_columns_for_one_field_are_both_asked():
    assert "year_installed" not in guess(["INSTALL_DA", "DATE_INSTA"]).to_dict()["columns"]


def test_values_without_a_figure_are_no_days():
    rows = [["by crew"], ["by plumber"], ["by crew"]]
    assert guess(["INSTALL_DA"], rows).to_dict()["columns"] == {}
    assert guess(["INSTALL_DA"], [["1951-03-01"]] * 3).to_dict()["columns"] == {
        "year_installed": "INSTALL_DA"
    }


def test_only_ten_characters_are_a_cut():
    assert fields_of_cut("SYS_MATER") == (frozenset(), frozenset())
    assert fields_of_cut("SYS_MATERIA") == (frozenset(), frozenset())


def test_sides_are_never_mixed_up():
    for heading in ("SYS_MATERI", "PUB_MATERI", "UTIL_MATER", "CITY_MATER"):
        assert fields_of_cut(heading)[0] <= {"system_material"}
    for heading in ("CUST_MATER", "PRIV_MATER", "PROP_MATER", "OWNER_MATE"):
        assert fields_of_cut(heading)[0] <= {"customer_material"}


def test_a_shapefile_written_by_a_library_is_guessed_as_it_was_cut(tmp_path: Path):
    whole = {
        "location_id": ["A-1", "A-2"],
        "service_address": ["1 Elm Row", "2 Elm Row"],
        "system_material": ["lead", "copper"],
        "customer_material": ["copper", "lead"],
        "installation_date": ["1921-04-02", "1922-05-03"],
        "neighborhood_name": ["Mill", "Mill"],
    }
    frame = geopandas.GeoDataFrame(
        whole, geometry=[Point(-71.1, 42.3), Point(-71.2, 42.4)], crs="EPSG:4326"
    )
    with pytest.warns(Warning, match="10 characters|laundered"):
        frame.to_file(tmp_path / "lines.shp", engine="pyogrio")
    header = list(geopandas.read_file(tmp_path / "lines.shp", engine="pyogrio").columns[:-1])
    assert max(map(len, header)) == 10
    assert guess(header).to_dict()["columns"] == {
        "address": "service_ad",
        "system_material": "system_mat",
        "year_installed": "installati",
        "neighborhood": "neighborho",
    }
    assert [heading for heading, _ in guess(header).unmapped] == ["location_i", "customer_m"]
