"""What holds of any evidence whatever: order, protection, and what a standing depends on."""

from dataclasses import replace
from datetime import date, datetime

from hypothesis import given
from hypothesis import strategies as st

from services_inventory.domain.classification import Category, classify
from services_inventory.domain.evidence import (
    Basis,
    Era,
    EvidencePolicy,
    EvidenceRecord,
    Portion,
    signature,
    stand,
    weigh,
)
from services_inventory.domain.materials import Material
from tests.examples import examples

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


# Properties

days = st.dates(date(1900, 1, 1), date(2026, 5, 31))
times = st.datetimes(datetime(2024, 1, 1), datetime(2026, 6, 1))
evidence = st.builds(
    EvidenceRecord,
    id=st.integers(0, 10**9),
    portion=st.sampled_from(Portion),
    material=st.sampled_from(Material),
    basis=st.sampled_from(Basis),
    recorded_at=times,
    era=st.sampled_from(Era),
    points_seen=st.integers(0, 3),
    place=st.sampled_from(["", "meter pit", "basement"]),
    observed_on=st.none() | days,
    installed_on=st.none() | days,
    installed_year=st.none() | st.integers(1900, 2026),
    diameter_in=st.sampled_from([None, 0.75, 4]),
    every_earlier_pipe=st.booleans(),
    below_lead=st.booleans(),
)
resolutions = st.builds(
    EvidenceRecord,
    id=st.integers(10**9, 2 * 10**9),
    portion=st.sampled_from(Portion),
    material=st.none(),
    basis=st.just(Basis.NOT_STATED),
    recorded_at=times,
    resolves=st.sampled_from([Material.LEAD, Material.GALVANIZED, Material.COPPER]),
)


@st.composite
def lines(draw):
    rows = draw(st.lists(evidence, max_size=6, unique_by=lambda r: r.id))
    rows += draw(st.lists(resolutions, max_size=1))
    if rows and draw(st.booleans()):
        target = draw(st.sampled_from(rows))
        rows.append(
            record(C, None, Basis.NOT_STATED, id=-1, withdraws=target.id, recorded_at=RECORDED)
        )
    return rows


policies = st.builds(
    EvidencePolicy,
    lead_ban_date=st.just(FEDERAL.lead_ban_date),
    points_needed=st.just(2),
    approved_bases=st.frozensets(st.sampled_from(Basis), max_size=2),
    diameter_nonlead_over_in=st.sampled_from([None, 2]),
    nonlead_install_cutoff=st.sampled_from([None, date(1955, 1, 1)]),
    never_had_lead=st.booleans(),
)


@examples(100)
@given(lines(), policies, st.randoms(use_true_random=False))
def test_order_of_the_records_does_not_matter(rows, policy, random):
    shuffled = rows[:]
    random.shuffle(shuffled)
    assert weigh(shuffled, policy) == weigh(rows, policy)


# Where the weighing turns: one portion, few days, records against inspections.
contested = st.builds(
    EvidenceRecord,
    id=st.integers(0, 10**9),
    portion=st.just(C),
    material=st.sampled_from([Material.LEAD, Material.COPPER, Material.GALVANIZED]),
    basis=st.sampled_from([Basis.RECORD_TAP_CARD, Basis.VISUAL_INSPECTION, Basis.REPLACEMENT]),
    recorded_at=times,
    points_seen=st.sampled_from([1, 2]),
    observed_on=st.dates(date(2020, 1, 1), date(2020, 1, 3)),
)
contested_lines = st.lists(contested, min_size=1, max_size=4, unique_by=lambda r: r.id)


def assert_lead_stays(rows, added, policy):
    if classify(weigh(rows, policy).facts).category == Category.LEAD:
        lead = replace(added, id="added", material=Material.LEAD)
        assert classify(weigh([*rows, lead], policy).facts).category == Category.LEAD


@examples(200)
@given(lines(), evidence, policies)
def test_adding_lead_evidence_never_moves_a_line_away_from_lead(rows, added, policy):
    """Any evidence of lead, of any basis, day, portion, era, that neither withdraws nor resolves.

    Only other evidence can: a replacement, an inspection at enough points that is stronger and
    not older, a withdrawal, or a person's decision.
    """
    assert_lead_stays(rows, added, policy)


@examples(400)
@given(contested_lines, contested)
def test_adding_lead_evidence_where_the_weighing_turns(rows, added):
    assert_lead_stays(rows, added, FEDERAL)


@examples(100)
@given(lines(), policies, st.none() | days, st.none() | times)
def test_signature_holds_all_that_the_facts_depend_on(rows, policy, as_of, known_at):
    weighed = weigh(rows, policy, as_of, known_at)
    reduced = signature(rows, policy, as_of, known_at)
    assert stand(reduced).facts == weighed.facts
    assert hash(reduced) == hash(signature(list(reversed(rows)), policy, as_of, known_at))


@examples(200)
@given(st.lists(evidence | resolutions, max_size=8, unique_by=lambda r: r.id), policies)
def test_portions_weighed_apart_amount_to_the_whole(rows, policy):
    whole = weigh(rows, policy)
    apart = {
        portion: weigh([r for r in rows if r.portion == portion], policy) for portion in Portion
    }
    found = [signature([r for r in rows if r.portion == portion], policy) for portion in Portion]
    facts = sorted(fact for one in found for fact in one.facts)
    assert tuple(facts) == signature(rows, policy).facts
    assert tuple(apart[p].portion(p) for p in Portion) == whole.portions
    assert tuple(found for p in Portion for found in apart[p].conflicts) == whole.conflicts


@examples(100)
@given(lines(), policies)
def test_nothing_but_supporting_evidence_makes_non_lead(rows, policy):
    """A line is non-lead only where each portion names the records behind it."""
    weighed = weigh(rows, policy)
    for standing in weighed.portions:
        known = standing.material != Material.UNKNOWN
        assert known == bool(standing.record_ids)
        assert (standing.validation is not None) == (
            standing.material.is_non_lead or standing.material.is_galvanized
        )
