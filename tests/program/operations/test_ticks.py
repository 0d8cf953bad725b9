"""Readings of the rule's text: the latest that stands holds, while the value is what it was."""

from dataclasses import replace
from datetime import date

import pytest

from program.operations.ticks import value_tick
from program.queries.rule_values import (
    by_paragraph,
    not_yet_read,
    readings_of,
    rule_rows,
    values_used,
)
from program.rules import rules_in_force
from services_inventory.operations.taking_back import take_back
from services_inventory.refused import Refused
from tests.program.operations.factories import NOW, TODAY, own_value, utility

pytestmark = pytest.mark.django_db
ID = "DISPUTE_OFFER_DAYS"
READ = {"citation": "40 CFR 141.84(b)(4)", "text": "Offer it within 30 days.",
        "read_where": "edition of 2030", "by": "compliance", "at": NOW}  # fmt: skip


def tick(confirms=True, **said):
    return value_tick(**{"value_id": ID, "confirms": confirms} | READ | said)


def unread():
    return [value.id for value in not_yet_read([ID, "DISPUTE_RESPONSE_DAYS"], TODAY)]


def row():
    return next(one for one in rule_rows(rules_in_force(), TODAY) if one.value.id == ID)


def test_a_page_names_what_nobody_read_until_somebody_did():
    utility()
    assert unread() == [ID]  # the other was seen in its source
    made = tick()
    assert not unread() and not row().open
    take_back(row=made, reason="another paragraph", by="compliance", at=NOW)
    assert unread() == [ID] and row().open
    assert [one.text for one in readings_of(ID)] == ["Offer it within 30 days."]
    with pytest.raises(Refused, match="before"):
        take_back(row=made, reason="again", by="compliance", at=NOW)


def test_a_reading_that_contradicts_leaves_the_value_open_and_says_so():
    utility()
    tick()
    later = tick(confirms=False, text="Respond within 60 days.")
    assert row().contradicted and row().open
    assert values_used(rules_in_force(), TODAY, [ID])[0].ticked_off_by is None
    take_back(row=later, reason="it was the proposal", by="compliance", at=NOW)
    assert not row().contradicted and not row().open


def test_a_changed_value_is_read_again():
    utility()
    tick()
    own_value(ID, "20", effective_from=date(2028, 1, 1))
    assert rules_in_force().value(ID, TODAY) == 20
    assert values_used(rules_in_force(), TODAY, [ID])[0].ticked_off_by is None


@pytest.mark.parametrize("lacks", ["citation", "text", "read_where"])
def test_a_reading_wants_the_paragraph_its_place_and_its_source(lacks):
    with pytest.raises(Refused):
        tick(**{lacks: "  "})
    with pytest.raises(Refused, match="no rule value"):
        tick(value_id="NO_SUCH_VALUE")


def test_every_value_stands_under_one_paragraph_in_the_order_of_the_rule():
    utility()
    rows = rule_rows(rules_in_force(), TODAY)
    groups = by_paragraph(rows)
    names = [name for name, _ in groups]
    places = [names.index(f"40 CFR 141.{end}") for end in ("2", "84(a)", "84(b)", "202(b)")]
    assert places == sorted(places) and len(names) == len({*names})
    assert sorted(map(id, rows)) == sorted(id(row) for _, some in groups for row in some)
    assert all(row.value.citation.startswith(name) for name, some in groups for row in some)
    odd = [
        replace(rows[0], value=replace(rows[0].value, citation=said))
        for said in ("Letter of May 3 (p. 2)", ";", "(b)(5)")
    ]
    assert {name for name, _ in by_paragraph(odd)} == {"Letter of May 3", ";", "(b)"}
