"""What finished work counts as: every row of the rule's cases, and exhaustive properties.

The rows follow EPA's fact sheet on calculating replacements (October 2024) where it speaks of
full replacement; the others are constructed from the reading documented in docs/rules.
"""

from datetime import date
from itertools import product

import pytest

from program.domain.counting import CountKind, Event, Work, count
from program.domain.regulation import RULES
from services_inventory.domain.classification import Category, LineFacts, Policy, classify
from services_inventory.domain.materials import Connector, Material
from tests.program.domain.test_calendar import override

LEAD, GALV, COPPER, PLASTIC = (
    Material.LEAD, Material.GALVANIZED, Material.COPPER, Material.PLASTIC,
)  # fmt: skip
UNKNOWN, NONE = Material.UNKNOWN, Material.NONE
DAY = date(2028, 6, 1)
AS_OF = date(2031, 1, 1)


def line(system, customer, **facts):
    return LineFacts(system, customer, **facts)


def counted(event, before, after, done_on=DAY, **work):
    return count(Work(event, before, after, done_on, **work), AS_OF)


ROWS = {
    "lead line, afterwards every portion non-lead": (
        Event.REPLACED, line(LEAD, LEAD), line(COPPER, PLASTIC, system_was_lead=True),
        CountKind.FULL_LEAD,
    ),
    "GRR line, afterwards every portion non-lead": (
        Event.REPLACED, line(COPPER, GALV, system_was_lead=True),
        line(COPPER, PLASTIC, system_was_lead=True), CountKind.FULL_GRR,
    ),
    "lead utility side replaced, customer side was non-lead already": (
        Event.REPLACED, line(LEAD, COPPER), line(COPPER, COPPER, system_was_lead=True),
        CountKind.FULL_LEAD,
    ),
    "lead utility side replaced, galvanized customer side stays": (
        Event.REPLACED, line(LEAD, GALV), line(COPPER, GALV, system_was_lead=True),
        CountKind.PARTIAL_LEAD,
    ),
    "lead utility side replaced, lead customer side stays": (
        Event.REPLACED, line(LEAD, LEAD), line(COPPER, LEAD, system_was_lead=True),
        CountKind.PARTIAL_LEAD,
    ),
    "lead utility side replaced, customer side of unknown material": (
        Event.REPLACED, line(LEAD, UNKNOWN), line(COPPER, UNKNOWN, system_was_lead=True),
        CountKind.PARTIAL_LEAD,
    ),
    "one of two GRR portions replaced": (
        Event.REPLACED, line(GALV, GALV, system_below_lead=True),
        line(COPPER, GALV, system_was_lead=None), CountKind.PARTIAL_GRR,
    ),
    "lead-lined galvanized counts as lead": (
        Event.REPLACED, line(Material.LEAD_LINED_GALVANIZED, COPPER), line(PLASTIC, COPPER),
        CountKind.FULL_LEAD,
    ),
    "only a lead connector replaced": (
        Event.CONNECTOR_REPLACED, line(COPPER, COPPER, connector=Connector.LEAD),
        line(COPPER, COPPER, connector=Connector.NON_LEAD), CountKind.CONNECTOR_ONLY,
    ),
    "only the connector changed, whatever the crew called it": (
        Event.REPLACED, line(LEAD, LEAD, connector=Connector.LEAD),
        line(LEAD, LEAD, connector=Connector.NONE), CountKind.CONNECTOR_ONLY,
    ),
    "customer replaced the rest": (
        Event.CUSTOMER_REPLACED, line(COPPER, LEAD, system_was_lead=True),
        line(COPPER, COPPER, system_was_lead=True), CountKind.FULL_LEAD,
    ),
    "customer replaced the galvanized rest": (
        Event.CUSTOMER_REPLACED, line(COPPER, GALV, system_was_lead=True),
        line(COPPER, COPPER, system_was_lead=True), CountKind.FULL_GRR,
    ),
    "unknown line dug up and found non-lead": (
        Event.DUG_UP, line(UNKNOWN, UNKNOWN), line(COPPER, COPPER), CountKind.NEITHER,
    ),
    "unknown line dug up and found lead": (
        Event.DUG_UP, line(UNKNOWN, UNKNOWN), line(LEAD, COPPER), CountKind.NEITHER,
    ),
    "unknown line replaced, old material not looked at": (
        Event.REPLACED, line(UNKNOWN, UNKNOWN), line(COPPER, COPPER), CountKind.NEITHER,
    ),
    "non-lead line renewed": (
        Event.REPLACED, line(COPPER, COPPER), line(PLASTIC, PLASTIC), CountKind.NEITHER,
    ),
    "cut from the main and a new non-lead line laid": (
        Event.NEW_LINE, line(LEAD, GALV), line(COPPER, COPPER, system_was_lead=True),
        CountKind.FULL_LEAD,
    ),
    "disconnected, no new line": (
        Event.DISCONNECTED, line(LEAD, LEAD), line(LEAD, LEAD), CountKind.NEITHER,
    ),
    "valve shut, building vacant": (
        Event.SHUT_OFF, line(LEAD, LEAD), line(LEAD, LEAD), CountKind.NEITHER,
    ),
    "customer refused": (
        Event.REFUSED, line(LEAD, LEAD), line(LEAD, LEAD), CountKind.NEITHER,
    ),
    "nothing taken out, only learned": (
        Event.REPLACED, line(LEAD, UNKNOWN), line(LEAD, COPPER), CountKind.NEITHER,
    ),
    "GRR settled by a record, not by work": (
        Event.REPLACED, line(COPPER, GALV), line(COPPER, GALV, system_was_lead=False),
        CountKind.NEITHER,
    ),
    "line with one portion": (
        Event.REPLACED, line(LEAD, NONE), line(COPPER, NONE), CountKind.FULL_LEAD,
    ),
}  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_row(row):
    event, before, after, kind = ROWS[row]
    found = counted(event, before, after)
    assert found.kind is kind
    assert found.reason.endswith(".")
    assert found.citation.startswith("40 CFR")
    assert found.program_year == 1


def test_a_disconnected_line_counts_only_where_reuse_is_prohibited():
    before = after = line(LEAD, LEAD)
    prohibited = counted(Event.DISCONNECTED, before, after, reuse_prohibited=True)
    assert prohibited.kind is CountKind.FULL_LEAD
    strict = RULES.with_overrides([override("DISCONNECTED_COUNTS", False)])
    work = Work(Event.DISCONNECTED, before, after, DAY, reuse_prohibited=True)
    assert count(work, AS_OF, rules=strict).kind is CountKind.NEITHER
    idle = counted(Event.DISCONNECTED, line(COPPER, COPPER), line(COPPER, COPPER))
    assert idle.kind is CountKind.NEITHER


@pytest.mark.parametrize(
    ("done_on", "kind", "year"),
    [
        (date(2027, 10, 31), CountKind.NEITHER, None),
        (date(2027, 11, 1), CountKind.FULL_LEAD, 1),
        (date(2028, 12, 31), CountKind.FULL_LEAD, 1),
        (date(2029, 1, 1), CountKind.FULL_LEAD, 2),
    ],
)
def test_one_day_decides_the_program_year(done_on, kind, year):
    found = counted(Event.REPLACED, line(LEAD, LEAD), line(COPPER, COPPER), done_on)
    assert (found.kind, found.program_year) == (kind, year)


def test_a_partial_before_the_compliance_date_stays_a_partial_of_no_year():
    found = counted(
        Event.REPLACED, line(LEAD, LEAD), line(COPPER, LEAD, system_was_lead=True),
        date(2026, 5, 5),
    )  # fmt: skip
    assert (found.kind, found.program_year) == (CountKind.PARTIAL_LEAD, None)


def test_work_in_the_future_is_a_sentence():
    work = Work(Event.REPLACED, line(LEAD, LEAD), line(COPPER, COPPER), date(2031, 1, 2))
    with pytest.raises(ValueError, match="Jan 2, 2031, after Jan 1, 2031"):
        count(work, AS_OF)


def test_work_of_the_day_itself_counts():
    found = counted(Event.REPLACED, line(LEAD, LEAD), line(COPPER, COPPER), AS_OF)
    assert (found.kind, found.program_year) == (CountKind.FULL_LEAD, 4)


def test_a_state_that_counts_connectors_sees_a_grr_line():
    before = line(COPPER, GALV, connector=Connector.LEAD, system_was_lead=False)
    after = line(COPPER, COPPER, connector=Connector.NON_LEAD, system_was_lead=False)
    work = Work(Event.REPLACED, before, after, DAY)
    assert count(work, AS_OF).kind is CountKind.NEITHER
    strict = Policy(connectors_make_grr=True)
    assert count(work, AS_OF, policy=strict).kind is CountKind.FULL_GRR


def test_work_counts_as_full_only_if_a_lead_or_grr_line_is_non_lead_afterwards():
    some = (LEAD, GALV, COPPER, UNKNOWN, NONE)
    for system, customer, new_system, new_customer in product(some, repeat=4):
        before, after = line(system, customer), line(new_system, new_customer, system_was_lead=True)
        found = counted(Event.REPLACED, before, after)
        was, now = classify(before).category, classify(after).category
        if found.kind.is_full:
            assert was in (Category.LEAD, Category.GRR)
            assert now is Category.NON_LEAD
        if found.kind.is_partial:
            assert now is not Category.NON_LEAD
        if was in (Category.NON_LEAD, Category.UNKNOWN):
            assert found.kind is CountKind.NEITHER
