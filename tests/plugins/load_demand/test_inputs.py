"""What air, cooler, fuel and missing basics do to the demand."""

from __future__ import annotations

from typing import Any

import pytest
from load_demand_cases import (
    ASPIRATED,
    DIESEL_TURBO,
    PETROL_TURBO,
    PLAN,
    assumed,
    at,
    case,
    demand,
    limits,
    q,
)

from loadworthy.findings import Gap
from loadworthy_plugins import load_demand

# Air.


def test_station_pressure_from_what_is_stated() -> None:
    def boost_less(**more: Any) -> float:
        return at(demand(PETROL_TURBO, {"torque": PLAN}, **more), "compressor_pressure_ratio", 5500)[1]

    sea = boost_less()
    # ISO 2533: 89 874.6 Pa at 1 000 m.
    high = boost_less(altitude=q(1000.0))
    assert high > sea
    assert boost_less(ambient_pressure=q(89_874.6), ambient_pressure_kind="station") == pytest.approx(high, rel=1e-6)
    reduced = {"ambient_pressure": q(101_325.0), "ambient_pressure_kind": "sea_level_reduced"}
    assert boost_less(**reduced, altitude=q(1000.0)) == pytest.approx(high, rel=1e-6)
    # Of unknown kind, or reduced without an altitude, it is not used.
    assert boost_less(ambient_pressure=q(85e3)) == sea
    assert boost_less(**reduced) == sea


def test_cooler_decides_the_charge_temperature() -> None:
    def charge(cooler: str | None, **more: Any) -> float:
        result = demand(PETROL_TURBO, {"torque": PLAN}, charge_cooler=cooler, **more)
        return at(result, "charge_temperature", 5500)[1]

    assert charge("none") > charge("air_water") > charge("air_air")
    assert charge(None) == charge("air_air")
    assert charge("air_water", charge_coolant_temperature=q(303.15)) == pytest.approx(charge("air_air"))


def test_unknown_cooler_widens_the_pressure() -> None:
    known = at(demand(PETROL_TURBO, {"torque": PLAN}), "manifold_pressure", 5500)
    unknown = at(demand(PETROL_TURBO, {"torque": PLAN}, charge_cooler=None), "manifold_pressure", 5500)
    assert unknown[1] == known[1]
    assert unknown[2] / unknown[1] - 1 == pytest.approx(2 * (0.02**2 + 0.05**2 + 0.06**2 + 0.05**2) ** 0.5, rel=1e-3)
    assert unknown[2] > known[2]


def test_bare_engine_breathes_at_ambient() -> None:
    result = demand(ASPIRATED, {"gain": 0.02})
    _low, nominal, high = at(result, "manifold_pressure", 6000)
    assert nominal == pytest.approx(0.97 * 101_325.0)
    assert high <= 101_325.0
    assert at(result, "charge_temperature", 6000)[1] == pytest.approx(308.15)


# Fuels.


def test_alcohol_asks_for_fuel_not_for_air() -> None:
    e10 = demand(PETROL_TURBO, {"torque": PLAN})
    e85 = demand(PETROL_TURBO, {"torque": PLAN}, fuel="petrol_e85")
    assert at(e85, "fuel_flow", 5500)[1] == pytest.approx(23.24e-3, rel=1e-3)
    assert at(e85, "manifold_pressure", 5500)[1] - 101_325 == pytest.approx(114.1e3, rel=1e-3)
    assert at(e85, "air_flow", 5500)[1] == pytest.approx(0.97 * at(e10, "air_flow", 5500)[1])
    assert at(e85, "heat_load", 5500)[1] / at(e10, "heat_load", 5500)[1] == pytest.approx(0.97, abs=2e-3)


def test_a_known_ethanol_share_goes_before_the_name() -> None:
    named = demand(PETROL_TURBO, {"torque": PLAN}, fuel="petrol_e85")
    measured = demand(PETROL_TURBO, {"torque": PLAN}, ethanol_fraction=0.85)
    assert measured.quantities["fuel_flow"] == named.quantities["fuel_flow"]
    assert "ethanol share" in assumed(named)
    assert "ethanol share" not in assumed(measured)
    winter = demand(PETROL_TURBO, {"torque": PLAN}, fuel="petrol_e85", ethanol_fraction=0.51)
    assert at(winter, "fuel_flow", 5500)[1] < at(named, "fuel_flow", 5500)[1]


def test_own_fuel_figures_go_before_the_name() -> None:
    result = demand(PETROL_TURBO, {"torque": PLAN}, afr_stoich=14.0, lower_heating_value=q(42e6))
    air, fuel = at(result, "air_flow", 5500)[1], at(result, "fuel_flow", 5500)[1]
    assert air / fuel == pytest.approx(0.82 * 14.0)
    assert at(result, "heat_load", 5500)[1] == pytest.approx(fuel * 42e6)


@pytest.mark.parametrize(("fuel", "factor"), [("lpg", 0.96), ("cng", 0.91)])
def test_port_injected_gas_takes_the_room_of_air(fuel: str, factor: float) -> None:
    petrol = demand(PETROL_TURBO, {"torque": PLAN, "charge_temperature": q(320.0)}, fuel="petrol_e0")
    gas = demand(PETROL_TURBO, {"torque": PLAN, "charge_temperature": q(320.0)}, fuel=fuel)
    ratio = at(gas, "manifold_pressure", 5500)[1] / at(petrol, "manifold_pressure", 5500)[1]
    assert ratio == pytest.approx(1 / factor)
    # The nearest row serves: 3 % more on both uncertainties.
    _low, nominal, high = at(gas, "air_flow", 5500)
    assert high / nominal - 1 == pytest.approx(2 * (0.02**2 + 0.08**2) ** 0.5)


def test_mixture_outside_the_known_range_has_no_demand() -> None:
    for mixture in (0.69, 1.06):
        assert load_demand.demand(case(PETROL_TURBO, {"torque": PLAN, "lambda": mixture})) is None
    assert load_demand.demand(case(DIESEL_TURBO, {"torque": PLAN, "lambda": 0.95})) is None
    lean = demand(DIESEL_TURBO, {"torque": PLAN, "lambda": 1.5})
    usual = demand(DIESEL_TURBO, {"torque": PLAN})
    assert at(lean, "air_flow", 5500)[1] == pytest.approx(at(usual, "air_flow", 5500)[1] * 1.5 / 1.28)


@pytest.mark.parametrize("missing", ["displacement", "fuel", "induction"])
def test_without_the_basics_there_is_no_demand(missing: str) -> None:
    assert load_demand.demand(case(PETROL_TURBO, {"torque": PLAN}, **{missing: None})) is None


def test_peaks_that_contradict_each_other_give_no_demand() -> None:
    plan = {
        "peak_power": q(150e3),
        "peak_power_speed": q(5000 / 60),
        "peak_torque": q(250.0),
        "peak_torque_speed": q(2000 / 60),
    }
    assert load_demand.demand(case(PETROL_TURBO, plan)) is None
    # 2 % is rounding: 286.48 N m are needed.
    assert load_demand.demand(case(PETROL_TURBO, {**plan, "peak_torque": q(282.0)})) is not None
    assert load_demand.demand(case(PETROL_TURBO, {**plan, "peak_torque": q(280.0)})) is None


def test_drops_go_with_the_flow_squared() -> None:
    result = demand(PETROL_TURBO, {"torque": PLAN})
    rated = max(at(result, "air_flow", 60 * n)[1] for n in result.speeds)
    for rpm in (1500, 3000, 5500):
        share = (at(result, "air_flow", rpm)[1] / rated) ** 2
        pressure = at(result, "manifold_pressure", rpm)[1]
        expected = (pressure + 10e3 * share) / (101_325.0 - 3e3 * share)
        assert at(result, "compressor_pressure_ratio", rpm)[1] == pytest.approx(expected, rel=1e-9)


def test_a_supercharger_heats_the_charge_more() -> None:
    # 0.60 mechanical against 0.72 at the rated speed of a turbocharger (judgement).
    result = demand(PETROL_TURBO, {"torque": PLAN}, induction="supercharger")
    ratio = at(result, "compressor_pressure_ratio", 5500)[1]
    rise = 303.15 * (ratio ** (2 / 7) - 1) / 0.60
    assert at(result, "compressor_outlet_temperature", 5500)[1] == pytest.approx(303.15 + rise, rel=1e-9)


@pytest.mark.parametrize(
    ("temperature", "cooler", "u"),
    [(q(320.0), "air_air", 0.025), (q(320.0), None, 0.025), (q(320.0, 16.0), "air_air", 0.05)],
)
def test_a_stated_charge_temperature_is_as_certain_as_stated(temperature: Any, cooler: str | None, u: float) -> None:
    plan = {"torque": PLAN, "charge_temperature": temperature}
    _, nominal, high = at(demand(PETROL_TURBO, plan, charge_cooler=cooler), "manifold_pressure", 5500)
    assert high / nominal - 1 == pytest.approx(2 * (0.02**2 + 0.05**2 + 0.06**2 + u**2) ** 0.5)


def test_pure_alcohols_take_three_per_cent_less_air() -> None:
    petrol = at(demand(PETROL_TURBO, {"torque": PLAN}, fuel="petrol_e0"), "air_flow", 5500)[1]
    for fuel in ("ethanol", "methanol"):
        alcohol = at(demand(PETROL_TURBO, {"torque": PLAN}, fuel=fuel), "air_flow", 5500)[1]
        assert alcohol / petrol == pytest.approx(0.97)


# Working cycle.


@pytest.mark.parametrize("cycle", ["two_stroke", "rotary"])
def test_other_cycles_are_refused_with_a_required_gap(cycle: str) -> None:
    made = case({**PETROL_TURBO, "engine_cycle": cycle}, {"torque": PLAN})
    assert load_demand.demand(made) is None
    (gap,) = (one for one in load_demand.examine(made, limits()) if isinstance(one, Gap))
    assert (gap.id, gap.required) == ("load_demand.engine_cycle", True)


def test_a_stated_four_stroke_is_the_assumed_one() -> None:
    stated = load_demand.demand(case({**PETROL_TURBO, "engine_cycle": "four_stroke"}, {"torque": PLAN}))
    assert stated is not None
    assert stated == load_demand.demand(case(PETROL_TURBO, {"torque": PLAN}))
