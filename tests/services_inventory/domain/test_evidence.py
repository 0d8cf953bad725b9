"""Weighing evidence: what shows what, what overrules what, and what may never happen."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction

import pytest

from services_inventory.domain.classification import Category, UnknownLabel, classify
from services_inventory.domain.evidence import (
    Basis,
    Era,
    EvidencePolicy,
    EvidenceRecord,
    PoolStatus,
    Portion,
    ReviewKind,
    contradictions,
    lead_ban_date,
    signature,
    weigh,
)
from services_inventory.domain.materials import Connector, Material
from services_inventory.domain.regulation import inventory_rules

FEDERAL = EvidencePolicy.from_rules(date(2028, 1, 1))
RECORDED = datetime(2026, 6, 1, 12)
S, C = Portion.SYSTEM, Portion.CUSTOMER


def record(portion, material, basis, **more) -> EvidenceRecord:
    row = {"id": f"{portion}-{material}-{basis}-{len(more)}", "recorded_at": RECORDED}
    return EvidenceRecord(portion=portion, material=material, basis=basis, **{**row, **more})


def material(*records, portion=C, policy=FEDERAL, **more):
    return weigh(records, policy, **more).portion(portion).material


def status(*records, policy=FEDERAL):
    return weigh(records, policy).portion(C).validation


# What one record shows


@pytest.mark.parametrize(
    ("basis", "shown"),
    [
        *[(basis, "COPPER") for basis in Basis if basis.traits.supports_non_lead == "YES"],
        *[(basis, "UNKNOWN") for basis in Basis if basis.traits.supports_non_lead != "YES"],
    ],
)
def test_copper_by_each_basis_alone(basis, shown):
    assert material(record(C, Material.COPPER, basis)) == shown


@pytest.mark.parametrize("basis", [b for b in Basis if b != Basis.PREDICTIVE_MODEL])
def test_lead_by_anybody_but_a_model_is_lead(basis):
    weighed = weigh([record(C, Material.LEAD, basis)], FEDERAL)
    kinds = {review.kind for review in weighed.reviews}
    assert weighed.facts.customer == Material.LEAD
    assert (ReviewKind.UNVERIFIED_LEAD in kinds) == (not basis.traits.verified)


def test_model_without_approval_only_ranks():
    guess = record(C, Material.LEAD, Basis.PREDICTIVE_MODEL)
    copper = record(S, Material.COPPER, Basis.RECORD_TAP_CARD)
    weighed = weigh([guess, copper], FEDERAL)
    assert classify(weighed.facts).category == Category.UNKNOWN
    assert weighed.unknown_label == UnknownLabel.LIKELY_LEAD


@pytest.mark.parametrize(
    "basis",
    [Basis.PREDICTIVE_MODEL, Basis.CUSTOMER_REPORT, Basis.AFFIDAVIT, Basis.WATER_SAMPLING],
)
def test_approval_lets_a_basis_show_non_lead(basis):
    approved = EvidencePolicy(FEDERAL.lead_ban_date, 2, frozenset({basis}))
    copper = record(C, Material.COPPER, basis)
    assert material(copper) == Material.UNKNOWN
    assert material(copper, policy=approved) == Material.COPPER
    assert status(copper, policy=approved) == PoolStatus.IN


@pytest.mark.parametrize(
    ("laid", "shown", "pool"),
    [
        ({"installed_on": date(1988, 6, 18)}, "UNKNOWN", None),
        ({"installed_on": date(1988, 6, 19)}, "NON_LEAD", PoolStatus.OUT_BAN),
        ({"installed_on": date(1988, 6, 20)}, "NON_LEAD", PoolStatus.OUT_BAN),
        ({"installed_year": 1988}, "UNKNOWN", None),
        ({"installed_year": 1989}, "NON_LEAD", PoolStatus.OUT_BAN),
        ({}, "UNKNOWN", None),
    ],
)
def test_installation_date_on_both_sides_of_the_ban(laid, shown, pool):
    laid_pipe = record(C, Material.UNKNOWN, Basis.INSTALL_DATE, **laid)
    assert (material(laid_pipe), status(laid_pipe)) == (shown, pool)


@pytest.mark.parametrize(("day", "shown"), [(30, "UNKNOWN"), (31, "NON_LEAD")])
def test_accepted_cutoff_shows_non_lead_but_stays_in_the_pool(day, shown):
    policy = EvidencePolicy(FEDERAL.lead_ban_date, 2, nonlead_install_cutoff=date(1955, 12, 31))
    laid = record(C, Material.UNKNOWN, Basis.INSTALL_DATE, installed_on=date(1955, 12, day))
    assert material(laid, policy=policy) == shown
    assert status(laid, policy=policy) == (PoolStatus.IN if shown == "NON_LEAD" else None)


@pytest.mark.parametrize(("inches", "shown"), [(2.0, "UNKNOWN"), (2.01, "NON_LEAD")])
def test_diameter_counts_above_the_state_cutoff_only(inches, shown):
    policy = EvidencePolicy(FEDERAL.lead_ban_date, 2, diameter_nonlead_over_in=Fraction(2))
    wide = record(C, Material.UNKNOWN, Basis.DIAMETER, diameter_in=inches)
    assert material(wide, policy=policy) == shown
    assert material(wide) == Material.UNKNOWN


def test_earliest_ban_wins():
    rules = inventory_rules()
    federal = rules.latest("LEAD_BAN_DATE_FEDERAL").value
    assert lead_ban_date(date(2028, 1, 1)) == federal

    def ban(level, day):
        row = rules.latest(f"LEAD_BAN_DATE_{level}")
        return replace(row, jurisdiction=level, value=day, author="A. Clerk", reason="own code")

    earlier = rules.with_overrides([ban("STATE", date(1986, 1, 1)), ban("LOCAL", date(1990, 1, 1))])
    assert lead_ban_date(date(2028, 1, 1), earlier) == date(1986, 1, 1)
    later = rules.with_overrides([ban("STATE", federal + timedelta(days=1))])
    assert lead_ban_date(date(2028, 1, 1), later) == federal


# Several records


TAP_CARD_LEAD = record(C, Material.LEAD, Basis.RECORD_TAP_CARD, observed_on=date(1931, 5, 1))


def seen(what, day=date(2025, 5, 1), **more):
    return record(C, what, Basis.VISUAL_INSPECTION, observed_on=day, **more)


def test_two_points_overrule_an_older_record_of_lead_and_leave_the_history():
    weighed = weigh([TAP_CARD_LEAD, seen(Material.COPPER, points_seen=2)], FEDERAL)
    assert weighed.facts.customer == Material.COPPER
    assert weighed.conflicts == ()
    assert "lead before" in weighed.portion(C).reason


def test_lead_once_recorded_on_the_system_side_makes_galvanized_below_it_grr():
    card = record(S, Material.LEAD, Basis.RECORD_TAP_CARD, observed_on=date(1931, 5, 1))
    now = record(S, Material.COPPER, Basis.EXCAVATION, observed_on=date(2025, 5, 1), points_seen=2)
    weighed = weigh([card, now, seen(Material.GALVANIZED, points_seen=2)], FEDERAL)
    assert weighed.facts.system_was_lead is True
    assert classify(weighed.facts).category == Category.GRR


@pytest.mark.parametrize(
    "copper",
    [
        seen(Material.COPPER, points_seen=1),
        seen(Material.COPPER, day=date(1931, 4, 30), points_seen=2),
        record(C, Material.COPPER, Basis.RECORD_DRAWING, observed_on=date(2025, 5, 1)),
        record(C, Material.UNKNOWN, Basis.INSTALL_DATE, installed_on=date(1995, 1, 1)),
    ],
    ids=["one point", "seen before the card", "record of equal strength", "date after the ban"],
)
def test_nearer_evidence_is_a_conflict_and_lead_stands(copper):
    weighed = weigh([TAP_CARD_LEAD, copper], FEDERAL)
    assert weighed.facts.customer == Material.LEAD
    assert [conflict.stands for conflict in weighed.conflicts] == [Material.LEAD]
    assert set(weighed.conflicts[0].record_ids) == {TAP_CARD_LEAD.id, copper.id}
    assert "a person decides" in weighed.portion(C).reason


def test_two_inspections_that_disagree_are_a_conflict_however_late():
    lead = seen(Material.LEAD, day=date(2020, 1, 1), points_seen=1)
    copper = seen(Material.COPPER, day=date(2027, 1, 1), points_seen=5, id="later")
    weighed = weigh([lead, copper], FEDERAL)
    assert weighed.facts.customer == Material.LEAD
    assert len(weighed.conflicts) == 1


def test_an_inspection_must_be_stronger_than_every_record_of_lead():
    dug = record(C, Material.LEAD, Basis.EXCAVATION, observed_on=date(2020, 1, 1), points_seen=1)
    copper = seen(Material.COPPER, points_seen=2)
    assert material(TAP_CARD_LEAD, copper) == Material.COPPER
    assert material(TAP_CARD_LEAD, dug, copper) == Material.LEAD


def test_weaker_doubt_against_lead_seen_is_no_conflict():
    lead = seen(Material.LEAD, points_seen=1)
    weighed = weigh([lead, record(C, Material.COPPER, Basis.RECORD_DRAWING)], FEDERAL)
    assert (weighed.facts.customer, weighed.conflicts) == (Material.LEAD, ())


def test_galvanized_against_copper_of_equal_strength_stays_galvanized():
    galvanized = record(C, Material.GALVANIZED, Basis.RECORD_TAP_CARD)
    weighed = weigh([galvanized, record(C, Material.COPPER, Basis.RECORD_DRAWING)], FEDERAL)
    assert weighed.facts.customer == Material.GALVANIZED
    assert len(weighed.conflicts) == 1


def test_strongest_then_latest_names_the_non_lead_material():
    card = record(C, Material.PLASTIC, Basis.RECORD_TAP_CARD, observed_on=date(2001, 1, 1))
    later = record(C, Material.BRASS, Basis.RECORD_TAP_CARD, observed_on=date(2010, 1, 1))
    assert material(card, later) == Material.BRASS
    assert material(card, later, seen(Material.COPPER, day=date(1999, 1, 1))) == Material.COPPER


def test_resolution_lets_the_chosen_evidence_stand_until_new_evidence():
    copper = record(C, Material.COPPER, Basis.RECORD_DRAWING)
    decided = EvidenceRecord(
        id="decision",
        portion=C,
        material=None,
        basis=Basis.NOT_STATED,
        recorded_at=RECORDED + timedelta(days=1),
        resolves=Material.COPPER,
    )
    weighed = weigh([TAP_CARD_LEAD, copper, decided], FEDERAL)
    assert (weighed.facts.customer, weighed.conflicts) == (Material.COPPER, ())
    new = record(C, Material.LEAD, Basis.CUSTOMER_REPORT, recorded_at=RECORDED + timedelta(days=2))
    assert material(TAP_CARD_LEAD, copper, decided, new) == Material.LEAD
    assert material(TAP_CARD_LEAD, copper, decided, known_at=RECORDED) == Material.LEAD


def test_resolution_without_evidence_changes_nothing_and_is_flagged():
    decided = record(C, None, Basis.NOT_STATED, resolves=Material.COPPER)
    weighed = weigh([TAP_CARD_LEAD, decided], FEDERAL)
    assert weighed.facts.customer == Material.LEAD
    assert [review.kind for review in weighed.reviews] == [ReviewKind.RESOLUTION_WITHOUT_EVIDENCE]


def test_withdrawn_row_counts_no_more_and_the_withdrawal_can_be_withdrawn():
    later, latest = RECORDED + timedelta(days=1), RECORDED + timedelta(days=2)
    gone = record(C, None, Basis.NOT_STATED, id="w1", withdraws=TAP_CARD_LEAD.id, recorded_at=later)
    back = record(C, None, Basis.NOT_STATED, id="w2", withdraws="w1", recorded_at=latest)
    assert material(TAP_CARD_LEAD, gone) == Material.UNKNOWN
    assert material(TAP_CARD_LEAD, gone, known_at=RECORDED) == Material.LEAD
    assert material(TAP_CARD_LEAD, gone, back) == Material.LEAD


def test_a_withdrawal_recorded_in_the_same_moment_counts_by_its_number():
    lead = record(C, Material.LEAD, Basis.RECORD_TAP_CARD, id=9)
    gone = record(C, None, Basis.NOT_STATED, id=10, withdraws=9)
    assert material(lead, gone) == Material.UNKNOWN


# Replacement


def replaced(day, portion=C, what=Material.COPPER, **more):
    more = {"id": f"replaced {portion} {day}", "recorded_at": RECORDED, **more}
    return record(portion, what, Basis.REPLACEMENT, observed_on=day, **more)


@pytest.mark.parametrize(
    ("day", "shown"),
    [
        (date(2026, 4, 30), "COPPER"),
        (date(2026, 5, 1), "COPPER"),
        (date(2026, 5, 2), "LEAD"),
    ],
    ids=["lead seen the day before", "the same day", "the day after"],
)
def test_replacement_turns_earlier_evidence_into_history(day, shown):
    weighed = weigh([replaced(date(2026, 5, 1)), seen(Material.LEAD, day=day)], FEDERAL)
    assert weighed.facts.customer == shown
    assert bool(weighed.conflicts) == (shown == "LEAD")


def test_replaced_lead_system_side_is_remembered():
    lead = record(S, Material.LEAD, Basis.RECORD_TAP_CARD, installed_year=1931)
    new = replaced(date(2026, 5, 1), portion=S)
    facts = weigh([lead, new, seen(Material.GALVANIZED)], FEDERAL).facts
    assert (facts.system, facts.system_was_lead) == (Material.COPPER, True)
    assert status(replaced(date(2026, 5, 1))) == PoolStatus.OUT_REPLACED


def test_as_of_before_the_replacement_shows_the_old_pipe():
    lead = seen(Material.LEAD, day=date(2025, 5, 1))
    new = replaced(date(2026, 5, 1))
    assert material(lead, new, as_of=date(2026, 4, 30)) == Material.LEAD
    assert material(lead, new, as_of=date(2026, 5, 1)) == Material.COPPER
    assert material(lead, new, as_of=date(2025, 4, 30)) == Material.UNKNOWN


# History of the system side


def earlier(what, **more):
    return record(S, what, Basis.RECORD_TAP_CARD, era=Era.BEFORE, **{"id": "before", **more})


@pytest.mark.parametrize(
    ("records", "was_lead"),
    [
        ([], None),
        ([earlier(Material.COPPER)], None),
        ([earlier(Material.COPPER, every_earlier_pipe=True)], False),
        ([earlier(Material.NONE, every_earlier_pipe=True)], False),
        ([earlier(Material.UNKNOWN, every_earlier_pipe=True)], None),
        ([earlier(Material.LEAD)], True),
        (
            [
                earlier(Material.LEAD),
                earlier(Material.COPPER, every_earlier_pipe=True, id="other"),
            ],
            True,
        ),
    ],
)
def test_history_of_the_system_side(records, was_lead):
    assert weigh(records, FEDERAL).facts.system_was_lead is was_lead


def test_a_record_older_than_the_replacement_does_not_speak_of_the_pipe_taken_out():
    whole = earlier(Material.COPPER, every_earlier_pipe=True, observed_on=date(2000, 1, 1))
    new = replaced(date(2010, 1, 1), portion=S)
    known = record(S, Material.IRON, Basis.RECORD_DRAWING, observed_on=date(2005, 1, 1))
    assert weigh([whole, new], FEDERAL).facts.system_was_lead is None
    assert weigh([whole, new, known], FEDERAL).facts.system_was_lead is False


def test_system_that_never_had_lead():
    policy = EvidencePolicy.from_rules(date(2028, 1, 1), never_had_lead=True)
    assert weigh([], policy).facts.system_was_lead is False
    assert weigh([earlier(Material.LEAD)], policy).facts.system_was_lead is True


def test_statement_alone_shows_no_history_and_is_flagged():
    said = record(S, Material.COPPER, Basis.AFFIDAVIT, era=Era.BEFORE, every_earlier_pipe=True)
    weighed = weigh([said], FEDERAL)
    assert weighed.facts.system_was_lead is None
    assert [review.kind for review in weighed.reviews] == [ReviewKind.STATEMENT_ONLY]


# Connector, reviews, contradictions


def test_connector():
    connector = record(Portion.CONNECTOR, Material.LEAD, Basis.EXCAVATION, length_ft=2.0)
    assert weigh([connector], FEDERAL).facts.connector == Connector.LEAD
    none = record(Portion.CONNECTOR, Material.NONE, Basis.RECORD_DRAWING)
    assert weigh([none], FEDERAL).facts.connector == Connector.NONE
    assert weigh([], FEDERAL).facts.connector == Connector.UNKNOWN
    galvanized = record(Portion.CONNECTOR, Material.GALVANIZED, Basis.EXCAVATION)
    assert weigh([galvanized], FEDERAL).facts.connector == Connector.NON_LEAD


@pytest.mark.parametrize(("length", "flagged"), [(3, False), (3.01, True), (None, False)])
def test_connector_above_the_length_limit_is_looked_at(length, flagged):
    piece = record(Portion.CONNECTOR, Material.LEAD, Basis.EXCAVATION, length_ft=length)
    kinds = [review.kind for review in weigh([piece], FEDERAL).reviews]
    assert kinds == ([ReviewKind.LONG_CONNECTOR] if flagged else [])


def test_lead_laid_after_the_ban_is_looked_at():
    odd = record(C, Material.LEAD, Basis.RECORD_PERMIT, installed_on=date(1995, 1, 1))
    weighed = weigh([odd], FEDERAL)
    assert weighed.facts.customer == Material.LEAD
    assert [review.kind for review in weighed.reviews] == [ReviewKind.LEAD_AFTER_BAN]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"installed_year": 19}, "write a year from 1800 to 2026"),
        ({"installed_year": 20255}, "write a year from 1800 to 2026"),
        ({"observed_on": date(2026, 6, 2)}, "after it was recorded"),
        ({"installed_on": date(2027, 1, 1)}, "after it was recorded"),
        ({"installed_on": date(2020, 1, 1), "observed_on": date(2019, 1, 1)}, "before it was laid"),
        ({"installed_on": date(2020, 1, 1), "installed_year": 2019}, "keep one of them"),
        ({"points_seen": -1}, "0 or more"),
        ({"points_seen": 1}, "the basis is tap card"),
        ({"diameter_in": 0}, "above zero"),
        ({"resolves": Material.UNKNOWN}, "not for unknown"),
    ],
)
def test_contradiction_gets_a_sentence(more, words):
    found = contradictions(record(C, Material.COPPER, Basis.RECORD_TAP_CARD, **more))
    assert any(words in sentence for sentence in found)
    assert all(sentence.endswith(".") for sentence in found)


def test_sound_record_has_no_contradiction():
    assert contradictions(seen(Material.COPPER, points_seen=2, installed_year=1950)) == []


def test_alike_lines_share_a_signature_whatever_their_dates():
    first = [TAP_CARD_LEAD, seen(Material.COPPER, points_seen=2)]
    second = [
        record(C, Material.LEAD, Basis.RECORD_DRAWING, id=7, observed_on=date(1950, 1, 1)),
        record(
            C, Material.COPPER, Basis.EXCAVATION, id=8, observed_on=date(2024, 1, 1), points_seen=4
        ),
    ]
    assert signature(first, FEDERAL) == signature(second, FEDERAL)
