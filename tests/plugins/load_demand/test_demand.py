"""Demand of whole cases: the table of every kind of engine and plan."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from load_demand_cases import (
    ASPIRATED,
    BASE,
    DIESEL_TURBO,
    LOG_POINT,
    PETROL_TURBO,
    PLAN,
    at,
    curve,
    demand,
    q,
)

from loadworthy.case import Case
from loadworthy_plugins import load_demand
from loadworthy_plugins.load_demand.formulas import mean_pressure, power_of, torque_of

ALWAYS = {
    "torque",
    "power",
    "engine_speed",
    "manifold_pressure",
    "air_flow",
    "fuel_flow",
    "exhaust_flow",
    "charge_temperature",
    "mean_pressure",
    "heat_load",
}
COMPRESSOR = {"compressor_outlet_temperature", "compressor_pressure_ratio"}


CASES: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "petrol turbo": (PETROL_TURBO, {"torque": PLAN}),
    "petrol aspirated": (ASPIRATED, {"torque": curve({1500: 130, 4500: 158, 6000: 137})}),
    "petrol supercharged": (
        {**PETROL_TURBO, "induction": "supercharger"},
        {"peak_power": q(190e3), "peak_torque": q(340.0)},
    ),
    "diesel turbo": (DIESEL_TURBO, {"torque": curve({1500: 330, 1900: 410, 4000: 320})}),
    "diesel aspirated": (
        {**DIESEL_TURBO, "induction": "none", "base_torque_measured": curve({1500: 110, 2200: 125, 4000: 100})},
        {"gain": 0.04},
    ),
    "ethanol blend": ({**PETROL_TURBO, "fuel": "petrol_e85"}, {"torque": PLAN}),
    "methanol": ({**PETROL_TURBO, "fuel": "methanol"}, {"torque": PLAN}),
    "lpg": ({**PETROL_TURBO, "fuel": "lpg"}, {"torque": PLAN}),
    "cng": ({**ASPIRATED, "fuel": "cng"}, {"gain_torque": q(5.0)}),
    "power alone": ({**PETROL_TURBO, "base_torque_measured": None}, {"peak_power": q(180e3)}),
    "torque alone": (PETROL_TURBO, {"peak_torque": q(380.0)}),
    "gain": (PETROL_TURBO, {"gain": 0.2}),
    "boost alone": (PETROL_TURBO, {"boost": q(110e3)}),
    "wheel figures": (PETROL_TURBO, {"torque": PLAN, "power_basis": "wheel"}),
    "anchored": ({**PETROL_TURBO, "baseline_log_point": (LOG_POINT,)}, {"torque": PLAN, "lambda": 0.82}),
    "twelve cylinders": (
        {
            **PETROL_TURBO,
            "induction": "twin",
            "cylinder_count": 12,
            "displacement": q(5.98e-3),
            "base_torque_measured": curve({1500: 700, 2000: 830, 5000: 780, 5500: 690}),
        },
        {"peak_power": q(470e3), "peak_power_speed": q(5300 / 60), "peak_torque": q(1000.0)},
    ),
}


@pytest.mark.parametrize("name", sorted(CASES))
def test_table_is_whole_and_ordered(name: str) -> None:
    vehicle, plan = CASES[name]
    result = demand(vehicle, plan)
    charged = vehicle["induction"] != "none"
    expected = ALWAYS | (COMPRESSOR if charged else set())
    if name == "anchored":
        expected = expected | {"compressor_speed"}
    assert set(result.quantities) == expected
    assert all(a < b for a, b in pairwise(result.speeds))
    assert len({len(row) for row in result.torque}) == 1
    for i, row in enumerate(result.torque):
        assert all(a < b for a, b in pairwise(row))
        assert result.plan[i] in row
        assert row[0] <= 0.4 * result.plan[i]
        assert row[-1] >= 1.2 * result.plan[i]
        if result.base is not None:
            assert result.base[i] in row
    for id, band in result.quantities.items():
        for low, nominal, high, torque in zip(band.low, band.nominal, band.high, result.torque, strict=True):
            assert len(low) == len(nominal) == len(high) == len(torque)
            assert all(0.0 <= a <= b <= c for a, b, c in zip(low, nominal, high, strict=True)), id
            for column in (low, nominal, high):
                assert all(a <= b * (1 + 1e-12) for a, b in pairwise(column)), id
    assert result.assumptions
    assert all(a.what and a.why for a in result.assumptions)


@pytest.mark.parametrize("name", sorted(CASES))
def test_quantities_of_a_point_agree(name: str) -> None:
    vehicle, plan = CASES[name]
    result = demand(vehicle, plan)
    displacement = vehicle["displacement"].value
    for i, n in enumerate(result.speeds):
        for j, torque in enumerate(result.torque[i]):
            value = {id: band.nominal[i][j] for id, band in result.quantities.items()}
            assert value["torque"] == torque
            assert value["engine_speed"] == n
            assert value["power"] == pytest.approx(power_of(torque, n))
            assert value["mean_pressure"] == pytest.approx(mean_pressure(torque, displacement))
            assert value["exhaust_flow"] == pytest.approx(value["air_flow"] + value["fuel_flow"])


def test_petrol_turbo_plan_by_hand() -> None:
    # Rated point computed by hand from the defaults: 180 kW at 5 500 rpm.
    result = demand(PETROL_TURBO, {"torque": PLAN})
    assert result.basis == "default"
    assert result.base_source == "base_torque_measured"
    assert at(result, "manifold_pressure", 5500)[1] == pytest.approx(222.97e3, rel=5e-4)
    assert at(result, "air_flow", 5500)[1] == pytest.approx(0.1925, rel=5e-4)
    assert at(result, "compressor_pressure_ratio", 5500)[1] == pytest.approx(2.369, rel=5e-4)
    assert at(result, "compressor_outlet_temperature", 5500)[1] == pytest.approx(420.85, rel=5e-4)
    assert at(result, "charge_temperature", 5500)[1] == pytest.approx(332.55, rel=5e-4)
    # u 2 % crank measured, 5 % air, 6 % filling, 2.5 % temperature: 8.44 %, two of them.
    low, nominal, high = at(result, "manifold_pressure", 5500)
    assert high / nominal - 1 == pytest.approx(2 * 0.0844, abs=2e-4)
    assert 1 - low / nominal == pytest.approx(2 * 0.0844, abs=2e-4)
    low, nominal, high = at(result, "torque", 5500)
    assert high / nominal == pytest.approx(1.04)
    low, nominal, high = at(result, "air_flow", 5500)
    assert high / nominal - 1 == pytest.approx(2 * (0.02**2 + 0.05**2) ** 0.5)
    low, nominal, high = at(result, "fuel_flow", 5500)
    assert high / nominal - 1 == pytest.approx(2 * (0.02**2 + 0.05**2 + 0.03**2) ** 0.5)


def test_diesel_fuel_is_as_certain_as_its_air() -> None:
    result = demand(DIESEL_TURBO, {"peak_power": q(140e3), "peak_power_speed": q(4000 / 60), "peak_torque": q(410.0)})
    # 140 kW at 4 000 rpm on B7, cooler and losses as usual, but eta 0.70: 274.65 kPa by hand.
    assert at(result, "manifold_pressure", 4000)[1] == pytest.approx(274.65e3, rel=5e-4)
    assert at(result, "air_flow", 4000)[1] == pytest.approx(0.16171, rel=5e-4)
    for id in ("air_flow", "fuel_flow"):
        _low, nominal, high = at(result, id, 4000)
        assert high / nominal - 1 == pytest.approx(2 * (0.02**2 + 0.06**2) ** 0.5)


def test_speeds_hold_every_250_rpm_the_peaks_and_all_given_points() -> None:
    result = demand(PETROL_TURBO, {"torque": curve({1620: 260, 2010: 360, 5480: 320})})
    rpm = [round(60 * n) for n in result.speeds]
    assert rpm[0] == 1620
    assert rpm[-1] == 5480
    assert {1750, 2000, 2010, 2250, 4000, 5250} <= set(rpm)


def test_base_is_zero_where_nothing_was_shown() -> None:
    result = demand(PETROL_TURBO, {"torque": curve({1250: 200, 2000: 360, 6000: 300})})
    assert result.base is not None
    by_rpm = {round(60 * n): b for n, b in zip(result.speeds, result.base, strict=True)}
    assert by_rpm[1250] == 0.0
    assert by_rpm[1500] == 240.0
    assert by_rpm[5750] == 0.0
    assert by_rpm[3000] == pytest.approx(300.0)


def test_better_base_sources_come_first() -> None:
    logged = curve({1500: 200, 5500: 200})
    result = demand(PETROL_TURBO, {"torque": PLAN}, base_torque_logged=logged)
    assert result.base_source == "base_torque_measured"
    result = demand(PETROL_TURBO, {"torque": PLAN}, base_torque_measured=None, base_torque_logged=logged)
    assert result.base_source == "base_torque_logged"
    assert result.base is not None
    assert set(result.base) == {200.0}


def test_unknown_base_is_unknown_not_zero() -> None:
    result = demand(PETROL_TURBO, {"torque": PLAN}, base_torque_measured=None)
    assert result.base is None
    assert len(result.torque[0]) == 7


def test_unknown_base_is_plan_minus_declared_gain() -> None:
    result = demand(PETROL_TURBO, {"torque": PLAN, "gain": 0.25}, base_torque_measured=None)
    assert result.base is not None
    assert result.base_source == "plan minus declared gain"
    assert result.base == pytest.approx([t / 1.25 for t in result.plan])
    result = demand(PETROL_TURBO, {"torque": PLAN, "gain_torque": q(74.0)}, base_torque_measured=None)
    assert result.base == pytest.approx([t * (1 - 74 / 370) for t in result.plan])


def test_standard_curve_goes_into_the_table() -> None:
    result = demand(PETROL_TURBO, {"torque": PLAN}, standard_torque=curve({1500: 230, 5500: 230}))
    assert result.standard == pytest.approx([230.0] * len(result.speeds))


# Properties.


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(sorted(CASES)),
    st.sampled_from(["valves_per_cylinder", "charge_cooler", "cam_phasing", "power_basis", "power_correction"]),
)
def test_unknown_never_asks_for_less(name: str, field: str) -> None:
    vehicle, plan = CASES[name]
    if plan.get("power_basis") == "wheel" and field == "power_basis":
        return
    known, unknown = demand(vehicle, plan), demand(vehicle, plan, **{field: None})
    assert unknown.speeds == known.speeds
    for i, n in enumerate(known.speeds):
        for id in ("manifold_pressure", "air_flow", "fuel_flow", "torque"):
            assert at(unknown, id, 60 * n)[2] >= at(known, id, 60 * n)[2] * (1 - 1e-9), (id, i)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 3), st.floats(1.0, 80.0))
def test_raising_the_plan_at_one_speed_never_lowers_it_elsewhere(which: int, more: float) -> None:
    torques = list(PLAN.values)
    torques[which] += more
    before = demand(PETROL_TURBO, {"torque": PLAN})
    after = demand(PETROL_TURBO, {"torque": type(PLAN)(PLAN.speeds, tuple(torques))})
    assert after.speeds == before.speeds
    for n, old, new in zip(before.speeds, before.plan, after.plan, strict=True):
        assert new >= old
        for id in ("air_flow", "fuel_flow", "heat_load", "torque"):
            assert at(after, id, 60 * n)[2] >= at(before, id, 60 * n)[2] * (1 - 1e-9)


def test_raising_the_top_end_leaves_the_hungry_column_where_it_was() -> None:
    # Were the speed of rated power read from the plan, more torque at 5 500 rpm would lower the air at 4 500 rpm.
    base = curve({2000: 300, 4000: 300, 5500: 210})
    low, high = curve({2000: 340, 4000: 340, 5500: 230}), curve({2000: 340, 4000: 340, 5500: 300})
    before = demand(PETROL_TURBO, {"torque": low}, base_torque_measured=base)
    after = demand(PETROL_TURBO, {"torque": high}, base_torque_measured=base)
    for rpm in (3500, 4000):
        assert at(after, "air_flow", rpm) == at(before, "air_flow", rpm)


def test_demand_is_a_pure_function_of_the_case() -> None:
    for name in ("petrol turbo", "anchored", "boost alone"):
        vehicle, plan = CASES[name]
        shuffled = dict(reversed(list(vehicle.items())))
        assert demand(vehicle, plan) == demand(shuffled, dict(reversed(list(plan.items()))))


@pytest.mark.parametrize("plan", [{}, {"torque": curve({})}, {"torque": curve({2000: 0, 4000: 0})}])
def test_no_plan_no_demand(plan: dict[str, Any]) -> None:
    assert load_demand.demand(Case(vehicle=PETROL_TURBO, plan=plan)) is None


def test_a_plan_of_one_point() -> None:
    result = demand(PETROL_TURBO, {"torque": curve({4000: 370})})
    assert result.speeds == (4000 / 60,)
    assert result.base == (pytest.approx(300.0),)
    assert torque_of(at(result, "power", 4000)[1], 4000 / 60) == pytest.approx(370.0)
    assert BASE.at(4000 / 60) == 300.0
