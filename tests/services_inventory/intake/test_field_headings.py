"""A State's form with its answers: what each becomes. The values are invented."""

from datetime import date

import pytest

from services_inventory.domain.materials import read_material
from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import ColumnMap, guess

DAY = date(2030, 6, 1)


def _checked(header, *rows, columns: ColumnMap | None = None):
    checker = RowChecker(columns or guess(header), header, as_of=DAY)
    return checker, checker.check_many(list(enumerate(map(list, rows), start=2)))


def test_a_form_in_the_field_s_own_words():
    header = [
        "Unique Service Line ID", "Street Address", "Main Side Material",
        "Was Main Side Ever Lead", "Premise Side Material", "Premise Side Size",
        "Is there a lead connector?", "Premise Side Verification Method",
        "Copper pipes with lead solder", "Point of Use Treatment", "Building Type", "Georeference",
    ]  # fmt: skip
    row = [
        "A-1", "12 Alder St", "Non-lead - Copper", "Yes", "Galvanized", "3/4”", "Don't Know",
        "Mechanical excavation at one location", "Yes", "No", "Multiple family residence",
        "(41.5001, -100.3002)",
    ]  # fmt: skip
    _, found = _checked(header, row)
    assert not found.problems and not found.notes
    said = {name: column[0] for name, column in found.columns.items()}
    assert said["system_material"] == "COPPER" and said["system_former_material"] == "LEAD"
    assert said["customer_material"] == "GALVANIZED" and said["customer_diameter_in"] == 0.75
    assert said["customer_basis"] == "EXCAVATION" and "system_basis" not in said
    assert said["connector_material"] == "UNKNOWN"
    assert said["plumbing"] == "COPPER_LEAD_SOLDER" and said["treatment"] == "NONE"
    assert said["kind"] if "kind" in said else said["premise_kind"] == "MULTI_FAMILY"
    assert (said["latitude"], said["longitude"]) == (41.5001, -100.3002)


def test_no_is_no_showing_that_there_never_was_lead():
    header = ["id", "system side material", "System side ever previously lead"]
    checker, found = _checked(header, ["1", "copper", "No"], ["2", "copper", "Unknown"])
    assert found.columns["system_former_material"] == ["", ""]
    assert checker.not_shown == {header[2]: 1}


@pytest.mark.parametrize(
    ("heading", "answers"),
    [
        ("Lead connector present", {"Yes": "LEAD", "No": "NON_LEAD", "unk": "UNKNOWN"}),
        ("Gooseneck present", {"Y": "UNKNOWN", "N": "NONE", "?": "UNKNOWN", "lead": "LEAD"}),
        ("Connector material", {"lead": "LEAD", "copper": "NON_LEAD"}),
    ],
)
def test_a_connector_by_what_is_asked(heading, answers):
    _, found = _checked(["id", heading], *([str(n), word] for n, word in enumerate(answers)))
    assert found.columns["connector_material"] == list(answers.values())


def test_a_field_verification_stands_before_the_record_where_there_is_one():
    header = ["id", "customer side material", "customer side basis"]
    header += ["customer side field verification method", "inspection date"]
    _, found = _checked(
        header,
        ["1", "copper", "tap card", "vacuum excavation at multiple locations", "2029-05-01"],
        ["2", "copper", "tap card", "", ""],
        ["3", "copper", "tap card", "unknown", ""],
    )
    assert found.columns["customer_basis"] == ["EXCAVATION", "RECORD_TAP_CARD", "RECORD_TAP_CARD"]
    assert found.columns["customer_source"][1:] == ["tap card", "tap card"]


def test_what_is_supposed_of_an_unknown_line_is_kept_and_the_more_protective_of_two():
    header = ["id", "system side material", "customer side material", "Lead status"]
    _, found = _checked(
        header,
        ["1", "Unknown, unlikely lead", "Unknown - could be lead", "Lead status unknown"],
        ["2", "copper", "unknown", "Unknown - Unlikely Lead"],
        ["3", "copper", "copper", "Non-lead"],
    )
    assert not found.problems
    assert found.columns["said_label"] == ["LIKELY_LEAD", "LIKELY_NON_LEAD", None]
    assert found.columns["system_material"][0] == "UNKNOWN"
    assert found.columns["category"] == ["UNKNOWN", "UNKNOWN", "NON_LEAD"]
    assert read_material("likely lead").code is None


@pytest.mark.parametrize(
    "cell",
    ["POINT (-100.3 41.5)", "41.5, -100.3", "41.5 -100.3", "(41.5; -100.3)",
     "LINESTRING (-100.3 41.4, -100.3 41.6)"],
)  # fmt: skip
def test_a_position_in_one_cell(cell):
    _, found = _checked(["id", "coordinates"], ["1", cell])
    assert found.columns["latitude"] == [pytest.approx(41.5)]
    assert found.columns["longitude"] == [pytest.approx(-100.3)]


def test_a_pair_written_the_other_way_round_is_held_with_a_sentence():
    _, found = _checked(["id", "coordinates"], ["1", "-100.3, 41.5"])
    assert "point" in found.problems[0].sentence
