"""What a part has been through, and whether its rating is believed (constructed)."""

from dataclasses import replace
from datetime import date

import pytest

from replacements.domain.findings import Level
from replacements.domain.ropes import constructions
from replacements.domain.tool_strings import Kind, StringCase, propose, strength
from replacements.domain.tool_strings.components import Overload
from replacements.domain.tool_strings.condition import wear_limits, wear_share

from .test_tool_strings_checks import found_in
from .tools import DAY, FIGURES, NEW, OLD, good_string, tool, tools

OVER = Overload("W-12", date(2027, 4, 2), 4600, 3840)
BROKEN = Overload("W-13", date(2027, 4, 3), 2100)


def cable_limit(string):
    case = StringCase(tool_string=string, old_pipe=OLD, new_pipe=NEW, length_ft=60, as_of=DAY)
    return next(limit.limit_lbf for limit in strength(case).total if limit.kind == "CABLE")


def chosen(*more, **changed):
    proposal = propose(OLD, NEW, [*tools(**changed), *more], 60, DAY)
    parts = proposal.tool_string.parts if proposal.tool_string else ()
    return proposal, {part.component.kind: part.component.mark for part in parts}


# ---- overload -------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["cable", "jaw_set", "swivel", "blade", "expander"])
def test_a_part_of_an_overloaded_string_is_out_of_use(kind):
    found = found_in(good_string(**{kind: {"overloads": (OVER,)}}))["OVERLOADED"]
    assert found.level is Level.STOP and "4,600 lb against 3,840 lb" in found.message
    assert "W-12" in found.message and "competent person" in found.do


def test_a_cable_that_broke_needs_no_limit_to_be_out_of_use():
    found = found_in(good_string(jaw_set={"overloads": (BROKEN,)}))["OVERLOADED"]
    assert "ended in a broken cable or jaws that let go" in found.message


def test_an_overloaded_part_is_not_proposed_and_the_reason_is_said():
    """The next order was once offered the same cable, jaws, clevis and swivel as good."""
    spoiled = {kind: {"overloads": (OVER,)} for kind in ("cable", "jaw_set", "swivel")}
    proposal, _ = chosen(**spoiled)
    assert proposal.tool_string is None
    said = [line for line in (*proposal.missing, *proposal.advised) if "4,600 lb against" in line]
    assert [line.split(":")[0] for line in said] == ["Cable", "Jaw set", "Swivel"]
    spare = [tool(kind, "SPARE") for kind in (Kind.CABLE, Kind.JAW_SET, Kind.SWIVEL)]
    _, marks = chosen(*spare, **spoiled)
    assert {marks[kind] for kind in (Kind.CABLE, Kind.JAW_SET, Kind.SWIVEL)} == {"SPARE"}


# ---- wear -----------------------------------------------------------------------------------


def test_every_wear_limit_names_a_kind_and_its_source():
    assert set(wear_limits()) <= {kind.value for kind in Kind}
    assert {"CABLE", "JAW_SET", "BLADE", "SWIVEL"} <= set(wear_limits())
    assert all(limit.pulls > 0 and limit.source for limit in wear_limits().values())


def test_a_part_with_its_pulls_used_up_asks_for_a_decision():
    most = wear_limits()["JAW_SET"].pulls
    below = found_in(good_string(jaw_set={"pulls_since": most - 1}))
    at = found_in(good_string(jaw_set={"pulls_since": most}))["WEAR_LIMIT"]
    assert "WEAR_LIMIT" not in below
    assert at.level is Level.CAUTION and f"{most} pulls since it was inspected" in at.message
    assert at.source.endswith("[judgment]")


def test_the_least_worn_is_proposed_not_the_highest_typed_number():
    worn = {"pulls_since": 12}
    strong = tool(Kind.SWIVEL, "SW-STRONG", rated_lbf=9000, pulls_since=20)
    fresh = tool(Kind.SWIVEL, "SW-FRESH", rated_lbf=5000, pulls_since=1)
    assert chosen(strong, fresh, swivel=worn)[1][Kind.SWIVEL] == "SW-FRESH"
    assert wear_share(fresh) < wear_share(strong) < 1


def test_a_fresh_part_that_would_be_the_weakest_link_gives_way():
    """The cable is allowed 3,840 lb: a swivel of 2,000 lb would lower the whole string."""
    weak = tool(Kind.SWIVEL, "SW-WEAK", rated_lbf=2000, pulls_since=0)
    assert chosen(weak, swivel={"pulls_since": 12})[1][Kind.SWIVEL] == "SW-1"


def test_fit_goes_before_wear():
    near = tool(Kind.EXPANDER, "EX-NEAR", outside_in=1.4, pulls_since=20)
    assert chosen(near, expander={"pulls_since": 0})[1][Kind.EXPANDER] == "EX-NEAR"


# ---- ratings --------------------------------------------------------------------------------


def test_one_zero_too_many_is_a_stop_and_not_believed():
    """144,000 lb on a 3/8 in. cable, where the table knows 14,400 lb."""
    typed = good_string(cable={"breaking_force_lbf": 144_000})
    found = found_in(typed)["CERTIFICATE_DOUBTED"]
    assert found.level is Level.STOP
    assert "144,000 lb" in found.message and "14,400 lb" in found.message
    assert cable_limit(typed) <= 1.2 * 3840
    _, marks = chosen(tool(Kind.CABLE, "CA-ZERO", breaking_force_lbf=144_000, length_ft=90))
    assert marks[Kind.CABLE] == "CA-1"


def test_a_second_person_who_read_the_paper_lets_a_strong_cable_pass():
    read = good_string(cable={"breaking_force_lbf": 18_000, "rating_confirmed": True})
    assert "CERTIFICATE_DOUBTED" not in found_in(read) and cable_limit(read) == 4800
    unread = good_string(cable={"breaking_force_lbf": 18_000})
    assert "CERTIFICATE_DOUBTED" in found_in(unread) and cable_limit(unread) == 4608


@pytest.mark.parametrize(("certified", "stops"), [(14_400, 0), (17_280, 0), (17_281, 1)])
def test_a_certificate_may_lie_a_stated_share_above_the_table(certified, stops):
    """A fifth (judgment): makers differ by a few percent."""
    found = found_in(good_string(cable={"breaking_force_lbf": certified}))
    assert ("CERTIFICATE_DOUBTED" in found) == bool(stops)


def test_a_zero_too_few_asks_for_a_second_look():
    found = found_in(good_string(cable={"breaking_force_lbf": 1440}))
    assert found["CERTIFICATE_LOW"].level is Level.CAUTION


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"construction": "8X36 SPECIAL"}, "knows no 8X36 SPECIAL of 3/8 in"),
        ({"construction": ""}, "no construction is on record"),
        ({"construction": "7X19 STAINLESS", "pulling_end_in": 0.5}, "7X19 STAINLESS of 1/2 in"),
    ],
)
def test_a_construction_that_no_table_knows_is_a_stop_until_its_paper_is_read(changed, said):
    found = found_in(good_string(cable=changed))["CONSTRUCTION_UNKNOWN"]
    assert found.level is Level.STOP and said in found.message
    read = found_in(good_string(cable={**changed, "rating_confirmed": True}))
    assert "CONSTRUCTION_UNKNOWN" not in read and "RATING_MISSING" not in read


@pytest.mark.parametrize("construction", constructions())
def test_every_construction_of_the_list_is_known_in_some_size(construction):
    from replacements.domain.reference_tables import rows

    row = next(row for row in rows("wire_rope") if row["construction"] == construction)
    figures = {
        "construction": construction,
        "pulling_end_in": float(row["diameter_in"]),
        "breaking_force_lbf": float(row["breaking_force_lbf"]),
    }
    found = found_in(good_string(cable=figures))
    assert not {"CONSTRUCTION_UNKNOWN", "CERTIFICATE_DOUBTED", "CERTIFICATE_LOW"} & set(found)


@pytest.mark.parametrize("kind", ["jaw_set", "expander", "swivel"])
def test_a_part_stronger_than_any_cable_of_its_size_is_looked_at_twice(kind):
    """The strongest 3/8 in. cable of the table breaks at 17,400 lb."""
    zero = FIGURES[Kind(kind.upper())]["rated_lbf"] * 10
    assert (
        found_in(good_string(**{kind: {"rated_lbf": zero}}))["RATING_DOUBTED"].level is Level.STOP
    )
    read = {"rated_lbf": zero, "rating_confirmed": True}
    assert "RATING_DOUBTED" not in found_in(good_string(**{kind: read}))
    assert "RATING_DOUBTED" not in found_in(good_string())


def test_an_overload_is_held_against_what_is_believed_of_a_cable():
    """A peak of 8,000 lb is over half of 14,400 lb whatever was typed."""
    typed = {"breaking_force_lbf": 144_000, "peak_force_lbf": 9_000}
    assert "RETIRED" in found_in(good_string(cable=typed))
    assert replace(OVER, limit_lbf=None).told != OVER.told
