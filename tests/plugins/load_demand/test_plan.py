"""Every way in which a plan and today's torque may be stated: curve, peaks, gain, boost, wheel figures."""

from __future__ import annotations

from typing import Any

import pytest
from load_demand_cases import (
    ASPIRATED,
    PETROL_TURBO,
    PLAN,
    assumed,
    at,
    case,
    curve,
    demand,
    q,
)

from loadworthy.case import Reading
from loadworthy_plugins import load_demand
from loadworthy_plugins.load_demand.formulas import power_of

# Partial knowledge: curve, peaks, gain, boost, in this order.


def test_power_alone() -> None:
    result = demand(PETROL_TURBO, {"peak_power": q(180e3)}, base_torque_measured=None)
    assert result.basis == "envelope"
    assert {"speed of peak power", "speed of peak torque", "peak torque"} <= assumed(result)
    rpm = {round(60 * n): t for n, t in zip(result.speeds, result.plan, strict=True)}
    assert max(rpm) == 5500
    assert rpm[5500] == pytest.approx(312.52, abs=0.01)
    assert rpm[2475] == pytest.approx(1.25 * 312.52, abs=0.02)
    assert all(power_of(t, n) <= 180e3 * (1 + 1e-9) for n, t in zip(result.speeds, result.plan, strict=True))


def test_torque_alone() -> None:
    result = demand(PETROL_TURBO, {"peak_torque": q(380.0), "peak_torque_speed": q(1750 / 60)})
    rpm = {round(60 * n): t for n, t in zip(result.speeds, result.plan, strict=True)}
    assert rpm[1750] == 380.0
    assert rpm[5500] == pytest.approx(380 / 1.25)


def test_below_peak_torque_an_envelope_is_less_certain_but_never_above_the_peak() -> None:
    result = demand(PETROL_TURBO, {"peak_power": q(180e3)}, base_torque_measured=None)
    peak = max(result.plan)
    low = at(result, "torque", 1000)
    assert low[2] / low[1] - 1 > 0.25
    for n, t in zip(result.speeds, result.plan, strict=True):
        high = at(result, "torque", 60 * n)[2]
        # 2 % of the figure itself stay on top.
        assert high <= peak * 1.045
        assert high / t >= 1.04 - 1e-9


def test_curve_goes_before_peaks_and_gain() -> None:
    alone = demand(PETROL_TURBO, {"torque": PLAN})
    more = demand(PETROL_TURBO, {"torque": PLAN, "peak_power": q(300e3), "gain": 0.9})
    assert more.plan == alone.plan


def test_gain_needs_a_baseline() -> None:
    assert load_demand.demand(case(PETROL_TURBO, {"gain": 0.2}, base_torque_measured=None)) is None
    result = demand(PETROL_TURBO, {"gain": 0.2})
    assert result.base is not None
    assert result.plan == pytest.approx([1.2 * b for b in result.base])
    result = demand(PETROL_TURBO, {"gain_torque": q(30.0)})
    assert max(result.plan) == pytest.approx(330.0)
    peak = power_of(250.0, 5500 / 60)
    result = demand(PETROL_TURBO, {"gain_power": q(0.1 * peak)})
    assert max(result.plan) == pytest.approx(330.0)
    # Of two gains the larger one counts.
    result = demand(PETROL_TURBO, {"gain_power": q(0.1 * peak), "gain_torque": q(60.0)})
    assert max(result.plan) == pytest.approx(360.0)


def test_boost_alone() -> None:
    result = demand(PETROL_TURBO, {"boost": q(110e3)})
    assert "torque at the planned boost" in assumed(result)
    for rpm in (2000, 3000, 5500):
        low, nominal, high = at(result, "manifold_pressure", rpm)
        assert nominal == pytest.approx(101_325.0 + 110e3, rel=1e-6)
        assert (low, high) == pytest.approx((nominal, nominal))
        low, nominal, high = at(result, "torque", rpm)
        assert high / nominal == pytest.approx(1.18)
    assert load_demand.demand(case(ASPIRATED, {"boost": q(50e3)})) is None


def test_goal_repair_asks_for_todays_torque() -> None:
    result = demand(PETROL_TURBO, {"goal": "repair"})
    assert result.plan == result.base
    assert load_demand.demand(case(PETROL_TURBO, {"goal": "power"})) is None
    assert load_demand.demand(case(PETROL_TURBO, {"goal": "repair"}, base_torque_measured=None)) is None


def test_wheel_figures_become_crank_figures() -> None:
    crank = demand(PETROL_TURBO, {"torque": PLAN})
    wheel = {"power_basis": "wheel", "gearbox_type": "manual", "drive_layout": "front"}
    result = demand(PETROL_TURBO, {"torque": PLAN}, **wheel)
    assert result.plan == pytest.approx([t / 0.88 for t in crank.plan])
    assert crank.base is not None
    assert result.base == pytest.approx([t / 0.88 for t in crank.base])
    assert at(result, "torque", 5500)[2] / at(result, "torque", 5500)[1] == pytest.approx(1.08)
    for more, loss in (
        ({"gearbox_type": "automatic_converter"}, 0.15),
        ({"gearbox_type": None}, 0.15),
        ({"drive_layout": "all"}, 0.18),
        ({"drive_layout": None}, 0.18),
        ({"wheel_to_crank_loss": 0.10}, 0.10),
    ):
        result = demand(PETROL_TURBO, {"torque": PLAN}, **{**wheel, **more})
        assert max(result.plan) == pytest.approx(370 / (1 - loss)), more
        assert ("loss from crank to wheel" in assumed(result)) == ("wheel_to_crank_loss" not in more)


def test_plan_and_base_may_rest_on_different_figures() -> None:
    result = demand(PETROL_TURBO, {"torque": PLAN, "power_basis": "wheel"}, wheel_to_crank_loss=0.12)
    assert max(result.plan) == pytest.approx(370 / 0.88)
    assert result.base is not None
    assert max(result.base) == 300.0


@pytest.mark.parametrize(
    ("basis", "correction", "power", "u"),
    [
        ("crank_measured", "none", q(180e3), 0.02),
        ("crank_measured", "iso_1585", q(180e3), 0.02),
        ("crank_measured", "unknown", q(180e3), 0.03606),
        ("crank_declared", "none", q(180e3), 0.05),
        (None, None, q(180e3), 0.05831),
        (None, None, q(180e3, 0.014 * 180e3), 0.05997),
        # Horsepower of which nobody knows which: the reader states the unit's own part.
        (None, None, Reading(180e3, unit="hp?", u_parts=(("unit", 0.014 * 180e3),)), 0.05997),
    ],
)
def test_uncertainty_of_the_planned_figure(basis: str | None, correction: str | None, power: Any, u: float) -> None:
    stated = {"power_basis": basis, "power_correction": correction}
    result = demand(PETROL_TURBO, {"peak_power": power}, **stated)
    _low, nominal, high = at(result, "power", 5500)
    assert high / nominal - 1 == pytest.approx(2 * u, rel=1e-3)


def test_a_gain_of_wheel_figures_is_the_same_share() -> None:
    crank = demand(PETROL_TURBO, {"gain_torque": q(30.0)})
    wheel = demand(PETROL_TURBO, {"gain_torque": q(30.0)}, power_basis="wheel", wheel_to_crank_loss=0.12)
    assert max(wheel.plan) == pytest.approx(330 / 0.88)
    assert wheel.plan == pytest.approx([t / 0.88 for t in crank.plan])
    power = {"gain_power": q(14.4e3)}
    crank = demand(PETROL_TURBO, power)
    wheel = demand(PETROL_TURBO, power, power_basis="wheel", wheel_to_crank_loss=0.12)
    assert wheel.plan == pytest.approx([t / 0.88 for t in crank.plan])


def test_an_envelope_begins_where_todays_curve_begins() -> None:
    # Below it today's torque is unknown, and a plan there would be torque from nothing.
    for plan in ({"peak_power": q(180e3)}, {"boost": q(110e3)}):
        assert demand(PETROL_TURBO, plan).speeds[0] == 1500 / 60
        assert demand(PETROL_TURBO, plan, base_torque_measured=None).speeds[0] == 1000 / 60


def test_boost_alone_is_less_certain_below_peak_torque() -> None:
    result = demand(PETROL_TURBO, {"boost": q(110e3)})
    _, nominal, high = at(result, "torque", 1500)
    # 9 %, and half of what peak torque lies above the estimate.
    assert high / nominal - 1 == pytest.approx(2 * (0.09**2 + ((1 / 0.8875 - 1) / 2) ** 2) ** 0.5, rel=1e-3)
    low, nominal, high = at(result, "manifold_pressure", 1500)
    assert low < nominal < high


def test_a_base_on_a_load_step_keeps_the_table_rectangular() -> None:
    result = demand(PETROL_TURBO, {"torque": curve({2000: 375, 4000: 400}), "gain": 0.25}, base_torque_measured=None)
    assert {len(row) for row in result.torque} == {8}
