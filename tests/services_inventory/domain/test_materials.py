"""What people write for a material, a connector or a basis."""

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from services_inventory.domain.evidence import Basis, bases
from services_inventory.domain.evidence.bases import read_basis
from services_inventory.domain.materials import (
    Connector,
    Material,
    read_connector,
    read_material,
)
from services_inventory.domain.words import FOLDER

# Common practice, no source.
WORDS = {
    "LEAD": ["Pb", "LEAD", "Lead ", "lead pipe", "Lead Service Line", '5/8" lead', "LSL"],
    "LEAD_LINED_GALVANIZED": ["lead-lined galvanized", "Lead Lined Galv"],
    "GALVANIZED": ["GALV", "galvanised iron", "Galvanized Steel", 'Galv. 1-1/2"', "steel"],
    "COPPER": ["Cu", "Cu type K", "copper", "COPPER (TYPE L)", "3/4 in. copper", "3/4 copper"],
    "PLASTIC": ["PE", "HDPE", "poly", "PVC", "PEX", "plastic", "1 in HDPE SDR 9", "polybutylene"],
    "IRON": ["CI", "DI", "cast iron", "Ductile Iron", '6" DI'],
    "BRASS": ["brass"],
    "NON_LEAD": ["non-lead", "Non Lead", "not lead", "NL"],
    "UNKNOWN": ["unk", "unknown", "?", "UNKNOWN MATERIAL", "Unknown - Likely Lead"],
    "NONE": ["no pipe", "Not present"],
}
LEFT_TO_A_PERSON = [
    *["", "   ", None, "N/A", "none", "GRR", "iron", "black iron", "PB", "pb", "L", "C", "other"],
    *["lead?", "copper ?", "copper/lead", "likely lead", "lead gooseneck", "3/4", "xyz"],
    *["copper with lead solder", "assumed copper", "replaced 1998", "lead copper"],
]


@pytest.mark.parametrize(("code", "text"), [(c, t) for c, ts in WORDS.items() for t in ts])
def test_known_words(code, text):
    assert read_material(text).code == Material(code)


@pytest.mark.parametrize("text", LEFT_TO_A_PERSON)
def test_doubtful_words_are_left_to_a_person_with_a_reason(text):
    found = read_material(text)
    assert found.code is None and found.reason.endswith(".")


def test_reason_for_grr_says_that_it_is_a_category():
    assert "category" in read_material("GRR").reason


@given(st.text(max_size=30))
def test_any_text_is_read_or_left(text):
    reading = read_material(text)
    assert (reading.code is None) == bool(reading.reason)
    assert reading.code is None or Material(reading.code)


@given(st.sampled_from(Material))
def test_every_material_is_of_one_kind(material):
    kinds = [material.is_lead, material.is_galvanized, material.is_non_lead]
    outside = material in (Material.UNKNOWN, Material.NONE)
    assert sum(kinds) == (0 if outside else 1)
    assert material.label


def test_connector_words():
    assert read_connector("none").code == Connector.NONE
    assert read_connector("Lead Gooseneck").code == Connector.LEAD
    assert read_connector("copper").code == Connector.NON_LEAD
    assert read_connector("unk").code == Connector.UNKNOWN
    assert read_connector("yes").code is None
    assert read_connector("").code is None


def test_basis_words():
    assert read_basis("Tap card").code == Basis.RECORD_TAP_CARD
    assert read_basis("field verified").code == Basis.VISUAL_INSPECTION
    assert read_basis("Customer survey").code == Basis.CUSTOMER_REPORT
    assert read_basis("potholing").code == Basis.EXCAVATION
    assert read_basis("assumed").code is None
    assert read_basis("verified").code is None


@pytest.mark.parametrize(
    ("file_name", "codes"),
    [
        ("material_words.csv", Material),
        ("connector_words.csv", Connector),
        ("basis_words.csv", Basis),
    ],
)
def test_word_tables_hold_known_codes_a_source_and_no_word_twice(file_name, codes):
    with (FOLDER / file_name).open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    words = [row["words"] for row in rows]
    assert len(set(words)) == len(words)
    for row in rows:
        assert row["source"]
        assert bool(row["code"]) != bool(row["why_a_person_decides"])
        assert not row["code"] or codes(row["code"])


def test_every_basis_has_traits():
    assert set(bases()) == set(Basis)
    assert not Basis.PREDICTIVE_MODEL.traits.alone_shows_non_lead
    assert Basis.AFFIDAVIT.traits.needs_approval
    assert Basis.EXCAVATION.traits.strength > Basis.RECORD_TAP_CARD.traits.strength
