"""Unknown lines: used only where better, ranked never categorized, drawn with known chances."""

import random
import statistics
from collections import Counter
from itertools import product

import numpy as np
import pytest
from scipy.stats import binom

from program.planning.unknowns import (
    BadUnknowns,
    LineFeatures,
    choose,
    compare,
    estimate_share,
    fit,
    inspection_list,
    interval,
    lead_shares,
    spatial_folds,
)
from program.planning.unknowns.shares import cell_of


def _lines(count, seed, lead_chance):
    draw = random.Random(seed)
    lines = []
    for k in range(count):
        east, north = draw.random() * 4000, draw.random() * 4000
        decade = draw.choice([1900, 1920, 1940, 1960])
        other = draw.choice(["LEAD", "COPPER", ""])
        lead = draw.random() < lead_chance(east, north, decade, other)
        lines.append(
            LineFeatures(
                f"L{k:04d}",
                43 + north / 111_000,
                -88 + east / 81_000,
                f"H{int(east // 2000)}{int(north // 2000)}",
                decade,
                draw.choice([0.75, 1.0]),
                other,
                lead,
            )
        )
    return lines


def _by_decade(east, north, decade, other):
    return {1900: 0.7, 1920: 0.5, 1940: 0.25, 1960: 0.05}[decade]


def _by_other_portion(east, north, decade, other):
    return {"LEAD": 0.85, "COPPER": 0.1, "": 0.45}[other]


def test_model_that_knows_more_is_used():
    """Constructed: lead follows the other portion, which the plain rate does not see."""
    told = compare(_lines(900, 1, _by_other_portion))
    assert told.use_model
    assert told.lift > 0.2
    assert told.model_brier < told.base_brier
    assert "The model is used." in told.sentence()


def test_model_that_knows_no_more_is_not_used():
    """Constructed: lead follows the decade alone, all of which the plain rate sees."""
    told = compare(_lines(900, 2, _by_decade))
    assert not told.use_model
    assert "the plain rate stands" in told.sentence()


def test_probabilities_come_from_the_better_of_the_two():
    verified = _lines(600, 3, _by_other_portion)
    unknown = [
        LineFeatures("U1", 43.01, -87.99, "H00", 1920, 0.75, "LEAD"),
        LineFeatures("U2", 43.01, -87.99, "H00", 1920, 0.75, "COPPER"),
        LineFeatures("U3", None, None, "NEW", None),
    ]
    chances, _, told = choose(verified, unknown)
    assert told.use_model
    assert chances["U1"] > 0.7 > 0.3 > chances["U2"]
    assert 0 < chances["U3"] < 1


def test_few_verified_lines_fall_back_on_the_plain_rate():
    verified = _lines(12, 4, _by_decade)
    unknown = [LineFeatures("U", 43.0, -88.0, "H00", 1900)]
    chances, shares, told = choose(verified, unknown)
    assert told is None
    assert [chances["U"]] == shares.chances(unknown)


def test_no_verified_line_is_told():
    with pytest.raises(BadUnknowns, match="inspect some first"):
        choose([], [LineFeatures("U", 43.0, -88.0, "H00", 1900)])
    with pytest.raises(BadUnknowns, match="too few to learn"):
        fit(_lines(10, 1, _by_decade))


def test_a_cell_without_verified_lines_leans_on_its_decade_and_is_less_sure():
    verified = _lines(400, 5, _by_decade)
    shares = lead_shares(verified)
    old, new = (LineFeatures("U", None, None, "ELSEWHERE", decade) for decade in (1900, 1960))
    of_old, of_new = shares.chances([old, new])
    found = [line.is_lead for line in verified if line.decade == 1900]
    assert of_old == pytest.approx(sum(found) / len(found), abs=0.08)
    assert of_new < of_old
    here = LineFeatures("U", None, None, verified[0].neighborhood, 1900)
    spread = {
        cell: draws.std()
        for cell, draws in zip(
            ("here", "elsewhere"),
            shares.draws([cell_of(here), cell_of(old)], 4_000, 1),
            strict=True,
        )
    }
    assert spread["elsewhere"] > spread["here"]


def test_neighbors_of_a_block_are_left_out_together():
    lines = _lines(500, 6, _by_decade)
    places = spatial_folds(lines)
    folds = {}
    for block, fold in places:
        assert folds.setdefault(block, fold) == fold
    sizes = Counter(fold for _, fold in places)
    assert set(sizes) == set(range(5))
    assert max(sizes.values()) - min(sizes.values()) <= 15


def test_list_has_a_likely_and_a_random_part():
    chances = {f"L{k:03d}": k / 1000 for k in range(500)}
    hoods = {line: f"H{k % 4}" for k, line in enumerate(chances)}
    listed = inspection_list(chances, hoods, 100, 0.3, seed=5)
    chosen = [i.line_id for i in listed.inspections if i.part == "CHOSEN"]
    assert chosen == [f"L{k:03d}" for k in range(499, 429, -1)]
    assert len(listed.inspections) == len({i.line_id for i in listed.inspections}) == 100
    drawn = [one for one in listed.inspections if one.part == "DRAWN"]
    counts = Counter(one.stratum for one in drawn)
    for one in drawn:
        assert one.inclusion == counts[one.stratum] / listed.stratum_sizes[one.stratum]
    # The weights of those drawn add up to the lines they stand for.
    weights = sum(1 / i.inclusion for i in listed.inspections if i.part == "DRAWN")
    assert weights == pytest.approx(430)
    assert listed == inspection_list(chances, hoods, 100, 0.3, seed=5)
    assert listed != inspection_list(chances, hoods, 100, 0.3, seed=6)


def test_estimate_worked_by_hand():
    """Constructed: 2 chosen (1 lead); strata of 10 (1 of 2 lead), 6 (0 of 2): 1 + 5 + 0 of 18."""
    chances = {f"A{k}": 0.9 - k / 100 for k in range(2)}
    chances |= {f"B{k}": 0.1 for k in range(10)} | {f"C{k}": 0.05 for k in range(6)}
    hoods = {line: line[0] for line in chances}
    listed = inspection_list(chances, hoods, 6, 4 / 6)
    drawn = {s: [i.line_id for i in listed.inspections if i.stratum == s] for s in "ABC"}
    assert [len(drawn[s]) for s in "ABC"] == [2, 2, 2]
    found = {"A0": True, "A1": False, drawn["B"][0]: True, drawn["B"][1]: False}
    found |= dict.fromkeys(drawn["C"], False)
    told = estimate_share(listed, found)
    assert told.lead_total == pytest.approx(6)
    assert told.share == pytest.approx(6 / 18)
    assert told.low < told.share < told.high
    assert "About 6 of 18 unknown lines are lead (33.3%" in told.sentence()


@pytest.mark.parametrize("draws", [1, 3, 8, 30])
def test_with_fewer_draws_than_neighborhoods_the_estimate_is_still_unbiased(draws):
    """Lead in the small ones only: by simulation, the mean is within three of its errors."""
    lines = {f"{h}-{k}": h for h in range(12) for k in range(8 + 9 * h)}
    lead = {line: h < 5 and (int(line.split("-")[1]) % 2 == 0) for line, h in lines.items()}
    chances = dict.fromkeys(lines, 0.1)
    hoods = {line: f"H{h:02}" for line, h in lines.items()}
    told = [
        estimate_share(inspection_list(chances, hoods, draws, 1.0, seed), lead)
        for seed in range(1_500)
    ]
    shares = [one.lead_total / len(lines) for one in told]
    error = statistics.stdev(shares) / len(shares) ** 0.5
    true = sum(lead.values()) / len(lines)
    assert abs(statistics.mean(shares) - true) < 3 * error
    assert not any(one.open_strata for one in told)
    if draws >= 8:
        assert sum(one.low <= true <= one.high for one in told) >= 0.93 * len(told)


def test_neighborhoods_are_joined_the_smallest_first_and_named():
    chances = {f"{h}{k}": 0.1 for h, n in (("A", 3), ("B", 4), ("C", 30)) for k in range(n)}
    hoods = {line: line[0] for line in chances}
    listed = inspection_list(chances, hoods, 4, 1.0)
    assert listed.stratum_sizes == {"C": 30, "A + B": 7}
    assert {one.stratum for one in listed.inspections} == {"C", "A + B"}
    some = next(one.line_id for one in listed.inspections if one.stratum == "C")
    assert (
        "No line drawn in A + B is settled yet" in estimate_share(listed, {some: True}).sentence()
    )


def test_nothing_found_still_leaves_an_interval():
    chances = {f"L{k}": 0.1 for k in range(200)}
    listed = inspection_list(chances, dict.fromkeys(chances, "H"), 20, 1.0)
    told = estimate_share(listed, dict.fromkeys(chances, False))
    assert told.share == 0
    assert 0.1 < told.high < 0.25


def test_every_line_inspected_is_no_estimate_any_more():
    chances = {f"L{k}": 0.1 for k in range(40)}
    listed = inspection_list(chances, dict.fromkeys(chances, "H"), 40, 1.0)
    told = estimate_share(listed, {line: k < 8 for k, line in enumerate(chances)})
    assert (told.low, told.share, told.high) == (0.2, 0.2, 0.2)


def test_lists_and_estimates_that_can_not_be_made_say_why():
    with pytest.raises(BadUnknowns, match="no inspection"):
        inspection_list({"L": 0.1}, {"L": "H"}, 0)
    with pytest.raises(BadUnknowns, match="Line L has no neighborhood"):
        inspection_list({"L": 0.1}, {}, 1)
    listed = inspection_list({"L": 0.1, "M": 0.2}, {"L": "H", "M": "H"}, 2, 0.5)
    with pytest.raises(BadUnknowns, match="likely ones alone"):
        estimate_share(listed, {"M": True})


def test_a_range_of_few_lines_is_the_one_nearest_nine_in_ten_and_never_cut_to_none():
    def held(count, share):
        low, high = interval(count, np.full(20_000, share))
        return low, high, binom.cdf(high, count, share) - binom.cdf(low - 1, count, share)

    assert held(10, 0.01)[:2] == (0, 1)  # 90.4 % for "none" would be nearer, and be misread
    assert held(10, 0.002)[:2] == (0, 0)
    trimmed = 0
    for count, share in product((10, 12, 15, 20, 30), (0.05, 0.1, 0.2, 0.35, 0.5)):
        low, high, inside = held(count, share)
        least, most = (int(binom.ppf(end, count, share)) for end in (0.05, 0.95))
        for other in product((least, least + 1), (most - 1, most)):
            if other[1] > 0:
                mass = binom.cdf(other[1], count, share) - binom.cdf(other[0] - 1, count, share)
                assert abs(inside - 0.9) <= abs(mass - 0.9) + 0.02, (count, share, other)
        trimmed += inside < 0.9
    assert trimmed > 5
