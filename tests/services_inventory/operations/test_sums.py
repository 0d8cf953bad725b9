"""Standings by adding up facts: the same as by reading each line, whatever the evidence is."""

from dataclasses import replace
from datetime import timedelta
from itertools import product

import pytest

from services_inventory import facts
from services_inventory.facts import BITS, Facts, rule_key
from services_inventory.models import Conflict, Evidence, KnownFact, KnownSum, ServiceLine
from services_inventory.operations import standings, sums, weighing
from services_inventory.operations.standings import standings_compare, standings_derive
from services_inventory.operations.undo import intake_undo
from services_inventory.policy import evidence_policy
from services_inventory.queries import weigher
from services_inventory.queries.checks import sums_add_up
from services_inventory.queries.weigher import line_weighed
from tests.services_inventory.operations.takes import APRIL, open_file, run

MAY = APRIL.replace(month=5)
COLUMNS = ("location id", "address", "system side material", "system side basis",
           "system side installed", "system side points seen", "system side observed on",
           "connector")  # fmt: skip
MATERIALS = ("lead", "copper", "galvanized", "plastic")
WAYS = (
    ("tap card", "1950", "", ""),
    ("installation record", "1995", "", ""),
    ("visual inspection", "", "2", "2020-03-02"),
    ("visual inspection", "", "1", "2021-03-02"),
    ("replacement record", "", "", "2019-05-06"),
)
SAID = list(product(MATERIALS, WAYS))


@pytest.fixture
def pairs(tmp_path, db, monkeypatch):
    """Two files that give each line another pair of statements; the second is weighed by sums."""
    monkeypatch.setattr(standings, "MANY", 1)
    batches = []
    for which, name in enumerate(("first.csv", "second.csv")):
        rows = [
            (f"L{at:03d}", f"{at + 1} Ropewalk St", pair[which][0], *pair[which][1], "lead")
            for at, pair in enumerate(product(SAID, repeat=2))
        ]
        at = APRIL + timedelta(days=which)
        batches.append(open_file(tmp_path, rows, header=COLUMNS, name=name, at=at))
        run(batches[-1])
    return batches


def _assert_as_read_one_by_one(day) -> None:
    """Every line stands as `weigh` has it, which reads nothing but the line's own records."""
    for line in ServiceLine.objects.order_by("id"):
        weighed, _ = line_weighed(line.pk, day)
        facts = weighed.facts
        assert (line.system_material, line.customer_material, line.connector) == (
            facts.system, facts.customer, facts.connector
        ), line  # fmt: skip
        assert line.system_was_lead == facts.system_was_lead, line
        kept = Conflict.objects.filter(line=line, resolved_at=None)
        assert sorted(kept.values_list("portion", "sentence", "evidence_ids")) == sorted(
            (found.portion, found.reason, list(found.record_ids)) for found in weighed.conflicts
        ), line
        assert line.in_conflict == bool(weighed.conflicts), line


def test_each_pair_of_statements_stands_as_if_the_line_were_read(pairs):
    assert ServiceLine.objects.count() == len(SAID) ** 2
    assert 0 < Conflict.objects.count() < len(SAID) ** 2
    _assert_as_read_one_by_one(APRIL.date())
    assert standings_compare(recorded_at=MAY)["differences"] == 0


def test_only_lines_that_need_it_are_read(pairs, monkeypatch):
    read = []

    def noted(ids):
        read.extend(ids)
        return weighing.evidence_rows(ids)

    monkeypatch.setattr(standings, "evidence_rows", noted)
    standings_compare(recorded_at=MAY)
    replaced = Evidence.objects.filter(basis="REPLACEMENT").values_list("line_id", flat=True)
    assert set(replaced) <= set(read), "a replacement counts from its own day"
    assert len(set(read)) < ServiceLine.objects.count() / 2


def test_a_withdrawn_file_leaves_the_lines_as_the_rest_has_them(pairs):
    intake_undo(batch=pairs[1], by="clerk", at=MAY)
    _assert_as_read_one_by_one(MAY.date())
    intake_undo(batch=pairs[0], by="clerk", at=MAY)
    assert set(ServiceLine.objects.values_list("category", flat=True)) == {None}
    assert standings_compare(recorded_at=MAY)["differences"] == 0


def test_another_rule_makes_every_code_anew(pairs, monkeypatch):
    before = set(KnownFact.objects.values_list("code", flat=True))
    strict = replace(evidence_policy(MAY.date()), points_needed=1)
    monkeypatch.setattr(weigher, "evidence_policy", lambda day: strict)
    found = standings_compare(recorded_at=MAY)
    assert found["differences"] > 0
    assert before.isdisjoint(KnownFact.objects.values_list("code", flat=True))
    standings_derive(line_ids=None, recorded_at=MAY, by="restate")
    monkeypatch.setattr(standings, "_stage_sums", lambda *rest, **more: (None, _all_ids()))
    assert standings_compare(recorded_at=MAY)["differences"] == 0, "read line by line"


def _all_ids() -> set[int]:
    return set(ServiceLine.objects.values_list("id", flat=True))


def test_a_record_from_before_codes_gets_them_with_the_first_comparison(pairs, monkeypatch):
    codes = list(Evidence.objects.order_by("id").values_list("fact_code", flat=True))
    assert None in codes and len(set(codes)) > 10
    Evidence.objects.update(fact_code=None)
    KnownFact.objects.all().delete()
    KnownSum.objects.all().delete()
    monkeypatch.setattr(sums, "MANY_WITHOUT", 1)
    assert standings_compare(recorded_at=MAY)["differences"] == 0
    assert list(Evidence.objects.order_by("id").values_list("fact_code", flat=True)) == codes


def test_sums_that_were_never_met_are_weighed_by_one_line_that_has_them(pairs):
    met = KnownSum.objects.count()
    assert 10 < met <= len(SAID) ** 2
    KnownSum.objects.all().delete()
    ServiceLine.objects.filter(location_id="L003").update(connector="UNKNOWN")
    found = standings_compare(recorded_at=MAY)
    assert [one["location_id"] for one in found["examples"]] == ["L003"]
    assert found["examples"][0]["derived"] == {"connector": "LEAD"}


def test_days_can_lie_in_as_many_orders_as_there_are_weak_orderings():
    """Fubini numbers, OEIS A000670 (from memory): 1, 1, 3, 13, 75."""
    assert [len(sums.orders(number)) for number in range(5)] == [1, 1, 3, 13, 75]
    assert sorted(sums.orders(2)) == [(1, 1), (1, 2), (2, 1)]


@pytest.mark.django_db
def test_a_code_tells_the_fact_and_the_rule_that_it_was_found_under():
    policy = evidence_policy(MAY.date())
    other = replace(policy, diameter_nonlead_over_in=2.0)
    statement = ("SYSTEM", "NOW", "COPPER", "RECORD_TAP_CARD", 0, None, 1950, 0.75)
    codes = [Facts(one).code(*statement) for one in (policy, policy, other)]
    assert codes[0] == codes[1] != codes[2]
    assert 0 < codes[0] < 2**BITS
    assert rule_key(policy) != rule_key(other)
    known = Facts(policy)
    same = [known.code(*statement[:6], year, 0.75) for year in (1950, 1951, 1962)]
    assert len(set(same)) == 1, "before the ban, the year plays no part"
    assert known.code(*statement[:6], 1999, 0.75) != same[0]
    replaced = (*statement[:3], "REPLACEMENT", *statement[4:])
    assert known.code(*replaced) is None


@pytest.mark.django_db
def test_another_table_of_bases_makes_another_key(monkeypatch, tmp_path):
    """What a basis can show is read from a table, so codes rest on the table as on the rule."""
    policy = evidence_policy(MAY.date())
    before = rule_key(policy)
    table = tmp_path / "bases.toml"
    text = facts._TABLES[0].read_text(encoding="utf-8")
    table.write_text(text.replace("strength = ", "strength = 1", 1), encoding="utf-8")
    monkeypatch.setattr(facts, "_TABLES", (table,))
    facts._program.cache_clear()
    try:
        assert rule_key(policy) != before
    finally:
        facts._program.cache_clear()


def test_a_sum_given_other_codes_by_hand_is_named_and_weighs_no_line(pairs):
    one, other = KnownSum.objects.order_by("total")[:2]
    KnownSum.objects.filter(total=one.total).update(codes=other.codes)
    assert [str(one.total) in said for said in sums_add_up()] == [True]
    assert standings_compare(recorded_at=MAY)["differences"] == 0
    KnownSum.objects.filter(total=one.total).update(codes=[*one.codes, "altered"])
    assert len(list(sums_add_up())) == 1


def test_what_is_said_again_and_again_is_added_up_like_what_is_said_once(pairs, monkeypatch):
    """A line with a long history that says the same needs not be read."""
    read = []
    rows_of = standings.evidence_rows
    monkeypatch.setattr(standings, "evidence_rows", lambda ids: rows_of(read.append(ids) or ids))
    assert standings_compare(recorded_at=MAY)["differences"] == 0
    for _ in range(5):
        again = list(Evidence.objects.order_by("id")[: len(SAID)])
        Evidence.objects.bulk_create(
            Evidence(
                **{f.attname: getattr(row, f.attname) for f in row._meta.fields if f.name != "id"}
            )
            for row in again
        )
    KnownSum.objects.all().delete()
    before = {pk for ids in read for pk in ids}
    read.clear()
    assert standings_compare(recorded_at=MAY)["differences"] == 0
    assert {pk for ids in read for pk in ids} == before
