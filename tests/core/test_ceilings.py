"""Ceilings to torque, what is allowed, and the order in which ceilings can be lifted."""

from __future__ import annotations

import math
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.case import Curve
from loadworthy.ceilings import CeilingView, allow, draw, first_crossing, lift_steps, usable_gain
from loadworthy.declarations import Quantity, Requirement, WorkshopTest
from loadworthy.findings import Band, Ceiling, Demand

QUANTITIES = {
    "rotation": Quantity("rotation", "rotation", "speed", role="speed"),
    "torque": Quantity("torque", "torque", "torque", role="load"),
    "q": Quantity("q", "number", "an auxiliary quantity"),
}
SPEEDS = (20.0, 40.0, 60.0)
PLAN, BASE = (390.0, 390.0, 390.0), (300.0, 300.0, 300.0)
STEPS = (156.0, 300.0, 390.0, 468.0)


def made(
    plan: tuple[float, ...] = PLAN,
    base: tuple[float, ...] | None = BASE,
    factor: float = 0.5,
    width: float = 0.05,
    standard: tuple[float, ...] | None = None,
) -> Demand:
    """A demand with q = ``factor`` times torque, high edge ``width`` above it."""
    rows = tuple(
        tuple(sorted({*(f * p for f in (0.4, 0.8, 1.0, 1.2)), b})) for p, b in zip(plan, base or plan, strict=True)
    )
    low, nominal, high = (tuple(tuple(factor * f * t for t in row) for row in rows) for f in (1 - width, 1, 1 + width))
    return Demand(SPEEDS, rows, plan, base, standard, quantities={"q": Band(low, nominal, high)})


def ceiling(value: object, quantity: str = "q", name: str = "c", until: str = "", **more: object) -> Ceiling:
    return Ceiling(name, quantity, value, "reason", until=until, **more)


def drawn(value: object, demand: Demand | None = None, quantity: str = "q", **more: object) -> CeilingView:
    return draw("plug", ceiling(value, quantity, **more), made() if demand is None else demand, QUANTITIES)


# Conversion


@pytest.mark.parametrize(
    ("value", "expected"), [(190.0, 0.0), (270.0, 325.0), (300.0, inf), (240.0, 300.0), (200.0, 250.0)]
)
def test_first_crossing(value: float, expected: float) -> None:
    # Method, section 7 and row 26; numpy.interp as the independent figure between the ends.
    import numpy as np

    steps, high = (250.0, 300.0, 350.0), (200.0, 240.0, 300.0)
    assert first_crossing(steps, high, value) == expected
    if 0.0 < expected < inf:
        assert expected == pytest.approx(float(np.interp(value, high, steps)))


def test_the_first_of_several_crossings_counts() -> None:
    assert first_crossing((1.0, 2.0, 3.0, 4.0), (1.0, 5.0, 2.0, 6.0), 3.0) == pytest.approx(1.5)


def test_rounding_at_the_lowest_step_makes_no_difference() -> None:
    assert first_crossing((250.0, 300.0), (200.0 * (1 + 1e-12), 240.0), 200.0) == pytest.approx(250.0)


@given(
    high=st.lists(st.floats(1.0, 500.0), min_size=2, max_size=8).map(sorted),
    value=st.floats(1.0, 500.0),
    less=st.floats(0.0, 200.0),
)
def test_a_lower_ceiling_never_allows_more(high: list[float], value: float, less: float) -> None:
    steps = [100.0 + 50.0 * i for i in range(len(high))]
    torque = first_crossing(steps, high, value)
    assert first_crossing(steps, high, value - less) <= torque
    if 0.0 < torque < inf:
        import numpy as np

        assert np.interp(torque, steps, high) <= value * (1 + 1e-6)


def test_a_ceiling_is_converted_at_the_high_edge_of_demand() -> None:
    view = drawn(0.525 * 345.0)
    assert view.torque == pytest.approx((345.0,) * 3)
    assert (view.id, view.as_received, view.gap) == ("plug.c", (), None)


def test_a_ceiling_on_the_load_needs_no_conversion() -> None:
    assert drawn(345.0, quantity="torque").torque == (345.0,) * 3
    assert drawn(345.0, quantity="").torque == (345.0,) * 3
    assert drawn(1000.0, quantity="torque").torque == (inf,) * 3
    assert drawn(0.0, quantity="").torque == (0.0,) * 3


def test_a_ceiling_on_the_speed_axis_is_nothing_above_it() -> None:
    assert drawn(40.0, quantity="rotation").torque == (inf, inf, 0.0)


@pytest.mark.parametrize(
    ("outside", "first", "last"), [("as_received", 300.0, 300.0), ("hold", 320.0, 340.0), ("none", inf, inf)]
)
def test_a_curve_outside_its_speeds(outside: str, first: float, last: float) -> None:
    curve = Curve((30.0, 50.0), (320.0, 340.0))
    view = drawn(curve, quantity="torque", outside=outside)
    assert view.torque == pytest.approx((first, 330.0, last))
    assert view.gap is None


def test_as_received_and_standard() -> None:
    assert drawn("as_received").torque == BASE
    assert drawn("standard", made(standard=(280.0, 310.0, 290.0))).torque == (280.0, 310.0, 290.0)
    unknown = drawn("standard")
    assert unknown.torque == BASE
    assert unknown.gap is not None


@pytest.mark.parametrize(
    ("value", "quantity", "demand"),
    [
        (200.0, "unheard-of", made()),
        (math.nan, "q", made()),
        ("soon", "q", made()),
        (None, "q", made()),
        (True, "q", made()),
        (200.0, "q", made(factor=-0.5, width=0.0)),
        (200.0, "q", made(factor=math.nan)),
    ],
    ids=["unknown quantity", "not a number", "a word", "nothing", "a flag", "falls with torque", "demand unknown"],
)
def test_what_cannot_be_converted_is_as_received_with_a_gap(value: object, quantity: str, demand: Demand) -> None:
    view = drawn(value, demand, quantity)
    assert view.torque == BASE
    assert view.as_received == (0, 1, 2)
    assert view.gap is not None
    assert view.gap.required
    assert view.why in view.gap.text


def test_an_advisory_ceiling_that_cannot_be_converted_withholds_nothing() -> None:
    gap = drawn(200.0, quantity="unheard-of", kind="advisory").gap
    assert gap is not None
    assert not gap.required


def test_a_demonstrated_ceiling_is_never_below_base() -> None:
    assert drawn(0.525 * 200.0, basis="demonstrated").torque == BASE
    assert drawn(0.525 * 345.0, basis="demonstrated").torque == pytest.approx((345.0,) * 3)


def test_without_base_or_demand_a_ceiling_stays_words() -> None:
    for value in ("as_received", 200.0, "standard"):
        assert draw("plug", ceiling(value), None, QUANTITIES).in_words
    assert drawn("as_received", made(base=None)).in_words
    assert drawn(200.0, made(base=None), "unheard-of").in_words
    assert not drawn(200.0, made(base=None)).in_words


# What is allowed


@pytest.mark.parametrize(
    ("allowed", "plan", "base", "expected"),
    [
        (345.0, 390.0, 300.0, 0.5),
        (390.0, 390.0, 300.0, 1.0),
        (inf, 390.0, 300.0, 1.0),
        (300.0, 390.0, 300.0, 0.0),
        (0.0, 390.0, 300.0, 0.0),
        (280.0, 290.0, 300.0, 0.0),
        (295.0, 290.0, 300.0, 1.0),
        (0.0, 0.0, 0.0, 1.0),
        (195.0, 390.0, 0.0, 0.5),
        (390.0 * (1 - 1e-12), 390.0, 300.0, 1.0),
    ],
)
def test_usable_gain(allowed: float, plan: float, base: float, expected: float) -> None:
    assert usable_gain(allowed, plan, base) == pytest.approx(expected)


def test_two_ceilings_over_speed() -> None:
    # Method, row 17: base 300, plan 390; one ceiling gives 345 up to 2500 rev/min, none outside; one is 6200 rev/min.
    speeds = tuple(rpm / 60.0 for rpm in (1500, 2000, 2500, 3000, 4500, 6200, 6500))
    n = len(speeds)
    demand = Demand(speeds, (STEPS,) * n, (390.0,) * n, (300.0,) * n, quantities={"q": Band(*((((STEPS),) * n,) * 3))})
    views = [
        draw(
            "plug",
            ceiling(Curve((speeds[0], speeds[2]), (345.0, 345.0)), name="low", outside="none"),
            demand,
            QUANTITIES,
        ),
        draw("plug", ceiling(6200 / 60.0, "rotation", name="top"), demand, QUANTITIES),
    ]
    allowed = allow(views, demand)
    assert allowed.gain.values == pytest.approx((0.5, 0.5, 0.5, 1.0, 1.0, 1.0, 0.0))
    assert allowed.binding == ("plug.low",) * 3 + ("",) * 3 + ("plug.top",)
    assert allowed.gain.lowest == 0.0
    assert allowed.gain.at_zero == (speeds[-1],)


def test_mean_gain_is_the_trapezoid_over_speed() -> None:
    from scipy.integrate import trapezoid

    curve = Curve(SPEEDS, (300.0, 345.0, 390.0))
    gain = allow([drawn(curve, quantity="torque")], made()).gain
    assert gain.values == pytest.approx((0.0, 0.5, 1.0))
    assert gain.mean == pytest.approx(trapezoid((0.0, 0.5, 1.0), SPEEDS) / (SPEEDS[-1] - SPEEDS[0]))


def test_no_ceiling_is_no_cut_and_advice_does_not_cut() -> None:
    for views in ([], [drawn(0.0, quantity="torque", kind="advisory")]):
        allowed = allow(views, made())
        assert allowed.torque == (inf,) * 3
        assert allowed.carries_plan
        assert allowed.gain.mean == 1.0


def test_a_single_speed_has_a_mean() -> None:
    demand = Demand((50.0,), (STEPS,), (390.0,), (300.0,))
    assert allow([drawn(345.0, demand, "torque")], demand).gain.mean == pytest.approx(0.5)


def test_ties_are_named_by_id() -> None:
    views = [drawn(345.0, quantity="torque", name="b"), drawn(345.0, quantity="torque", name="a")]
    assert allow(views, made()).binding == ("plug.a",) * 3
    assert allow(reversed(views), made()) == allow(views, made())


def test_unknown_base_leaves_the_gain_unknown() -> None:
    demand = made(base=None)
    words = allow([drawn("as_received", demand), drawn(345.0, demand, "torque", name="d")], demand)
    assert words.in_words == ("plug.c",)
    assert words.torque == (345.0,) * 3
    assert not words.carries_plan
    assert words.gain == ((None,) * 3, None, None, ())
    assert allow([], demand).gain.lowest == 1.0
    assert allow([drawn(345.0, demand, "torque")], demand).gain.values == (None,) * 3


def test_without_demand_nothing_is_known_to_be_allowed() -> None:
    allowed = allow([draw("plug", ceiling(200.0), None, QUANTITIES)], None)
    assert (allowed.torque, allowed.in_words, allowed.carries_plan) == ((), ("plug.c",), False)


values = st.lists(st.floats(0.0, 300.0), min_size=1, max_size=5)


@given(values=values, i=st.integers(0, 4), less=st.floats(0.0, 300.0), base=st.floats(50.0, 390.0))
def test_a_worse_or_further_ceiling_never_allows_more(values: list[float], i: int, less: float, base: float) -> None:
    demand = made(base=(base,) * 3)
    views = [drawn(v, demand, name=f"c{j}") for j, v in enumerate(values)]
    allowed = allow(views, demand)
    j = i % len(values)
    worse = [*views[:j], drawn(values[j] - less, demand, name=f"c{j}"), *views[j + 1 :]]
    further = [*views, drawn(less, demand, name="more")]
    for changed in (worse, further):
        after = allow(changed, demand)
        assert all(a <= b for a, b in zip(after.torque, allowed.torque, strict=True))
        assert after.gain.mean is not None
        assert allowed.gain.mean is not None
        assert after.gain.mean <= allowed.gain.mean + 1e-12


# Lifting

TESTS = {"retest": WorkshopTest("retest", "the retest", 30.0, "any", "none")}
ROWS = {"row": Requirement("row", "the row's evidence", {}, test="retest")}


def test_the_ladder_lifts_the_tightest_first() -> None:
    demand = made()
    views = [
        drawn(300.0, demand, "torque", name="low", until="retest"),
        drawn(310.0, demand, "torque", name="same", until="retest"),
        drawn(345.0, demand, "torque", name="high", until="row"),
    ]
    ladder = lift_steps(views, demand, TESTS, ROWS)
    first, second = ladder.steps
    assert (first.until, first.text, first.minutes) == ("retest", "the retest", 30.0)
    assert first.lifts == ("plug.low", "plug.same")
    assert first.gained == pytest.approx((45.0,) * 3)
    assert first.next_binding == ("plug.high",) * 3
    assert (second.until, second.text, second.minutes) == ("row", "the row's evidence", 30.0)
    assert second.next_binding == ("",) * 3
    assert second.allowed.carries_plan
    assert ladder.blocked_by == ()


def test_worst_and_best_speed_of_a_step() -> None:
    curve = Curve(SPEEDS, (300.0, 345.0, 400.0))
    (step,) = lift_steps([drawn(curve, quantity="torque", until="retest")], made()).steps
    assert step.gained == pytest.approx((90.0, 45.0, 0.0))
    assert step.worst == pytest.approx((40.0, 45.0))
    assert step.best == pytest.approx((20.0, 90.0))


def test_equal_gains_are_lifted_at_the_lowest_speed_first() -> None:
    views = [
        drawn(Curve((20.0, 30.0), (345.0, 345.0)), quantity="torque", name="z", until="first", outside="none"),
        drawn(Curve((50.0, 60.0), (345.0, 345.0)), quantity="torque", name="a", until="second", outside="none"),
    ]
    assert [s.until for s in lift_steps(views, made()).steps] == ["first", "second"]


def test_the_ladder_says_what_cannot_be_lifted() -> None:
    views = [
        drawn(300.0, quantity="torque", name="low", until="retest"),
        drawn(345.0, quantity="torque", name="rating"),
    ]
    ladder = lift_steps(views, made())
    assert [s.until for s in ladder.steps] == ["retest"]
    assert ladder.blocked_by == ("plug.rating",)
    assert lift_steps(views[1:], made()) == ((), ("plug.rating",))
    assert lift_steps([], made()) == ((), ())


def test_ceilings_in_words_are_lifted_first() -> None:
    demand = made(base=None)
    views = [drawn(345.0, demand, "torque", name="a", until="b"), drawn("as_received", demand, name="z", until="a")]
    ladder = lift_steps(views, demand)
    assert [s.until for s in ladder.steps] == ["a", "b"]
    assert ladder.steps[0].gained == (None,) * 3
    assert ladder.steps[0].worst is None
    assert ladder.steps[1].gained == pytest.approx((45.0,) * 3)
    words = draw("plug", ceiling(200.0, until="b"), None, QUANTITIES)
    stuck = draw("plug", ceiling(200.0, name="d"), None, QUANTITIES)
    without = lift_steps([words, stuck], None)
    assert [s.until for s in without.steps] == ["b"]
    assert without.blocked_by == ("plug.d",)


@given(
    values=st.lists(
        st.tuples(st.floats(0.0, 500.0), st.sampled_from(["", "t1", "t2", "t3"]), st.sampled_from(["torque", "q"])),
        max_size=6,
    ),
    base=st.floats(50.0, 500.0),
)
def test_the_ladder_ends_at_the_plan_or_says_why_not(values: list[tuple[float, str, str]], base: float) -> None:
    demand = made(base=(base,) * 3)
    views = [drawn(v, demand, q, name=f"c{i}", until=until) for i, (v, until, q) in enumerate(values)]
    ladder = lift_steps(views, demand)
    state = allow(views, demand)
    for step in ladder.steps:
        assert all(g is not None and g >= -1e-9 for g in step.gained)
        assert all(b >= a for a, b in zip(state.torque, step.allowed.torque, strict=True))
        state = step.allowed
    assert bool(ladder.blocked_by) != state.carries_plan
    fixed = {v.id for v in views if not v.ceiling.until}
    assert set(ladder.blocked_by) <= fixed
    assert len({s.until for s in ladder.steps}) == len(ladder.steps)
