"""Reading the demand table: quantities at a torque, ratios, the class of a plan."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.declarations import Quantity
from loadworthy.findings import AtLeast, Band, Demand
from loadworthy.loads import (
    at_torque,
    demanded,
    driver_ratio,
    own_floors,
    plan_class,
    plan_ratio,
    raised_speeds,
    unknown_ratio,
)

QUANTITIES = {
    "rotation": Quantity("rotation", "rotation", "speed", role="speed"),
    "torque": Quantity("torque", "torque", "torque", role="load"),
    "heat": Quantity("heat", "power", "heat"),
}
SPEEDS = (20.0, 40.0, 60.0, 80.0)
BASE = (40.0, 280.0, 300.0, 200.0)
PLAN = (55.0, 350.0, 390.0, 250.0)


def made(plan: tuple[float, ...] = PLAN, base: tuple[float, ...] | None = BASE, heat: float | None = 2.0) -> Demand:
    """A demand whose heat is ``heat`` times torque plus 100, exact."""
    known = base or plan
    steps = tuple(tuple(sorted({*(f * p for f in (0.4, 0.8, 1.0, 1.2)), b})) for p, b in zip(plan, known, strict=True))
    rows = tuple(tuple(heat * t + 100.0 for t in row) for row in steps) if heat is not None else ()
    bands = {"heat": Band(rows, rows, rows)} if heat is not None else {}
    return Demand(SPEEDS[: len(plan)], steps, plan, base, quantities=bands)


def test_between_steps_it_is_linear_and_outside_it_is_unknown() -> None:
    steps, row = (100.0, 200.0, 400.0), (10.0, 30.0, 40.0)
    assert [at_torque(steps, row, t) for t in (100.0, 150.0, 200.0, 300.0, 400.0)] == [10.0, 20.0, 30.0, 35.0, 40.0]
    assert at_torque(steps, row, 99.0) is None
    assert at_torque(steps, row, 401.0) is None
    assert at_torque((), (), 1.0) is None
    assert at_torque(steps, (10.0, math.nan, 40.0), 200.0) is None
    assert at_torque(steps, (10.0, math.nan, 40.0), 150.0) is None


def test_rounding_at_the_ends_is_not_outside() -> None:
    assert at_torque((100.0, 200.0), (1.0, 2.0), 200.0 * (1 + 1e-12)) == 2.0


def test_axis_and_load_need_no_table() -> None:
    demand = made()
    assert demanded(demand, "rotation", 2, 123.0, QUANTITIES) == (60.0, 60.0, 60.0)
    assert demanded(demand, "torque", 2, 123.0, QUANTITIES) == (123.0, 123.0, 123.0)
    assert demanded(demand, "unheard-of", 2, 123.0, QUANTITIES) is None


def test_torque_ratio_leaves_out_speeds_with_hardly_any_base() -> None:
    # At 20 rev/s base is 40, below 20 % of its peak of 300: the ratio of 1.375 there does not count.
    assert plan_ratio(made()) == pytest.approx(390.0 / 300.0)
    assert plan_ratio(made(base=None)) is None
    assert plan_ratio(made(base=(0.0, 0.0, 0.0, 0.0))) is None
    assert plan_ratio(None) is None


def test_driver_ratio_is_the_largest_over_speed() -> None:
    found = driver_ratio("heat", made(), QUANTITIES)
    by_hand = max((2 * p + 100) / (2 * b + 100) for p, b in zip(PLAN[1:], BASE[1:], strict=True))
    assert found.value == pytest.approx(by_hand)
    assert (found.speed, found.assumption) == (60.0, None)
    assert driver_ratio("torque", made(), QUANTITIES).value == pytest.approx(1.3)
    assert driver_ratio("none", made(), QUANTITIES) == (1.0, None, None)
    assert driver_ratio("none", None, QUANTITIES) == (1.0, None, None)


def test_a_plan_below_base_counts_as_it_is() -> None:
    demand = made(plan=tuple(0.8 * b for b in BASE))
    assert driver_ratio("torque", demand, QUANTITIES).value == pytest.approx(0.8)


def test_unknown_drivers_are_assumed_and_said() -> None:
    unknown = driver_ratio("unheard-of", made(), QUANTITIES)
    assert unknown.value == pytest.approx(1.3)
    assert unknown.assumption is not None
    assert "unheard-of" in unknown.assumption.what
    steep = made(plan=(55.0, 500.0, 390.0, 250.0))
    assert driver_ratio("unheard-of", steep, QUANTITIES).value == pytest.approx(500.0 / 280.0)
    for demand in (made(base=None), None, made(base=(0.0, 0.0, 0.0, 0.0))):
        without = driver_ratio("heat", demand, QUANTITIES)
        assert without.value == 1.6
        assert without.assumption is not None
    assert unknown_ratio("x", None).value == 1.6


def test_a_speed_at_which_the_driver_is_unknown_counts_as_unknown() -> None:
    demand = made()
    heat = demand.quantities["heat"].nominal
    torn = tuple((math.nan,) * len(row) if i == 2 else row for i, row in enumerate(heat))
    partly = Demand(SPEEDS, demand.torque, PLAN, BASE, quantities={"heat": Band(torn, torn, torn)})
    found = driver_ratio("heat", partly, QUANTITIES)
    assert found.value == pytest.approx(1.3)
    assert found.assumption is not None
    # At 40 rev/s heat is now 3500 at the plan's 350 N m and 100 at base: known, and worse than what is assumed.
    high = tuple(tuple(10.0 * t for t in demand.torque[1]) if i == 1 else row for i, row in enumerate(torn))
    base_at_1 = demand.torque[1].index(BASE[1])
    steep = tuple(
        tuple(100.0 if (i, j) == (1, base_at_1) else q for j, q in enumerate(row)) for i, row in enumerate(high)
    )
    more = Demand(SPEEDS, demand.torque, PLAN, BASE, quantities={"heat": Band(steep, steep, steep)})
    assert driver_ratio("heat", more, QUANTITIES).value == pytest.approx(35.0)


def test_on_the_speed_axis_the_ratio_is_that_of_the_highest_speeds() -> None:
    demand = made(plan=(55.0, 350.0, 390.0, 250.0), base=(40.0, 280.0, 300.0, 0.0))
    assert driver_ratio("rotation", demand, QUANTITIES).value == pytest.approx(80.0 / 60.0)
    # A plan stated over fewer speeds is no speed limit.
    shorter = made(plan=(55.0, 350.0, 390.0, 0.0))
    assert driver_ratio("rotation", shorter, QUANTITIES).value == 1.0


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [
        (1.02, "none"),
        (1.15, "mild"),
        (1.16, "strong"),
        (1.35, "strong"),
        (1.36, "extreme"),
        (0.8, "none"),
        (None, "strong"),
    ],
)
def test_plan_class(ratio: float | None, expected: str) -> None:
    # Method, section 8 and row 25 (judgement).
    assert plan_class(ratio).plan_class == expected


def test_a_ratio_that_only_rounding_puts_beyond_a_bound_is_within() -> None:
    assert plan_class(1.15 * (1 + 1e-12)).plan_class == "mild"


def test_floors_raise_the_class_and_say_why() -> None:
    floors = (AtLeast("mild", "a small reason"), AtLeast("strong", "other internals"), AtLeast("strong", "track use"))
    found = plan_class(1.0, floors)
    assert found.plan_class == "strong"
    assert found.why == ("other internals", "track use")
    assert plan_class(1.5, floors).why == ("planned torque is up to 1.5 times today's",)
    assert plan_class(1.2, floors[:2]).why == ("planned torque is up to 1.2 times today's", "other internals")


def test_torque_at_speeds_that_base_lacks_is_at_least_strong() -> None:
    assert own_floors(made()) == ()
    beyond = made(plan=(40.0, 280.0, 300.0, 210.0), base=(40.0, 280.0, 300.0, 0.0))
    assert [f.plan_class for f in own_floors(beyond)] == ["strong"]
    assert "4800" in own_floors(beyond)[0].reason
    # Even a little torque counts where base has none at all.
    assert own_floors(made(plan=(40.0, 280.0, 300.0, 10.0), base=(40.0, 280.0, 300.0, 0.0))) != ()
    # Base is there but so low that no ratio is formed, and the plan is not.
    assert own_floors(made(plan=(90.0, 280.0, 300.0, 200.0))) != ()
    for demand in (None, made(base=None)):
        assert [f.plan_class for f in own_floors(demand)] == ["strong"]


plans = st.tuples(*(st.floats(0.0, 600.0) for _ in SPEEDS))


@given(plan=plans, i=st.integers(0, 3), more=st.floats(0.0, 300.0))
def test_raising_the_plan_lowers_no_ratio_and_no_class(plan: tuple[float, ...], i: int, more: float) -> None:
    higher = tuple(p + more if j == i else p for j, p in enumerate(plan))
    low, high = made(plan=plan, heat=None), made(plan=higher, heat=None)
    for driver in ("torque", "rotation", "unheard-of"):
        assert driver_ratio(driver, high, QUANTITIES).value >= driver_ratio(driver, low, QUANTITIES).value
    classes = ["none", "mild", "strong", "extreme"]
    ranks = [classes.index(plan_class(plan_ratio(d), own_floors(d)).plan_class) for d in (low, high)]
    assert ranks[1] >= ranks[0]
    assert set(raised_speeds(low)) <= set(raised_speeds(high))
