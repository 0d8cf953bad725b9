"""The statement for the consumer confidence report: facts of the record, prescribed words empty."""

import pytest

from program.notices.templates_text import NoticeRefused
from program.operations.wording import report_slot_fill
from program.queries.yearly_report import report_blocks, yearly_statement
from program.rules import rules_in_force
from tests.program.operations.factories import NOW, TODAY, line, utility
from tests.program.operations.test_sampling import DAY, period, sites, table, take_in

__all__ = ["sites"]
pytestmark = pytest.mark.django_db


def said(year=2030, language="en"):
    found = yearly_statement(year, TODAY, rules_in_force())[language]
    return {one.id: one for one in found}


def test_the_facts_are_those_of_the_record(sites, tmp_path):
    period()
    take_in(tmp_path, table(sites, [1, 2, 3, 4, "<1", 9]))
    lead = said()["lead"].text
    assert "6 homes" in lead and "percentile was 6 µg/L" in lead and "0 to 9 µg/L" in lead
    assert lead.endswith("Above the action level of 10 µg/L: 0.")
    assert "1 de julio de 2030" in said(language="es")["lead"].text
    assert "report_exceedance_statement" not in said()
    assert said(2029)["lead"].lacks and said()["copper"].lacks
    assert DAY.year == 2030


def test_the_range_counts_every_site_with_a_tier_and_the_exceedance_asks_for_words(sites, tmp_path):
    period()
    take_in(tmp_path, table(sites, [1, 2, 3, 30, 20, 25]))
    assert said()["lead"].text.endswith("Above the action level of 10 µg/L: 3.")
    assert "prescribed" in said()["report_exceedance_statement"].lacks


def test_prescribed_words_are_only_those_that_staff_pasted():
    utility(website="example.test", phone="000-000-0100")
    line("LEAD", "COPPER")
    assert not any(block.get("en") for block in report_blocks() if block.get("prescribed"))
    assert said()["report_lead_statement"].lacks
    given = {"slot": "report_lead_statement", "language": "en", "by": "c", "at": NOW}
    with pytest.raises(NoticeRefused, match="taken from"):
        report_slot_fill(text="The agency's words.", taken_from="", **given)
    report_slot_fill(text="The agency's words.", taken_from="agency, page 3", **given)
    assert said()["report_lead_statement"].text == "The agency's words."
    assert said(language="es")["report_lead_statement"].lacks
    with pytest.raises(NoticeRefused, match="no such slot"):
        report_slot_fill(text="x", taken_from="y", **(given | {"slot": "inventory"}))
    assert "lead 1;" in said()["inventory"].text and said()["plan"].text


def test_a_fact_that_is_not_on_record_is_named():
    utility(website="", phone="")
    line("COPPER", "COPPER")
    assert "website and phone number" in said()["inventory"].lacks
    assert "{" not in said()["inventory"].lacks
    assert "plan" not in said()
