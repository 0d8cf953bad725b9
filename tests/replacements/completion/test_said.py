"""Choices of a record: shown in words, taken by code, by the words shown and by older words."""

from io import BytesIO

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from replacements.completion.columns import columns
from replacements.domain.completion import disinfection_choices, disinfection_words
from replacements.domain.methods import Method
from replacements.forms.completions import CompletionForm
from replacements.forms.fields import code_said
from replacements.models import CompletionRecord
from replacements.packages.record_form import form_of_orders
from tests.replacements.api.test_api import DONE, bearer, post
from tests.replacements.completion.drops import GOOD, files_of, filled, taken
from tests.replacements.factories import (
    LATER,
    contractor,
    good_quality,
    handed_in,
    order,
    started,
    user,
)

LONG_HOLD = disinfection_words("PLUMBING_24H")
WAYS_OF_SAYING = (
    "PLUMBING_24H", "plumbing_24h", "plumbing 24h", "Plumbing 24H",
    LONG_HOLD, LONG_HOLD.upper(), LONG_HOLD.split(" (")[0],
)  # fmt: skip
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day(settings):
    settings.NOW = "tests.replacements.completion.test_said.moment"
    settings.TODAY = ""


def moment():
    """Return the moment everything is sent at."""
    return LATER


def test_every_way_of_disinfecting_is_known_by_code_old_and_new_words():
    for code, words in disinfection_choices():
        for said in (code, code.replace("_", " ").lower(), words, words.title()):
            assert code_said(said, disinfection_choices()) == code
    assert code_said("bleach", disinfection_choices()) is None
    assert code_said("", [("", "none on record")]) is None


def test_words_that_fit_two_choices_without_their_brackets_name_none():
    pairs = [("A", "long hold (50 mg/L)"), ("B", "long hold (20 mg/L)")]
    assert code_said("long hold", pairs) is None
    assert code_said("Long Hold (20 mg/l)", pairs) == "B"


@pytest.mark.parametrize("said", WAYS_OF_SAYING)
def test_the_pages_own_form_takes_code_and_words(said):
    data = {
        "outcome": "replaced", "finished_on": "2028-04-10", "method_used": "slit in place, "
        "new pipe follows", "disinfection": said, "idempotency_key": "k",
    }  # fmt: skip
    form = CompletionForm(data, order=order(contractor()))
    assert form.is_valid(), form.errors
    assert form.said()["method_used"] == "SPLIT"
    assert form.quality()["disinfection"]["method"] == "PLUMBING_24H"


def test_what_is_no_choice_is_refused_on_the_page():
    form = CompletionForm({"disinfection": "bleach"}, order=order(contractor()))
    assert "bleach" in form.errors["disinfection"][0]


def test_a_drop_takes_code_old_words_and_new_words():
    company = contractor()
    said = dict(zip([started(order(company)) for _ in WAYS_OF_SAYING], WAYS_OF_SAYING, strict=True))
    files = {
        "form.xlsx": filled(said, rows={o.number: {"disinfection": w} for o, w in said.items()})
    }
    for job in said:
        files |= files_of(job)
    batch = taken(company, files)
    assert {row["verdict"] for row in batch.result["rows"]} == {"TAKEN"}, batch.result
    kept = CompletionRecord.objects.values_list("quality__disinfection__method", flat=True)
    assert list(kept) == ["PLUMBING_24H"] * len(said)


def test_the_blank_forms_lists_show_words():
    book = load_workbook(BytesIO(form_of_orders([order(contractor())], "Spring")))
    place = [column.name for column in columns()].index("disinfection") + 1
    shown = [book["Lists"].cell(row, place).value for row in range(2, 9)]
    assert LONG_HOLD in shown and not any("_" in (words or "") for words in shown)
    place = [column.name for column in columns()].index("method_used") + 1
    assert book["Lists"].cell(2, place).value == Method.PULL_OUT.label


@pytest.mark.parametrize("said", ("PLUMBING_24H", "plumbing 24h", LONG_HOLD.upper()))
def test_the_interface_takes_code_and_words(client, said):
    company = contractor()
    job = started(order(company))
    quality = good_quality() | {"disinfection": {"method": said, "dose_mg_l": 50, "hours": 24}}
    sent = DONE | {"method_used": Method.SPLIT.label.lower(), "quality": quality}
    answer = post(client, f"work-orders/{job.pk}/completions/", sent, bearer(company))
    assert answer.status_code == 201, answer.content
    record = CompletionRecord.objects.get()
    assert record.quality["disinfection"]["method"] == "PLUMBING_24H"
    assert record.method_used == "SPLIT"


@pytest.mark.parametrize("said", ("PLUMBING_24H", "plumbing 24h", LONG_HOLD))
def test_the_phone_takes_code_and_words(client, said):
    company = contractor()
    job = started(order(company))
    client.force_login(user("crew", "Contractor", company))
    fields = {"method_used": "SPLIT", **GOOD, "disinfection": said}
    fields = {name: "on" if value == "yes" else str(value) for name, value in fields.items()}
    answer = client.post(
        reverse("phone_record", args=[job.pk]),
        {"fields": fields, "despite": True},
        "application/json",
    )
    assert answer.status_code == 201, answer.content
    assert CompletionRecord.objects.get().quality["disinfection"]["method"] == "PLUMBING_24H"


def test_the_reviewer_reads_words_and_no_code(client):
    record = handed_in(started(order(contractor())))
    client.force_login(user("staff", "Compliance staff"))
    page = client.get(reverse("review", args=[record.pk])).content.decode()
    assert LONG_HOLD in page
    assert "PLUMBING_24H" not in page
