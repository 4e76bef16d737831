"""The charging chain and whole points of demand against hand-computed cases and an independent root finder."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.load_demand.chain import Chain, settle, state_at
from loadworthy_plugins.load_demand.defaults import DIESEL_COMMON_RAIL, PETROL_PHASED, PETROL_TURBO, Choice
from loadworthy_plugins.load_demand.formulas import KWH, OutsideModelError, mean_pressure, torque_of, work_density
from loadworthy_plugins.load_demand.point import (
    Anchor,
    Breathing,
    Demanded,
    Engine,
    demand_at,
    flows_at,
    torque_at_pressure,
)
from loadworthy_plugins.load_demand.uncertainty import Range
from loadworthy_plugins.physics.atmosphere import R_AIR
from loadworthy_plugins.physics.fuels import FUELS

RATED = 5500 / 60
SEA_LEVEL = Breathing(101_325.0, 298.15, 0.75, 303.15, 3e3, 10e3, 0.0, None, 0.025)


def petrol_turbo(fuel: str = "petrol_e10", factor: float = 1.0, induction: str = "turbo") -> Engine:
    f = FUELS[fuel]
    return Engine(
        1.998e-3, induction, f.stoichiometric_air, f.lower_heating_value, Choice(PETROL_TURBO, True, ""),
        factor, 1.0, None, 2000 / 60, RATED,
    )  # fmt: skip


def diesel(mixture: float | None = None) -> Engine:
    f = FUELS["diesel_b7"]
    return Engine(
        1.968e-3, "turbo", f.stoichiometric_air, f.lower_heating_value, Choice(DIESEL_COMMON_RAIL, True, ""),
        1.0, 1.0, mixture, 1900 / 60, 4000 / 60,
    )  # fmt: skip


def aspirated(displacement: float = 1.598e-3) -> Engine:
    f = FUELS["petrol_e10"]
    return Engine(
        displacement, "none", f.stoichiometric_air, f.lower_heating_value, Choice(PETROL_PHASED, True, ""),
        1.0, 1.0, None, 4500 / 60, 100.0,
    )  # fmt: skip


def rated(engine: Engine, power: float, breathing: Breathing = SEA_LEVEL) -> Demanded:
    """The point of rated power, with the drops at its own flow."""
    torque = torque_of(power, engine.power_speed)
    flow = flows_at(engine, engine.power_speed, torque).air
    return demand_at(engine, breathing._replace(rated_flow=flow), engine.power_speed, torque, 0.02)


def test_petrol_turbo_at_rated_power() -> None:
    # Computed by hand from the defaults: 180 kW at 5 500 rpm, 1.998 L, E10, 101.325 kPa, 25 degC.
    point = rated(petrol_turbo(), 180e3)
    assert point.torque.nominal == pytest.approx(312.52, rel=5e-4)
    assert point.mean_pressure.nominal == pytest.approx(19.656e5, rel=5e-4)
    assert point.air_flow.nominal == pytest.approx(0.1925, rel=5e-4)
    assert point.fuel_flow.nominal == pytest.approx(16.785e-3, rel=5e-4)
    assert point.fuel_flow.nominal / point.power.nominal * KWH == pytest.approx(0.3357, rel=5e-4)
    assert point.manifold_pressure.nominal == pytest.approx(222.97e3, rel=5e-4)
    assert point.manifold_pressure.nominal - 101_325.0 == pytest.approx(121.65e3, rel=5e-4)
    assert point.pressure_ratio is not None
    assert point.outlet_temperature is not None
    assert point.compressor_power is not None
    assert point.pressure_ratio.nominal == pytest.approx(2.369, rel=5e-4)
    assert point.outlet_temperature.nominal - 273.15 == pytest.approx(147.7, rel=5e-4)
    assert point.charge_temperature.nominal - 273.15 == pytest.approx(59.4, rel=1e-3)
    assert point.compressor_power.nominal == pytest.approx(22.77e3, rel=5e-4)
    assert point.exhaust_flow.nominal == pytest.approx(0.1925 + 0.016785, rel=5e-4)
    assert point.heat.nominal == pytest.approx(16.785e-3 * 41.65e6, rel=1e-3)


def test_diesel_at_rated_power() -> None:
    # 140 kW at 4 000 rpm, 1.968 L, B7, 225 g/kWh, lambda 1.28.
    point = rated(diesel(), 140e3)
    assert point.air_flow.nominal == pytest.approx(0.16171, rel=5e-4)
    assert point.manifold_pressure.nominal == pytest.approx(274.65e3, rel=5e-4)
    assert point.manifold_pressure.nominal - 101_325.0 == pytest.approx(173.32e3, rel=5e-4)
    assert point.pressure_ratio is not None
    assert point.outlet_temperature is not None
    assert point.pressure_ratio.nominal == pytest.approx(2.895, rel=5e-4)
    assert point.outlet_temperature.nominal - 273.15 == pytest.approx(183.7, rel=5e-4)
    assert point.charge_temperature.nominal - 273.15 == pytest.approx(68.4, rel=1e-3)


def test_the_petrol_case_on_ethanol() -> None:
    e10, e85 = rated(petrol_turbo(), 180e3), rated(petrol_turbo("petrol_e85", 0.97), 180e3)
    assert e85.fuel_flow.nominal == pytest.approx(23.24e-3, rel=1e-3)
    assert e85.fuel_flow.nominal / e10.fuel_flow.nominal == pytest.approx(1.38, abs=0.006)
    boost = e85.manifold_pressure.nominal - 101_325.0
    assert boost == pytest.approx(114.1e3, rel=1e-3)
    assert boost / (e10.manifold_pressure.nominal - 101_325.0) == pytest.approx(0.94, abs=0.006)


def test_bare_engine_asked_for_too_much() -> None:
    # 105 kW at 6 000 rpm from 1.598 L: the engine would have to fill itself to 1.199.
    point = rated(aspirated(), 105e3)
    assert point.manifold_pressure.nominal == pytest.approx(98.285e3, rel=1e-3)
    assert point.charge_temperature.nominal == pytest.approx(308.15)
    assert point.filling == pytest.approx(1.199, rel=1e-3)
    assert point.mean_pressure.nominal == pytest.approx(13.14e5, rel=1e-3)
    assert point.filling_default == 0.95
    assert point.pressure_ratio is None
    assert point.outlet_temperature is None
    assert point.tip_speed is None


def test_settling_finds_the_root_of_an_independent_solver() -> None:
    from scipy.optimize import brentq

    for density in (0.8, 1.5, 2.3357, 4.0):
        for effectiveness, efficiency in ((0.75, 0.72), (0.0, 0.60), (0.88, 0.78)):
            chain = Chain(101_325.0, 298.15, 303.15, efficiency, effectiveness, 303.15, 3e3, 10e3)

            def miss(p: float, chain: Chain = chain, density: float = density) -> float:
                return p - density * R_AIR * state_at(p, chain).charge_temperature

            root = brentq(miss, 1e3, 3e6, xtol=1e-6)
            assert settle(density, chain).manifold_pressure == pytest.approx(root, rel=1e-9)


def test_losses_belong_in_the_pressure_ratio() -> None:
    # 3 + 10 kPa of losses turn a ratio of 2.20 into 2.37.
    chain = Chain(101_325.0, 298.15, 303.15, 0.72, 0.75, 303.15, 3e3, 10e3)
    bare = chain._replace(filter_drop=0.0, cooler_drop=0.0)
    assert state_at(222.97e3, bare).pressure_ratio == pytest.approx(2.20, abs=0.005)
    assert state_at(222.97e3, chain).pressure_ratio == pytest.approx(2.37, abs=0.005)


def test_a_throttled_engine_asks_nothing_of_its_compressor() -> None:
    chain = Chain(101_325.0, 298.15, 303.15, 0.72, 0.75, 303.15, 3e3, 10e3)
    state = state_at(60e3, chain)
    assert state.pressure_ratio == 1.0
    assert state.outlet_temperature == state.charge_temperature == 303.15


def test_a_stated_charge_temperature_is_taken() -> None:
    stated = SEA_LEVEL._replace(charge_temperature=322.0)
    point = rated(petrol_turbo(), 180e3, stated)
    assert point.charge_temperature == Range(322.0, 322.0, 322.0)
    density = 2 * 0.1925 / (0.90 * 1.998e-3 * RATED)
    assert point.manifold_pressure.nominal == pytest.approx(density * R_AIR * 322.0, rel=1e-9)


def test_boost_forward_is_the_demand_backward() -> None:
    for engine in (petrol_turbo(), diesel(), petrol_turbo(induction="supercharger")):
        flow = 0.17
        breathing = SEA_LEVEL._replace(rated_flow=flow)
        for speed in (2000 / 60, 3300 / 60, 4000 / 60):
            torque = torque_at_pressure(engine, breathing, speed, 210e3)
            point = demand_at(engine, breathing, speed, torque, 0.09)
            assert point.manifold_pressure.nominal == pytest.approx(210e3, rel=1e-8)


def test_anchored_point_meets_the_log_at_the_logged_torque() -> None:
    engine = petrol_turbo()
    breathing = SEA_LEVEL._replace(rated_flow=0.19, temperature_u=0.015)
    base = 300.0
    work = mean_pressure(base, engine.displacement) * R_AIR * 315.0 / 205e3
    computed = state_at(205e3, _chain(engine, breathing, base)).charge_temperature
    anchor = Anchor(base, work, 205e3, 315.0, 315.0 - computed, 0.03)
    at_base = demand_at(engine, breathing, 60.0, base, 0.02, anchor)
    assert at_base.manifold_pressure == pytest.approx((205e3, 205e3, 205e3), rel=1e-8)
    assert at_base.charge_temperature.nominal == pytest.approx(315.0, rel=1e-8)
    plan = demand_at(engine, breathing, 60.0, 360.0, 0.02, anchor)
    expected = 205e3 * 1.2 * plan.charge_temperature.nominal / 315.0
    assert plan.manifold_pressure.nominal == pytest.approx(expected, rel=1e-8)
    # u 3.91 % times 0.2 away from the logged torque, two of them.
    assert plan.manifold_pressure.high / plan.manifold_pressure.nominal - 1 == pytest.approx(
        2 * 0.2 * 0.03905, rel=1e-3
    )


def _chain(engine: Engine, breathing: Breathing, torque: float) -> Chain:
    from loadworthy_plugins.load_demand.point import chain_at, figures_at

    return chain_at(breathing, figures_at(engine, 60.0).efficiency, flows_at(engine, 60.0, torque).air)


def test_measured_air_flow_replaces_the_default() -> None:
    engine = petrol_turbo()
    breathing = SEA_LEVEL._replace(rated_flow=0.19)
    work = work_density(0.93, 3.6 / KWH)
    anchor = Anchor(300.0, work, 205e3, 315.0, 0.0, 0.03, 3.6 / KWH)
    at_base = demand_at(engine, breathing, 60.0, 300.0, 0.02, anchor)
    assert at_base.air_flow.nominal == pytest.approx(at_base.power.nominal * 3.6 / KWH)
    assert at_base.air_flow.low == at_base.air_flow.high
    assert at_base.fuel_flow.high / at_base.fuel_flow.nominal == pytest.approx(1.06)


def test_richer_than_known_has_no_number() -> None:
    engine = petrol_turbo()._replace(mixture=0.65)
    with pytest.raises(OutsideModelError):
        demand_at(engine, SEA_LEVEL._replace(rated_flow=0.19), RATED, 300.0, 0.02)
    assert demand_at(diesel(1.5), SEA_LEVEL._replace(rated_flow=0.16), 60.0, 300.0, 0.02).air_flow.nominal > 0.0


def test_stated_mixture_moves_air_little_and_fuel_much() -> None:
    rich = flows_at(petrol_turbo()._replace(mixture=0.75), RATED, 300.0)
    usual = flows_at(petrol_turbo(), RATED, 300.0)
    assert rich.air / usual.air == pytest.approx(1.0154, abs=1e-3)
    assert rich.fuel / usual.fuel == pytest.approx(1.0154 * 0.82 / 0.75, abs=1e-3)
    lean = flows_at(diesel(1.4), 4000 / 60, 300.0)
    usual = flows_at(diesel(), 4000 / 60, 300.0)
    assert lean.fuel == usual.fuel
    assert lean.air / usual.air == pytest.approx(1.4 / 1.28)


RANGES = (
    "torque", "power", "mean_pressure", "air_flow", "fuel_flow", "exhaust_flow", "heat", "manifold_pressure",
    "charge_temperature", "pressure_ratio", "outlet_temperature", "compressor_power", "corrected_flow", "tip_speed",
)  # fmt: skip


@given(
    st.sampled_from([petrol_turbo(), diesel(), petrol_turbo(induction="supercharger"), aspirated()]),
    st.floats(20.0, 110.0),
    st.floats(20.0, 600.0),
    st.floats(0.1, 100.0),
    st.floats(0.02, 0.10),
)
def test_demand_never_falls_with_torque(
    engine: Engine, speed: float, torque: float, more: float, power_u: float
) -> None:
    breathing = SEA_LEVEL._replace(rated_flow=0.19)
    here = demand_at(engine, breathing, speed, torque, power_u, demonstrated_rise=70.0)
    there = demand_at(engine, breathing, speed, torque + more, power_u, demonstrated_rise=70.0)
    for name in RANGES:
        low, high = getattr(here, name), getattr(there, name)
        assert (low is None) == (high is None)
        if low is None:
            continue
        assert low.low <= low.nominal <= low.high, name
        for a, b in zip(low, high, strict=True):
            assert a <= b * (1 + 1e-9), name


@given(st.floats(20.0, 109.0), st.floats(50.0, 500.0))
def test_demand_is_continuous_over_speed(speed: float, torque: float) -> None:
    for engine in (petrol_turbo(), diesel(), aspirated()):
        breathing = SEA_LEVEL._replace(rated_flow=0.19)
        here = demand_at(engine, breathing, speed, torque, 0.05)
        there = demand_at(engine, breathing, speed + 1e-4, torque, 0.05)
        for name in ("air_flow", "fuel_flow", "manifold_pressure", "charge_temperature"):
            assert getattr(there, name).high == pytest.approx(getattr(here, name).high, rel=1e-4), name


@given(st.floats(0.0, 20.0), st.floats(150.0, 400.0))
def test_hotter_and_thinner_air_never_asks_less_of_the_compressor(warmer: float, torque: float) -> None:
    engine, base = petrol_turbo(), SEA_LEVEL._replace(rated_flow=0.19)
    hot = base._replace(ambient_temperature=298.15 + warmer, cooling_temperature=303.15 + warmer)
    high = base._replace(ambient_pressure=84.5e3)
    usual = demand_at(engine, base, 70.0, torque, 0.02)
    for other in (demand_at(engine, hot, 70.0, torque, 0.02), demand_at(engine, high, 70.0, torque, 0.02)):
        assert other.pressure_ratio is not None
        assert usual.pressure_ratio is not None
        assert other.pressure_ratio.high >= usual.pressure_ratio.high - 1e-9
        assert other.manifold_pressure.nominal >= usual.manifold_pressure.nominal * (1 - 1e-9)
