"""A file's own category is compared with the evidence, by reason, and never taken."""

import csv
import io

import pytest
from django.urls import reverse

from services_inventory.models import MatchQuestion, OwnWord, SaidCategory, ServiceLine
from services_inventory.operations.batches import batch_run
from services_inventory.operations.matches import (
    decided_rows_take_in,
    match_decide,
    matches_take_back,
)
from services_inventory.operations.own_words import word_withdraw, words_answer
from services_inventory.operations.undo import undo_open
from services_inventory.queries.own_words import words_asked
from services_inventory.queries.said_categories import said_found, said_groups, said_told
from tests.services_inventory.operations import takes

HEADER = "id,address,system side material,customer side material,verification method,category\n"
FIRST = (
    HEADER
    + "1,1 Alder St,copper,copper,tap card,Non-lead\n"
    + "2,2 Alder St,copper,unknown,tap card,Non-lead\n"
    + "3,3 Alder St,copper,unknown,tap card,Non-lead\n"
    + "4,4 Alder St,lead,copper,tap card,Lead\n"
    + '5,5 Alder St,unknown,unknown,,"Unknown, could be lead"\n'
)
"""Line 1 agrees; 2 and 3 are unknown on one side; 5 only supposes."""

pytestmark = pytest.mark.django_db


def _opened(folder, text):
    header, *rows = csv.reader(io.StringIO(text))
    return takes.open_file(folder, rows, header=header)


def _checked(folder, text):
    batch = _opened(folder, text)
    takes.run(batch, "CHECK")
    return batch


def _taken(folder, text):
    batch = _opened(folder, text)
    takes.run(batch)
    return batch


def _said(batch):
    return [(said, now, lines) for said, now, _, lines in batch.result["said"]]


def _moves(batch):
    return {(before, after): lines for before, after, lines in batch.result["moves"]}


def test_a_dry_run_tells_what_would_become_and_where_the_file_says_otherwise(tmp_path):
    checked = _checked(tmp_path, FIRST)
    assert _said(checked) == [("NON_LEAD", "UNKNOWN", 2)]
    assert _moves(checked) == {("", "UNKNOWN"): 3, ("", "NON_LEAD"): 1, ("", "LEAD"): 1}
    assert sum(_moves(checked).values()) == checked.counts["new"]
    assert not SaidCategory.objects.exists() and not ServiceLine.objects.exists()


def test_what_differs_is_kept_and_leaves_the_list_once_the_evidence_says_so(tmp_path, client):
    taken = _taken(tmp_path, FIRST)
    assert _said(taken) == [("NON_LEAD", "UNKNOWN", 2)]
    groups = {(one["said"], one["label"], one["now"]): one["lines"] for one in said_groups()}
    assert groups == {("NON_LEAD", "", "UNKNOWN"): 2, ("UNKNOWN", "LIKELY_LEAD", "UNKNOWN"): 1}
    assert ServiceLine.objects.get(location_id="2").category == "UNKNOWN"

    more = "id,customer side material,verification method\n2,copper,excavation\n"
    checked = _checked(tmp_path, more)
    assert _moves(checked) == {("UNKNOWN", "NON_LEAD"): 1}
    assert ServiceLine.objects.get(location_id="2").category == "UNKNOWN", (
        "a dry run writes nothing"
    )
    _taken(tmp_path, more)
    found = [cells[0] for _, cells in said_told(said_found({"said": "NON_LEAD"}))]
    assert found == ["3"]


def test_a_later_word_counts_and_a_withdrawn_file_s_does_not(tmp_path):
    _taken(tmp_path, FIRST)
    again = _taken(
        tmp_path,
        FIRST.replace(
            "3,3 Alder St,copper,unknown,tap card,Non-lead",
            "3,3 Alder St,copper,unknown,tap card,Unknown",
        ),
    )
    assert again.counts["unchanged"] == 5
    assert [cells[0] for _, cells in said_told(said_found({"said": "NON_LEAD"}))] == ["2"]
    assert SaidCategory.objects.count() == 4, "what was said before is not kept twice"
    batch_run(batch=undo_open(batch=again, by="t", at=takes.APRIL, never_true=False))
    assert [cells[0] for _, cells in said_told(said_found({"said": "NON_LEAD"}))] == ["2", "3"]


def test_pages_show_the_groups_the_lines_and_the_csv(tmp_path, client, django_user_model):
    taken = _taken(tmp_path, FIRST)
    client.force_login(django_user_model.objects.create_superuser("s", password="x"))
    page = client.get(reverse("batch", args=[taken.pk])).content.decode()
    assert "Where the file says otherwise" in page and "<svg" in page
    page = client.get(reverse("said_list") + "?said=NON_LEAD").content.decode()
    assert "2 Alder St" in page and "5 Alder St" not in page
    text = b"".join(client.get(reverse("said_csv")).streaming_content).decode()
    assert text.count("Alder St") == 3 and "unknown - likely lead" in text
    line = ServiceLine.objects.get(location_id="5")
    assert "unknown - likely lead" in client.get(reverse("line", args=[line.pk])).content.decode()


def test_new_lines_beside_known_ones_that_no_row_names_are_asked_about(tmp_path):
    rows = "".join(f"{n},{n} Alder St,41.5{n:03},-100.3\n" for n in range(10, 20))
    _taken(tmp_path, "id,address,latitude,longitude\n" + rows)
    moved = rows.replace("Alder St", "Alder Street North").replace("\n1", "\nX1")
    checked = _checked(tmp_path, "id,address,latitude,longitude\nX" + moved)
    assert checked.counts["new"] == 10
    assert any("within 30 m of known ones" in note for note in checked.result["notes"])
    again = _checked(tmp_path, "id,address,latitude,longitude\n" + rows)
    assert not any("within 30 m" in note for note in again.result["notes"])


def test_a_file_withdrawn_and_taken_in_again_says_it_again(tmp_path):
    taken = _taken(tmp_path, FIRST)
    batch_run(batch=undo_open(batch=taken, by="t", at=takes.APRIL, never_true=True))
    assert not said_groups()
    _taken(tmp_path, FIRST)
    assert sum(one["lines"] for one in said_groups()) == 3


def test_what_a_row_said_follows_when_it_is_decided_for_another_line_and_is_taken_back(tmp_path):
    """The file says non-lead of a row that agrees with line 1 and not with line 2 or 3."""
    _taken(tmp_path, FIRST.replace(",Non-lead", ","))
    row = 'address,category,notes\n"1 Aldr St",Non-lead,\n'
    _taken(tmp_path, row)
    question, by = MatchQuestion.objects.get(), {"by": "t", "at": takes.APRIL}
    lines = {name: [ServiceLine.objects.get(location_id=name)] for name in "123"}
    match_decide(question=question, lines=lines["1"], **by)
    for batch in decided_rows_take_in(**by):
        batch_run(batch=batch)

    def found():
        return [cells[0] for _, cells in said_told(said_found({"said": "NON_LEAD"}))]

    assert found() == [], "line 1 is non-lead by its evidence, too"
    match_decide(question=question, lines=lines["2"], reason="the second house", **by)
    assert found() == ["2"]
    made = match_decide(question=question, lines=lines["3"], reason="no, the third", **by)
    assert found() == ["3"]
    matches_take_back(decision=made, whole_act=False, reason="nobody knows", **by)
    assert found() == []
    match_decide(question=question, lines=lines["2"], **by)
    for batch in decided_rows_take_in(**by):
        batch_run(batch=batch)
    assert found() == ["2"]


def test_a_word_of_the_utility_s_own_that_is_taken_back_takes_along_what_it_said(tmp_path):
    checked = _checked(tmp_path, FIRST.replace("Non-lead", "NLQ"))
    (asked,) = words_asked(checked)
    by = {"by": "t", "at": takes.APRIL}
    batch = words_answer(batch=checked, answers={asked["place"]: "NON_LEAD"}, reason="", **by)
    batch_run(batch=batch)
    takes.run(batch)
    assert [cells[0] for _, cells in said_told(said_found({"said": "NON_LEAD"}))] == ["2", "3"]
    word_withdraw(word=OwnWord.objects.get(), reason="it means no lead pipe seen", **by)
    assert not list(said_told(said_found({"said": "NON_LEAD"})))
