"""The planning model against other people's programs and against trying everything.

Oracles: enumeration; scipy.optimize.linprog; scipy.stats and statsmodels; scikit-learn; pyproj's
geodesics (Karney 2013); the 49 Columbus neighborhoods of Anselin (1988) that libpysal carries.
"""

import itertools
import random
from collections import Counter
from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import ceil

import numpy as np
import pytest
from scipy import stats

from program.planning.crew_calendar import WorkDays, working_days
from program.planning.forecast import (
    ForecastCase,
    ForecastGroup,
    Uncertainty,
    crews_needed,
    forecast,
)
from program.planning.geometry import distance_m, on_plane
from program.planning.routes import path_length, shortest_order, shortest_path
from program.planning.solver import Quota, draw
from program.planning.solver.years import mean_priority, year_model
from program.planning.unknowns import (
    LineFeatures,
    calibration_curve,
    estimate_share,
    inspection_list,
)
from program.planning.unknowns.logistic import coefficients
from program.planning.work_areas import AreaSize, PoolLine, WorkArea, group
from tests.program.planning.cases import small_case
from tests.program.planning.enumerated import every_plan


@pytest.mark.parametrize("seed", range(6))
def test_small_plan_is_the_best_of_all_plans(seed):
    """Enumeration of all 729 year choices (and every crew choice in each year)."""
    case = small_case(seed=seed)
    plan = draw(case)
    best = every_plan(case)
    assert plan.bound <= best + 1e-6
    # The two stages may leave an opening more than the joint optimum, never a bound above it.
    assert plan.objective <= best + mean_priority(case) * case.settings.move_weight * 2 + 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_crews_are_loaded_as_evenly_as_so_few_openings_allow(seed):
    """Enumeration of every crew choice in each year: the fullest crew is within a tenth."""
    case = small_case(seed=seed)
    plan = draw(case)
    crew_of = {placement.area_id: placement.crew - 1 for placement in plan.placements}
    for year in case.years:
        placed = [a for a in case.areas if plan.year_of()[a.id] == year.year]
        if not placed:
            continue
        chosen = [crew_of[area.id] for area in placed]
        most = _openings(placed, chosen)
        ways = itertools.product(range(len(year.crew_jobs)), repeat=len(placed))
        best = min(_fullest(placed, way, year) for way in ways if _openings(placed, way) <= most)
        assert _fullest(placed, chosen, year) <= best * 1.12


def _openings(placed, crews) -> int:
    return len({(area.neighborhood, crew) for area, crew in zip(placed, crews, strict=True)})


def _fullest(placed, crews, year) -> float:
    load = [0] * len(year.crew_jobs)
    for area, crew in zip(placed, crews, strict=True):
        load[crew] += area.jobs
    return max(used / sum(jobs) for used, jobs in zip(load, year.crew_jobs, strict=True))


@pytest.mark.parametrize("seed", range(6))
def test_without_moves_the_plan_costs_exactly_the_best(seed):
    case = small_case(seed=seed, move_weight=0.0)
    assert draw(case).objective == pytest.approx(every_plan(case), rel=1e-9)


def _uneven_case(seed):
    """Another number of crews and another budget each year, closures, a quota of three areas."""
    case = small_case(seed=seed, move_weight=0.0, rate=Fraction(1, 20))
    first, second, third = case.years
    crew = first.crew_jobs[0]
    areas = list(case.areas)
    areas[0] = replace(areas[0], allowed_years=frozenset({2, 3}))
    areas[3] = replace(areas[3], allowed_years=frozenset({1, 3}))
    years = (
        replace(first, crew_jobs=(crew,), budget=first.budget * 0.7),
        replace(second, crew_jobs=(crew, crew, crew), budget=second.budget * 1.4),
        replace(third, crew_jobs=(crew, crew)),
    )
    quota = Quota("three areas", 0.3, (2,), frozenset({"A1", "A2", "A4"}))
    return replace(case, areas=tuple(areas), years=years, quotas=(quota,))


@pytest.mark.parametrize("seed", range(5))
def test_with_crews_and_money_of_their_own_each_year_the_plan_still_costs_the_best(seed):
    case = _uneven_case(seed)
    plan, best = draw(case), every_plan(case)
    if best is None:
        assert plan.status == "INFEASIBLE"
    else:
        assert plan.objective == pytest.approx(best, rel=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_linear_relaxation_bounds_the_plan(seed):
    """scipy.optimize.linprog on the same rows and columns, fractions allowed."""
    from scipy.optimize import linprog
    from scipy.sparse import csr_matrix

    case = small_case(areas=24, years=5, crews=3, seed=seed)
    model = year_model(case).model
    rows = csr_matrix(
        (model.factors, model.columns, model.starts),
        shape=(len(model.row_lowers), len(model.costs)),
    )
    low, high = np.array(model.row_lowers), np.array(model.row_uppers)
    same = low == high
    below, above = np.isfinite(high) & ~same, np.isfinite(low) & ~same
    relaxed = linprog(
        model.costs,
        A_ub=_stack(rows[below], -rows[above]),
        b_ub=np.concatenate([high[below], -low[above]]),
        A_eq=rows[same],
        b_eq=low[same],
        bounds=list(zip(model.lowers, model.uppers, strict=True)),
    )
    plan = draw(replace(case, settings=replace(case.settings, gap=0.002)))
    assert relaxed.status == 0
    assert relaxed.fun <= plan.bound + 1e-6 <= plan.objective + 2e-6
    assert plan.objective <= relaxed.fun * 1.10


def _stack(*parts):
    from scipy.sparse import vstack

    return vstack(parts)


@pytest.mark.parametrize("seed", range(5))
def test_route_is_the_shortest_of_all_orders(seed):
    draw_ = random.Random(seed)
    points = [(43 + draw_.random() / 50, -88 + draw_.random() / 50) for _ in range(8)]
    table = [[distance_m(a, b) for b in points] for a in points]
    best = min(path_length(order, table) for order in itertools.permutations(range(8)))
    assert path_length(shortest_order(points), table) == pytest.approx(best)


def test_longer_route_is_near_the_exact_one():
    """Fourteen places by dynamic programming against the shortened way: within 3 %."""
    from program.planning import routes

    worst = 1.0
    for seed in range(4):
        draw_ = random.Random(seed)
        points = [(43 + draw_.random() / 50, -88 + draw_.random() / 50) for _ in range(14)]
        table = [[distance_m(a, b) for b in points] for a in points]
        exact = path_length(routes._exact(table, None, None), table)
        order = shortest_path(table)
        assert sorted(order) == list(range(14))
        worst = max(worst, path_length(order, table) / exact)
    assert worst <= 1.03


def test_distances_agree_with_geodesics():
    from pyproj import Geod

    geod = Geod(ellps="WGS84")
    draw_ = random.Random(5)
    for _ in range(200):
        lat, lon = draw_.uniform(25, 48), draw_.uniform(-120, -70)
        a, b = (lat, lon), (lat + draw_.uniform(-0.05, 0.05), lon + draw_.uniform(-0.05, 0.05))
        _, _, truth = geod.inv(a[1], a[0], b[1], b[0])
        assert distance_m(a, b) == pytest.approx(truth, rel=2e-5, abs=0.01)


def test_plane_agrees_with_a_projection():
    """Against pyproj's azimuthal equidistant projection about the same middle, over 5 km."""
    from pyproj import Proj

    middle = (43.05, -87.95)
    points = [(43.05 + k / 500, -87.95 + k / 700) for k in range(-20, 21)]
    projected = Proj(proj="aeqd", lat_0=middle[0], lon_0=middle[1], ellps="WGS84")
    for (lat, lon), (x, y) in zip(points, on_plane(points, middle), strict=True):
        east, north = projected(lon, lat)
        assert (x, y) == (pytest.approx(east, abs=2.5), pytest.approx(north, abs=2.5))


@pytest.fixture(scope="module")
def columbus():
    """Houses invented on a street grid inside the 49 real polygons, moved to degrees."""
    import geopandas
    import shapely
    from libpysal import examples

    shapes = geopandas.read_file(examples.get_path("columbus.shp")).geometry
    west, south, *_ = shapes.total_bounds
    draw_ = random.Random(49)
    lines = []
    for number, shape in enumerate(shapes):
        x0, y0, x1, y1 = shape.bounds
        for _ in range(int(40 + 60 * shape.area)):
            x, y = draw_.uniform(x0, x1), round(draw_.uniform(y0, y1) * 8) / 8
            if shapely.contains_xy(shape, x, y):
                lat, lon = 39.9 + (y - south) / 111, -83.1 + (x - west) / 85
                house = 100 + int((x - west) * 400)
                lines.append(
                    PoolLine(f"L{len(lines):05d}", f"ROW {y}", house, f"N{number:02d}", lat, lon)
                )
    return lines


def test_work_areas_in_the_columbus_neighborhoods(columbus):
    size = AreaSize(15, 30, 60)
    grouping = group(columbus, size)
    counted = Counter(line_id for area in grouping.areas for line_id in area.line_ids)
    assert set(counted.values()) == {1}
    assert set(counted) == {line.id for line in columbus}
    hood_of = {line.id: line.neighborhood for line in columbus}
    per_hood = Counter(hood_of.values())
    for area in grouping.areas:
        assert {hood_of[line_id] for line_id in area.line_ids} == {area.neighborhood}
        assert area.jobs <= 60
        # Only a neighborhood too small for one whole area has a remainder.
        assert area.small == (area.jobs < 15)
        assert not area.small or per_hood[area.neighborhood] < 15
    assert len({area.id for area in grouping.areas}) == len(grouping.areas)


def spread_m(area: WorkArea, lines) -> float:
    """Root mean square distance of the area's lines from their middle, in meters."""
    members = [(line.lat, line.lon) for line in lines if line.id in set(area.line_ids)]
    plane = on_plane(members)
    return (sum(x * x + y * y for x, y in plane) / len(plane)) ** 0.5


def test_work_areas_are_more_compact_than_lines_taken_in_street_order(columbus):
    """The same number of lines cut off an address list, as a spreadsheet would, spreads wider."""
    areas = [a for a in group(columbus).areas if not a.small]
    ours = sum(a.jobs * spread_m(a, columbus) ** 2 for a in areas) / sum(a.jobs for a in areas)
    total = jobs = 0.0
    for hood in {a.neighborhood for a in areas}:
        listed = sorted(
            (ln for ln in columbus if ln.neighborhood == hood), key=lambda ln: (ln.street, ln.id)
        )
        pieces = sum(area.neighborhood == hood for area in areas)
        for k in range(pieces):
            part = listed[len(listed) * k // pieces : len(listed) * (k + 1) // pieces]
            plane = np.array(on_plane((ln.lat, ln.lon) for ln in part))
            total += (plane**2).sum()
            jobs += len(part)
    assert ours < total / jobs


def _verified(rng, count=400):
    lines = []
    for k in range(count):
        hood, decade = f"H{rng.integers(5)}", int(rng.choice([1900, 1920, 1940, 1960]))
        share = {1900: 0.7, 1920: 0.5, 1940: 0.2, 1960: 0.02}[decade]
        lines.append(
            LineFeatures(
                f"L{k}",
                43 + rng.random() / 50,
                -88 + rng.random() / 50,
                hood,
                decade,
                0.75,
                "COPPER" if rng.random() < 0.5 else "LEAD",
                bool(rng.random() < share),
            )
        )
    return lines


def test_logistic_coefficients_are_those_of_scikit_learn():
    from sklearn.linear_model import LogisticRegression

    rng = np.random.default_rng(8)
    table = rng.normal(size=(500, 6))
    chance = 1 / (1 + np.exp(-(table[:, 0] - 0.5 * table[:, 1] - 1)))
    lead = (rng.random(500) < chance).astype(float)
    ours = coefficients(np.column_stack([np.ones(500), table]), lead, penalty=1.0)
    theirs = LogisticRegression(C=1.0, tol=1e-10, max_iter=1000).fit(table, lead)
    assert ours[0] == pytest.approx(theirs.intercept_[0], abs=1e-4)
    assert ours[1:] == pytest.approx(theirs.coef_[0], abs=1e-4)


def test_calibration_is_that_of_scikit_learn():
    from sklearn.calibration import calibration_curve as sk_curve

    rng = np.random.default_rng(6)
    predicted = rng.beta(1, 2, 2000)
    lead = (rng.random(2000) < predicted).astype(float)
    found, mean = sk_curve(lead, predicted, n_bins=10)
    bins = calibration_curve(lead, predicted, 10)
    assert [b.found for b in bins] == pytest.approx(found)
    assert [b.predicted for b in bins] == pytest.approx(mean)
    assert sum(b.lines for b in bins) == 2000


def test_estimate_from_the_list_is_unbiased_and_covers():
    """400 lists of one town with 286 lead lines among 1,200: the mean is right, 95 in 100 cover."""
    rng = np.random.default_rng(11)
    chance = {f"L{k}": float(p) for k, p in enumerate(rng.beta(1, 3, 1200))}
    hood = {line: f"H{k % 6}" for k, line in enumerate(chance)}
    # The truth is far from the probabilities: the estimate must not lean on them.
    lead = {line: bool(rng.random() < 0.15 + 0.4 * p) for line, p in chance.items()}
    truth = sum(lead.values()) / 1200
    shares, covered = [], 0
    for seed in range(400):
        listed = inspection_list(chance, hood, 200, 0.5, seed)
        told = estimate_share(listed, lead)
        shares.append(told.share)
        covered += told.low <= truth <= told.high
    error = np.std(shares) / np.sqrt(400)
    assert abs(np.mean(shares) - truth) < 3 * error
    assert 0.92 <= covered / 400 <= 0.99
    naive = np.mean([lead[i.line_id] for i in listed.inspections])
    assert naive > truth + 3 * np.std(shares) / 2


def _known(refusal=(0, 1), days_lost=(0, 0), **changes):
    return Uncertainty(refusal, 0.0, 0.0, days_lost, 0.0, **changes)


def _flat(runs=20_000, **changes):
    """1,000 known lead lines, 105 a year for three years, crews without limit."""
    years = (1, 2, 3)
    values = {
        "first_pool": 1000,
        "groups": tuple(ForecastGroup(y, "H", 105, 0) for y in years),
        "years": years,
        "crews": (10.0,) * 3,
        "crew_days": 200,
        "jobs_per_crew_day": 2.0,
        "required_rate": 0.1,
        "first_assessed_year": 3,
        "uncertainty": _known(),
        "runs": runs,
    }
    return ForecastCase(**(values | changes))


def test_forecast_with_random_refusals_agrees_with_the_binomial_law():
    """Each of 315 owners refuses with chance 5 %: P(at least 300 replaced) in closed form."""
    # A Beta distribution this narrow is a fixed share to four digits.
    told = forecast(_flat(uncertainty=_known((5e6, 95e6))))
    truth = stats.binom.sf(299, 315, 0.95)
    assert told.complies[3] == pytest.approx(truth, abs=4 * np.sqrt(truth * (1 - truth) / 20_000))


def test_forecast_with_an_uncertain_refusal_rate_agrees_with_the_beta_binomial_law():
    told = forecast(_flat(uncertainty=_known((4, 96))))
    truth = stats.betabinom.sf(299, 315, 96, 4)
    assert told.complies[3] == pytest.approx(truth, abs=0.015)


def test_forecast_of_crews_against_the_normal_law():
    """One lognormal factor for the whole program decides: compliance in closed form."""
    spread = 0.15
    case = _flat(
        crews=(1.0,) * 3,
        crew_days=60,
        groups=tuple(ForecastGroup(y, "H", 1000, 0) for y in (1, 2, 3)),
        uncertainty=Uncertainty((0, 1), spread, 0.0, (0, 0), 0.0),
    )
    told = forecast(case)
    # 120 e^z jobs a year, rounded down, against 100 a year.
    truth = stats.norm.sf(np.log(100 / 120) / spread)
    assert told.complies[3] == pytest.approx(truth, abs=0.012)


def test_forecast_of_money_against_the_normal_law():
    """One lognormal factor on the cost of a job decides: a finish in closed form."""
    spread = 0.2
    case = _flat(
        budgets=(1_000_000.0,) * 3,
        cost_per_job=9_000,
        uncertainty=_known(cost_spread=spread),
    )
    told = forecast(case)
    # 105 jobs have to be paid for in every year: 9,000 e^z dollars each of a million.
    truth = stats.norm.cdf(np.log(1_000_000 / (9_000 * 105)) / spread)
    assert told.finishes == pytest.approx(truth, abs=4 * np.sqrt(truth * (1 - truth) / 20_000))
    assert told.short_of_money[1] == pytest.approx(1 - told.finishes)


def test_crews_needed_is_the_first_number_that_is_enough():
    case = _flat(
        crews=(1.0,) * 3,
        crew_days=60,
        jobs_per_crew_day=0.5,
        groups=tuple(ForecastGroup(y, "H", 100, 0) for y in (1, 2, 3)),
        uncertainty=Uncertainty((0, 1), 0.15, 0.0, (0, 0), 0.0),
        runs=4000,
    )
    told = crews_needed(case, 0.9)
    # n crews do 30 n e^z: for 90 % the tenth percentile of e^z, 0.825, must give 100.
    assert told.crews == ceil(100 / (30 * np.exp(stats.norm.ppf(0.1) * 0.15)))
    assert told.probability >= 0.9


def test_working_days_skip_the_federal_holidays_of_numpy_busdays():
    """numpy.busday_count with the eleven federal holidays of 2028 written out by hand."""
    off = "2028-01-17 2028-02-21 2028-05-29 2028-06-19 2028-07-04 2028-09-04".split()
    off += "2028-10-09 2028-11-10 2028-11-23 2028-12-25 2027-12-31 2029-01-01".split()
    days = WorkDays(weekdays=(0, 1, 2, 3, 4))
    ours = working_days(days, date(2028, 1, 1), date(2028, 12, 31))
    assert len(ours) == np.busday_count("2028-01-01", "2029-01-01", holidays=off)
