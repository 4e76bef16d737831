"""Chance of harm at the planned load, and parts that may be too small for it."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.capacities import HAZARDS, Hazardous, capacity, h_plan
from loadworthy.case import Curve
from loadworthy.declarations import Quantity
from loadworthy.findings import Band, Capacity, Demand

QUANTITIES = {"torque": Quantity("torque", "torque", "torque", role="load")}
LOAD = HAZARDS["load"]


def made(plan: float = 441.0, base: float | None = 300.0, half_band: float = 42.0) -> Demand:
    """One speed with q equal to torque, known to +- ``half_band`` (two standard uncertainties)."""
    steps = (tuple(sorted({0.4 * plan, plan, 1.2 * plan, base or plan})),)
    low, high = (tuple(tuple(t + d for t in row) for row in steps) for d in (-half_band, half_band))
    return Demand((50.0,), steps, (plan,), None if base is None else (base,), quantities={"q": Band(low, steps, high)})


@pytest.mark.parametrize(
    ("h0", "exponent", "ratio", "expected"),
    [(0.05, 4, 1.3, 0.1363), (0.15, 3, 1.25, 0.2720), (0.02, 2, 1.4, 0.0388), (0.05, 4, 0.8, 0.0208)],
)
def test_h_plan(h0: float, exponent: float, ratio: float, expected: float) -> None:
    # Method, row 8; the closed form once more by numpy.
    import numpy as np

    found = h_plan(h0, exponent, ratio)
    assert found == pytest.approx(expected, abs=5.1e-5)
    assert found == pytest.approx(1.0 - np.power(1.0 - h0, np.power(ratio, exponent)), rel=1e-12)


def test_h_plan_is_a_proportional_hazard() -> None:
    # Survival of n independent shares of the exposure multiplies: h(r) with r^m = 3 is three spans at today's load.
    h0, exponent = HAZARDS["load"]
    assert h_plan(h0, exponent, 3.0 ** (1.0 / exponent)) == pytest.approx(1.0 - (1.0 - h0) ** 3)


def test_h_plan_at_its_edges() -> None:
    assert h_plan(0.0, 1.0, math.inf) == 0.0
    assert h_plan(0.05, 4.0, math.inf) == 1.0
    assert h_plan(0.05, 6.0, 1e300) == 1.0
    assert h_plan(1.0, 4.0, 0.5) == 1.0
    assert h_plan(0.05, 4.0, -1.0) == 0.0
    for bad in ((-0.1, 1.0, 1.0), (1.1, 1.0, 1.0), (0.1, 1.0, math.nan)):
        with pytest.raises(ValueError, match="chance"):
            h_plan(*bad)


@given(name=st.sampled_from(sorted(HAZARDS)), ratio=st.floats(0.0, 5.0), more=st.floats(0.0, 5.0))
def test_more_load_never_lowers_the_chance_of_harm(name: str, ratio: float, more: float) -> None:
    assert 0.0 <= h_plan(*HAZARDS[name], ratio) <= h_plan(*HAZARDS[name], ratio + more) <= 1.0
    assert h_plan(*HAZARDS[name], 1.0) == pytest.approx(HAZARDS[name].h0)


PART = Capacity("part", "q", value=460.0, u=36.8)


def test_capacity_against_demand() -> None:
    # scipy.stats.norm; method, row 9: demand 441 with standard uncertainty 21, capacity 460 with 36.8.
    from scipy.stats import norm

    found = capacity(PART, made(), LOAD, 0.03, {})
    expected = norm.cdf((441.0 - 460.0) / math.hypot(21.0, 36.8))
    assert found.probability == pytest.approx(expected, rel=1e-12)
    assert (found.probability, found.failure) == pytest.approx((0.3269, 0.0163), abs=5e-5)
    assert (found.ratio, found.speed, found.judged, found.known) == (1.0, 50.0, True, True)


def test_capacity_against_demand_by_drawing() -> None:
    chance = random.Random(9)
    n = 100_000
    beyond = sum(chance.gauss(441.0, 21.0) > chance.gauss(460.0, 36.8) for _ in range(n))
    # Standard error of a share of 0.33 in 100 000: 0.0015.
    assert capacity(PART, made(), LOAD, 0.03, {}).probability == pytest.approx(beyond / n, abs=0.006)


def test_a_use_factor_multiplies_demand_and_its_uncertainty() -> None:
    from scipy.stats import norm

    found = capacity(Capacity("part", "q", 460.0, 36.8, use_factor=1.15), made(), LOAD, 0.03, {})
    assert found.probability == pytest.approx(norm.cdf((1.15 * 441 - 460) / math.hypot(1.15 * 21, 36.8)), rel=1e-12)
    assert found.ratio == pytest.approx(1.15 * 441.0 / 460.0)
    assert found.failure == pytest.approx(found.probability * h_plan(*LOAD, 1.15 * 441.0 / 460.0))


def test_the_load_itself_is_compared_without_a_table() -> None:
    sharp = Capacity("part", "torque", value=440.0)
    assert capacity(sharp, made(), LOAD, 0.03, QUANTITIES).probability == 1.0
    assert capacity(Capacity("part", "torque", value=441.0), made(), LOAD, 0.03, QUANTITIES).probability == 0.0


def test_a_part_that_can_take_nothing_fails() -> None:
    found = capacity(Capacity("part", "q", value=0.0, u=1.0), made(), LOAD, 0.03, {})
    assert found.probability == pytest.approx(1.0)
    assert found.failure == pytest.approx(1.0)


def test_a_plan_that_asks_for_no_more_judges_nothing() -> None:
    found = capacity(PART, made(plan=300.0, base=300.0), LOAD, 0.03, {})
    assert not found.judged
    assert (found.probability, found.failure) == (0.0, 0.0)


@pytest.mark.parametrize(
    "one",
    [
        Capacity("part", "q"),
        Capacity("part", "unheard-of", value=460.0, u=36.8),
        Capacity("part", "q", value=math.nan, u=36.8),
        Capacity("part", "q", value=460.0, u=math.nan),
        Capacity("part", "q", value=Curve((10.0, 20.0), (460.0, 460.0)), u=36.8),
    ],
    ids=["no value", "no demand", "no number", "no uncertainty", "outside its curve"],
)
def test_an_unknown_capacity_is_never_better_than_a_clean_one(one: Capacity) -> None:
    found = capacity(one, made(plan=360.0), LOAD, 0.03, {})
    assert (found.probability, found.known) == (0.05, False)
    assert capacity(one, made(plan=360.0), LOAD, 0.2, {}).probability == 0.2
    assert capacity(one, None, LOAD, 0.03, {}).failure == pytest.approx(0.05 * h_plan(*LOAD, 1.6))
    assert capacity(one, None, LOAD, 0.03, {}).assumption is not None


def test_the_ratio_of_an_unknown_capacity_is_that_of_an_unknown_driver() -> None:
    found = capacity(Capacity("part", "q"), made(plan=360.0), LOAD, 0.03, {})
    assert found.ratio == pytest.approx(1.3)
    assert found.failure == pytest.approx(0.05 * h_plan(*LOAD, 1.3))
    assert capacity(Capacity("part", "q"), made(base=None), LOAD, 0.03, {}).ratio == 1.6


def test_a_curve_is_read_at_the_speed() -> None:
    curve = Capacity("part", "q", value=Curve((40.0, 60.0), (400.0, 520.0)), u=36.8)
    assert capacity(curve, made(), LOAD, 0.03, {}) == capacity(PART, made(), LOAD, 0.03, {})


def test_a_checks_own_distribution_replaces_the_normal_one() -> None:
    own = Capacity("part", "q", value=460.0, probability=(0.25,))
    found = capacity(own, made(), LOAD, 0.03, {})
    assert (found.probability, found.known) == (0.25, True)
    assert found.failure == pytest.approx(0.25 * 0.05)
    for junk in ((1.5,), (math.nan,)):
        assert (
            capacity(Capacity("part", "q", value=460.0, probability=junk), made(), LOAD, 0.03, {}).probability == 0.05
        )


def test_p_and_failure_are_each_the_worst_over_speed() -> None:
    # Two speeds: the first with the larger P, the second further beyond the part's limit.
    plan, base = (400.0, 400.0), (300.0, 300.0)
    steps = ((160.0, 300.0, 400.0, 480.0),) * 2
    demand = Demand((40.0, 50.0), steps, plan, base, quantities={"q": Band(steps, steps, steps)})
    own = Capacity("part", "q", value=Curve((40.0, 50.0), (400.0, 200.0)), probability=(0.9, 0.6))
    found = capacity(own, demand, LOAD, 0.03, {})
    assert found.probability == 0.9
    assert found.failure == pytest.approx(0.6 * h_plan(*LOAD, 2.0))
    assert found.failure > 0.9 * 0.05
    assert (found.ratio, found.speed) == (2.0, 50.0)


@given(
    value=st.floats(1.0, 900.0),
    less=st.floats(0.0, 300.0),
    plan=st.floats(301.0, 700.0),
    more=st.floats(0.0, 200.0),
    u=st.floats(0.0, 80.0),
)
def test_a_smaller_part_or_a_higher_plan_never_lowers_anything(
    value: float, less: float, plan: float, more: float, u: float
) -> None:
    hazard = Hazardous(0.05, 4.0)
    before = capacity(Capacity("part", "torque", value, u), made(plan=plan), hazard, 0.03, QUANTITIES)
    smaller = capacity(Capacity("part", "torque", value - less, u), made(plan=plan), hazard, 0.03, QUANTITIES)
    higher = capacity(Capacity("part", "torque", value, u), made(plan=plan + more), hazard, 0.03, QUANTITIES)
    for worse in (smaller, higher):
        assert worse.probability >= before.probability
        assert worse.failure >= before.failure * (1 - 1e-12)
