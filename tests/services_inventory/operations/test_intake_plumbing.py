"""Plumbing inside from a file: taken in, corrected by a later file, put back with it."""

from datetime import timedelta

import pytest

from services_inventory.intake.columns.guessing import guess
from services_inventory.models import Batch, Premise, PremiseChange
from services_inventory.operations.undo import intake_undo
from services_inventory.queries.downloads import COLUMNS

from .takes import APRIL, HEADER, MILL, OAK, counted, take_in

pytestmark = pytest.mark.django_db
INSIDE = (*HEADER, "plumbing inside", "plumbing year", "treatment device")


def known(location_id="L1"):
    premise = Premise.objects.get(lines__location_id=location_id)
    return premise.plumbing, premise.plumbing_year, premise.treatment


def test_new_lines_have_what_the_file_says_and_empty_cells_say_nothing(tmp_path):
    rows = [(*MILL, "copper with lead solder", "1962", "none"), (*OAK, "", "", "")]
    assert take_in(tmp_path, rows, header=INSIDE) == counted(new=2)
    assert known() == ("COPPER_LEAD_SOLDER", 1962, "NONE")
    assert known("L2") == ("", None, "")
    assert take_in(tmp_path, rows, header=INSIDE, name="again.csv") == counted(unchanged=2)


def test_a_later_file_corrects_it_keeps_what_stood_and_is_put_back_with_its_batch(tmp_path):
    take_in(tmp_path, [(*MILL, "galvanized", "1921", "")], header=INSIDE)
    later = [(*MILL, "lead", "1920", "point of use")]
    at = APRIL + timedelta(days=1)
    assert take_in(tmp_path, later, header=INSIDE, name="b.csv", at=at) == counted(changed=1)
    assert known() == ("LEAD", 1920, "POINT_OF_USE")
    change = PremiseChange.objects.get()
    assert change.before == {"plumbing": "GALVANIZED", "plumbing_year": 1921, "treatment": ""}
    intake_undo(batch=Batch.objects.order_by("id")[1], by="clerk", at=at)
    assert known() == ("GALVANIZED", 1921, "")


def test_a_file_without_these_columns_leaves_them_alone(tmp_path):
    take_in(tmp_path, [(*MILL, "lead", "1920", "")], header=INSIDE)
    assert take_in(tmp_path, [MILL], name="b.csv") == counted(unchanged=1)
    assert known() == ("LEAD", 1920, "")


def test_words_nobody_can_read_are_told_and_the_line_is_taken_in(tmp_path):
    rows = [(*MILL, "solder", "1962", "yes")]
    assert take_in(tmp_path, rows, header=INSIDE) == counted(new=1)
    assert known() == ("", 1962, "")


@pytest.mark.parametrize("year", ["19", "20255", "2029"])
def test_a_year_that_cannot_be_holds_the_row(tmp_path, year):
    assert take_in(tmp_path, [(*MILL, "lead", year, "")], header=INSIDE) == counted(held=1)


def test_the_list_that_is_downloaded_names_the_columns_as_the_intake_reads_them():
    headings = [heading for heading, *_ in COLUMNS]
    found = {column.field: column.heading for column in guess(headings, []).columns}
    assert (found["plumbing"], found["plumbing_year"], found["treatment"]) == INSIDE[-3:]
