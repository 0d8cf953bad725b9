"""Words of a utility's own: asked for, answered once, used for the next file, taken back.

Constructed, after what billing, tap-card and GIS files of utilities write: L, FLD, R1, 34.
"""

import csv
from datetime import timedelta

import pytest
from django.contrib.auth.models import Group
from django.urls import reverse

from services_inventory.intake.checking.words import READERS
from services_inventory.intake.columns import ValueKind
from services_inventory.models import Batch, Evidence, OwnWord, ServiceLine
from services_inventory.operations.own_words import word_withdraw, words_answer
from services_inventory.operations.restate import standings_compare
from services_inventory.queries.own_words import (
    CHOICES,
    guessed,
    known_words,
    own_words_found,
    words_asked,
)
from services_inventory.queries.past import recount
from services_inventory.refused import Refused
from tests.services_inventory.operations.takes import APRIL, MILL, open_file, run

pytestmark = pytest.mark.django_db
LATER = APRIL + timedelta(days=30)
HEADER = ("location id", "address", "system side material", "customer side material", "source",
          "year installed", "kind of premise")  # fmt: skip
ROWS = [
    (f"L{n}", f"{n} Mill St", "QX" if n < 4 else "copper", "copper", "QFLD", "34", "R1")
    for n in range(1, 7)
]


def checked(folder, rows=ROWS, name="list.csv", at=APRIL) -> Batch:
    batch = open_file(folder, rows, header=HEADER, name=name, at=at)
    run(batch, "CHECK")
    return batch


def answered(batch, at=APRIL, **codes) -> Batch:
    """Answer words by what stands there; `YEARS` for years of two digits."""
    asked = {one["word"]: one["place"] for one in words_asked(batch)}
    answers = {asked[word.replace("YEARS", "years of two digits")]: c for word, c in codes.items()}
    batch = words_answer(batch=batch, answers=answers, reason="the meter shop", by="pat", at=at)
    run(batch, "CHECK")
    return batch


def test_a_check_asks_for_each_word_once_with_its_rows_and_examples(tmp_path):
    batch = checked(tmp_path)
    asked = {one["word"]: one for one in words_asked(batch)}
    assert {word: (one["heading"], one["rows"], one["held"]) for word, one in asked.items()} == {
        "QX": ("system side material", 3, True),
        "QFLD": ("source", 6, False),
        "years of two digits": ("year installed", 6, True),
        "R1": ("kind of premise", 6, False),
    }
    assert [row for row, _ in asked["QX"]["examples"]] == [2, 3, 4]
    assert "1 Mill St" in asked["QX"]["examples"][0][1]
    assert asked["years of two digits"]["guess"] is None, "a person says which century"
    assert batch.counts["held"] == 6


def test_one_answer_settles_all_its_rows_and_the_next_file(tmp_path):
    batch = answered(checked(tmp_path), QX="LEAD", YEARS="30")
    assert batch.counts["held"] == 0
    assert batch.parameters["before"]["held"] == 6
    assert {one["word"] for one in words_asked(batch)} == {"QFLD", "R1"}
    run(batch)
    assert ServiceLine.objects.filter(category="LEAD").count() == 3
    assert set(Evidence.objects.values_list("installed_year", flat=True)) == {1934}
    more = [("M1", "90 Oak St", "qx", "copper", "tap card", "07", "R1")]
    second = checked(tmp_path, more, "second.csv", LATER)
    assert second.counts == {"new": 1, "changed": 0, "unchanged": 0, "held": 0, "total": 1}
    run(second)
    year = Evidence.objects.filter(line__location_id="M1").values_list("installed_year", flat=True)
    assert set(year) == {2007}


def test_an_answer_holds_for_its_column_only(tmp_path):
    answered(checked(tmp_path), QX="LEAD", YEARS="30")
    other = [("N1", "3 Oak St", "copper", "QX", "tap card", "1934", "")]
    assert checked(tmp_path, other, "other.csv").counts["held"] == 1


def test_an_answer_after_the_file_was_taken_in_has_the_whole_file_checked_again(tmp_path):
    batch = checked(tmp_path, [(*row[:5], "1934", "") for row in ROWS])
    run(batch)
    assert ServiceLine.objects.count() == 3  # three rows wait for QX
    again = answered(batch, LATER, QX="LEAD", QFLD="EXCAVATION")
    assert again.pk != batch.pk and again.file_name == "list.csv"
    assert again.counts["held"] == 0 and again.counts["new"] == 3
    run(again)
    assert ServiceLine.objects.filter(category="LEAD").count() == 3


def test_what_rested_on_a_word_goes_with_it_and_past_days_follow(tmp_path):
    run(checked(tmp_path, [(*row[:2], "copper", "copper", "tap card", "1934", "") for row in ROWS]))
    told = checked(tmp_path, [(*row[:5], "1934", "") for row in ROWS[:3]], "second.csv", LATER)
    run(answered(told, LATER, QX="LEAD"))
    assert ServiceLine.objects.filter(category="LEAD").count() == 3
    word = OwnWord.objects.get(word="QX")
    end = LATER + timedelta(days=5)
    done = word_withdraw(word=word, reason="QX is copper", by="sam", at=end)
    assert done == {"files": 1, "taken_back": 3}
    assert ServiceLine.objects.filter(category="LEAD").count() == 0
    backs = Evidence.objects.exclude(withdraws=None)
    assert {(row.portion, row.recorded_by) for row in backs} == {("SYSTEM", "sam")}
    for day in (APRIL.date(), LATER.date(), end.date()):
        assert recount(day)["differences"] == 0
    assert standings_compare(recorded_at=end)["differences"] == 0
    with pytest.raises(Refused, match="before"):
        word_withdraw(word=word, reason="twice", by="sam", at=end)
    # It can be answered anew, by what it really means.
    third = checked(tmp_path, [(*row[:5], "1934", "") for row in ROWS[:3]], "third.csv", end)
    assert third.counts["held"] == 3
    assert answered(third, end, QX="COPPER").counts["held"] == 0


def test_what_is_read_as_before_after_a_word_was_taken_back_is_recorded_again(tmp_path):
    rows = [(*row[:5], "34", "") for row in ROWS[3:]]
    run(answered(checked(tmp_path, rows), YEARS="30"))
    assert set(Evidence.objects.values_list("installed_year", flat=True)) == {1934}
    end = LATER + timedelta(days=5)
    word = OwnWord.objects.get(word="years of two digits")
    word_withdraw(word=word, reason="some are of the 1920s", by="sam", at=LATER)
    again = answered(checked(tmp_path, rows, "again.csv", end), end, YEARS="00")
    assert again.counts == {"new": 0, "changed": 3, "unchanged": 0, "held": 0, "total": 3}
    run(again)
    standing = Evidence.objects.filter(withdraws=None, withdrawn_by=None)
    assert standing.filter(installed_year=1934, material="COPPER").count() == 6
    assert standings_compare(recorded_at=end)["differences"] == 0


def test_the_same_answer_given_again_brings_back_what_went_with_it(tmp_path):
    rows = [(*row[:5], "1934", "") for row in ROWS[:3]]
    run(answered(checked(tmp_path, rows), QX="LEAD"))
    word_withdraw(word=OwnWord.objects.get(word="QX"), reason="not sure", by="sam", at=LATER)
    assert ServiceLine.objects.filter(category="LEAD").count() == 0
    run(answered(checked(tmp_path, rows, at=LATER), LATER, QX="LEAD"))
    assert ServiceLine.objects.filter(category="LEAD").count() == 3


def test_a_file_that_waits_is_checked_again_when_a_word_of_it_is_taken_back(tmp_path):
    waits = answered(checked(tmp_path), QX="LEAD", YEARS="30")
    assert waits.counts["new"] == 6
    word_withdraw(word=OwnWord.objects.get(word="QX"), reason="a slip", by="pat", at=APRIL)
    waits.refresh_from_db()
    assert waits.state == Batch.State.QUEUED
    assert run(waits, "CHECK")["held"] == 3


def test_what_a_word_stands_for_in_another_column_is_the_first_guess(tmp_path):
    answered(checked(tmp_path), QX="GALVANIZED")
    other = [("N1", "3 Oak St", "copper", "QX", "tap card", "1934", "")]
    (asked,) = words_asked(checked(tmp_path, other, "other.csv"))
    assert asked["guess"] == ("GALVANIZED", "galvanized")


@pytest.mark.parametrize("answers", [{}, {99: "LEAD"}, {0: "GOLD"}])
def test_no_answer_a_word_that_was_not_asked_and_a_choice_there_is_not_are_refused(
    tmp_path, answers
):
    batch = checked(tmp_path)
    with pytest.raises(Refused):
        words_answer(batch=batch, answers=answers, reason="", by="pat", at=APRIL)
    assert not OwnWord.objects.exists()


def test_a_guess_is_a_choice_of_its_kind_or_nothing():
    assert guessed("MATERIAL", "L") == ("LEAD", "lead")
    assert guessed("MATERIAL", "galvinized")[0] == "GALVANIZED"
    assert guessed("BASIS", "TAP")[0] == "RECORD_TAP_CARD"
    assert guessed("MATERIAL", "zzzz") is None
    assert guessed("MATERIAL", "LD")[0] == "LEAD", "lead, before it is the beginning of LDPE"
    assert guessed("PREMISE_KIND", "SFD")[0] == "SINGLE_FAMILY"
    for kind, choices in CHOICES.items():
        for word in ("L", "x", "TAP", "none"):
            assert guessed(kind, word) is None or guessed(kind, word) in choices


def test_the_pages_ask_keep_find_export_and_take_back(client, django_user_model, tmp_path):
    from program.roles import PROGRAM_MANAGER, sync_roles

    sync_roles()
    user = django_user_model.objects.create_user("pat")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client.force_login(user)
    batch = checked(tmp_path)
    assert "Say what" in client.get(reverse("batch", args=[batch.pk])).content.decode()
    page = reverse("words_asked", args=[batch.pk])
    asked = {one["word"]: one["place"] for one in words_asked(batch)}
    assert "not in the" in client.get(page).content.decode()
    assert client.post(page, {}).status_code == 302 and not OwnWord.objects.exists()
    client.post(page, {f"word-{asked['QX']}": "LEAD", "reason": "card index"})
    (word,) = own_words_found("qx")
    assert (word.means, word.said_by, word.reason) == ("lead", "pat", "card index")
    assert "card index" in client.get(reverse("word_list"), {"q": "QX"}).content.decode()
    text = b"".join(client.get(reverse("word_list_csv")).streaming_content).decode()
    rows = list(csv.DictReader(text.splitlines()))
    assert rows[0]["Word"] == "QX" and rows[0]["Stands for"] == "lead"
    assert len(rows) == 1 + len(known_words())
    proposed = client.get(page, {"proposed": ""}).content.decode()
    assert proposed.count(" selected") == sum(bool(one["guess"]) for one in words_asked(batch)) == 1
    run(batch, "CHECK")
    run(batch)
    assert (
        "QX in system side material"
        in client.get(reverse("batch", args=[batch.pk])).content.decode()
    )
    client.post(reverse("word_withdraw", args=[word.pk]), {"reason": "it is copper"})
    assert "Check the file again" in client.get(reverse("batch", args=[batch.pk])).content.decode()
    client.post(reverse("batch_check", args=[batch.pk]))
    again = Batch.objects.latest("pk")
    assert again.pk != batch.pk and again.state == Batch.State.QUEUED
    word.refresh_from_db()
    assert word.withdrawn_reason == "it is copper"
    assert MILL[0] not in text


def test_a_check_counts_held_rows_by_reason_and_says_what_the_file_lacks(tmp_path):
    rows = [(f"L{n}", f"{n} Mill St", "QX" if n % 2 else "QY", "copper") for n in range(1, 8)]
    batch = open_file(tmp_path, rows, header=HEADER[:4])
    run(batch, "CHECK")
    assert [(one["rows"], one["first"]) for one in batch.result["held_by"]] == [
        (7, [2, 3, 4, 5, 6])
    ]
    assert "QX" in batch.result["held_by"][0]["why"]
    assert any("can become non-lead" in note for note in batch.result["notes"])
    told = open_file(tmp_path, rows, header=HEADER[:4], source="tap cards")
    run(told, "CHECK")
    assert not any("can become non-lead" in note for note in told.result["notes"])
    places = open_file(tmp_path, [row[:2] for row in rows], header=HEADER[:2], name="p.csv")
    run(places, "CHECK")
    assert any("places only" in note for note in places.result["notes"])


def test_columns_that_a_person_left_out_are_said_too(tmp_path):
    header = (*HEADER[:4], "SYS CODE", "remarks of ours")
    columns = {"columns": dict(zip(["location_id", "address"], HEADER, strict=False)),
               "date_order": "MDY", "crs": ""}  # fmt: skip
    batch = open_file(tmp_path, [("L1", "1 Mill St", "lead", "lead", "L", "x")], header=header,
                      columns=columns)  # fmt: skip
    run(batch, "CHECK")
    assert batch.result["not_taken_in"] == list(header[2:])


def test_the_words_that_a_page_offers_are_known_words():
    for kind in ("MATERIAL", "CONNECTOR", "BASIS", "LINE_USE", "PREMISE_KIND", "TREATMENT"):
        read = READERS[ValueKind(kind)]
        told = {label: read(label).code for _, label in CHOICES[kind]}
        assert told == {label: code for code, label in CHOICES[kind]}
