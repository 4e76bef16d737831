"""Formulas of injectors, supply and flow limits, against hand figures, published examples and other programs."""

from __future__ import annotations

from math import pi

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.units import parse, to_unit
from loadworthy_plugins.modifications.flow_limits import (
    flow_of_corrected,
    housing_ratio,
    power_of_air,
    power_of_fuel,
    torque_of_power,
)
from loadworthy_plugins.modifications.fuel_parts import (
    CYLINDER_PRESSURE,
    cycle_fuel,
    duty,
    flow_at,
    fuel_of_air,
    idle_time,
    largest_fuel,
    largest_fuel_direct,
    placeholder_dead_time,
    port_difference,
    pulse,
    required_flow,
    window_time,
)
from loadworthy_plugins.modifications.supply import (
    PETROL_VISCOSITY,
    TUBE_ROUGHNESS,
    at_voltage,
    friction_factor,
    line_loss,
    pump_delivery,
    pump_efficiency,
    pump_flow,
    scaled_loss,
)
from loadworthy_plugins.physics.compressor import corrected_flow
from loadworthy_plugins.physics.fuels import petrol_blend

E10_AIR = 13.987


@pytest.mark.parametrize(("density", "volume"), [(745.0, 10.15), (720.0, 10.50), (684.0, 11.05)])
def test_a_pound_an_hour_by_volume(density: float, volume: float) -> None:
    # Unit definitions; the trade's constant 10.5 holds at 720 kg/m3 only.
    mass = parse("1 lb/h", "flow_mass").value
    assert 1e3 * mass == pytest.approx(0.12600, abs=0.00001)
    assert to_unit(mass / density, "mL/min", "flow_volume") == pytest.approx(volume, abs=0.01)


def test_a_volume_flow_by_mass() -> None:
    # Computed here: 550 cm3/min at 745 kg/m3.
    mass = parse("550 mL/min", "flow_volume").value * 745.0
    assert 1e3 * mass == pytest.approx(6.829, abs=0.01)
    assert to_unit(mass, "lb/h", "flow_mass") == pytest.approx(54.20, abs=0.01)


def test_flow_at_another_pressure() -> None:
    # Square-root law; published examples use the same form.
    assert flow_at(440.0, 300e3, 400e3, 1.0, 1.0) == pytest.approx(508.1, abs=0.1)
    assert flow_at(60.0, 43.5, 58.0, 1.0, 1.0) == pytest.approx(69.28, abs=0.1)
    # Rated in n-heptane, used on petrol of 745 kg/m3: 4.4 % more mass.
    assert flow_at(1.0, 3e5, 3e5, 684.0, 745.0) == pytest.approx(1.044, abs=0.001)
    assert flow_at(1.0, 3e5, -1e4, 1.0, 1.0) == 0.0


def _duty(air: float, mixture: float, afr: float, cylinders: int, rpm: float, flow: float, dead: float) -> float:
    speed = rpm / 60.0
    mass = cycle_fuel(fuel_of_air(air, mixture, afr), cylinders, speed)
    return duty(pulse(mass, flow, dead), speed)


def test_pulse_and_duty_at_full_load() -> None:
    # Computed here: 265 g/s of air, lambda 0.85, E10, 4 cylinders, 6 000 rpm, 6.875 g/s, 0.9 ms.
    fuel = fuel_of_air(0.265, 0.85, E10_AIR)
    assert 1e3 * fuel == pytest.approx(22.29, abs=0.005)
    mass = cycle_fuel(fuel, 4, 100.0)
    assert 1e6 * mass == pytest.approx(111.4, abs=0.1)
    assert 1e3 * pulse(mass, 6.875e-3, 0.9e-3) == pytest.approx(17.11, abs=0.01)
    assert _duty(0.265, 0.85, E10_AIR, 4, 6000.0, 6.875e-3, 0.9e-3) == pytest.approx(0.856, abs=0.001)


def test_less_pressure_takes_more_time() -> None:
    # Computed here: the same with a tenth less pressure difference.
    flow = flow_at(6.875e-3, 1.0, 0.9, 1.0, 1.0)
    assert _duty(0.265, 0.85, E10_AIR, 4, 6000.0, flow, 0.9e-3) == pytest.approx(0.899, abs=0.001)


def test_ethanol_asks_for_more_than_there_is() -> None:
    # Blend of 85 % ethanol (DOE and Cantera constants): duty above 1 is impossible.
    e10, e85 = petrol_blend(0.10), petrol_blend(0.85)
    assert e85.stoichiometric_air == pytest.approx(9.797, abs=0.002)
    fuel = fuel_of_air(0.265, 0.85, 9.797)
    assert 1e3 * fuel == pytest.approx(31.82, abs=0.01)
    assert _duty(0.265, 0.85, 9.797, 4, 6000.0, 7.040e-3, 0.9e-3) == pytest.approx(1.175, abs=0.002)
    assert 3.6e6 * fuel / e85.density == pytest.approx(145.7, abs=0.3)
    assert 3.6e6 * fuel_of_air(0.265, 0.85, E10_AIR) / e10.density == pytest.approx(107.0, abs=0.3)


def test_required_size() -> None:
    # Computed here: the same case at a duty of 0.85.
    mass = cycle_fuel(fuel_of_air(0.265, 0.85, E10_AIR), 4, 100.0)
    flow = required_flow(mass, 100.0, 0.9e-3, 0.85)
    assert 1e3 * flow == pytest.approx(6.922, abs=0.002)
    assert to_unit(flow / 750.0, "mL/min", "flow_volume") == pytest.approx(553.8, abs=0.2)
    assert required_flow(mass, 100.0, 20e-3, 0.85) == float("inf")


def test_largest_air_flow_and_its_power() -> None:
    # Computed here: 4.75 g/s, 4 cylinders, 6 500 rpm, 1.0 ms, lambda 0.88.
    fuel = largest_fuel(4.75e-3, 4, 6500.0 / 60.0, 1e-3, 0.85)
    air = fuel * 0.88 * E10_AIR
    assert 1e3 * air == pytest.approx(186.1, abs=0.2)
    assert power_of_air(air, 3.85 / 3.6e6) / 1e3 == pytest.approx(174.0, abs=0.2)
    assert power_of_fuel(fuel, 0.320 / 3.6e6) / 1e3 == pytest.approx(170.1, abs=0.2)
    # 9 549 P[kW]/N[rpm], the usual form.
    assert torque_of_power(170e3, 6500 / 60) == pytest.approx(9549.3 * 170.0 / 6500.0, rel=1e-4)


@pytest.mark.parametrize(("boost", "expected"), [(0.0, 0.785), (120e3, 0.931), (150e3, 0.982)])
def test_boost_eats_the_pressure_of_an_unreferenced_rail(boost: float, expected: float) -> None:
    # Computed here: 440 cm3/min at 300 kPa, 400 kPa gauge held constant, 230 g/s, lambda 0.87, 6 200 rpm, 0.8 ms.
    rated = parse("440 mL/min", "flow_volume").value * 750.0
    dp = port_difference(400e3, 100e3 + boost, 100e3, referenced=False)
    flow = flow_at(rated, 300e3, dp, 1.0, 1.0)
    assert _duty(0.230, 0.87, E10_AIR, 4, 6200.0, flow, 0.8e-3) == pytest.approx(expected, abs=0.002)


def test_a_referenced_rail_keeps_its_difference() -> None:
    assert port_difference(300e3, 250e3, 100e3, referenced=True) == 300e3


def test_pump_at_lower_voltage() -> None:
    # One maker's published curve at 310 kPa: 700 lb/h at 12 V, 800 lb/h at 13.5 V.
    assert at_voltage(800.0, 13.5, 12.0) == pytest.approx(700.0, rel=0.003)
    assert at_voltage(1.0, 13.5, 12.0) == pytest.approx(0.8754, abs=0.003)
    assert at_voltage(800.0, 13.5, 15.0) == 800.0


@pytest.mark.parametrize(("litres", "loss"), [(150.0, 15.3e3), (200.0, 25.4e3)])
def test_line_loss_against_another_program(litres: float, loss: float) -> None:
    # 6 mm x 4 m, roughness 1.5 um, 745 kg/m3, 0.6 mm2/s; friction factor by the `fluids` package.
    flow = litres / 3.6e6
    speed = flow / (pi / 4.0 * 6e-3**2)
    reynolds = speed * 6e-3 / PETROL_VISCOSITY
    oracle = fluids.friction_factor(reynolds, eD=TUBE_ROUGHNESS / 6e-3)
    assert friction_factor(reynolds, TUBE_ROUGHNESS / 6e-3) == pytest.approx(oracle, rel=0.02)
    assert line_loss(flow, 6e-3, 4.0, 745.0) == pytest.approx(oracle * 4.0 / 6e-3 * 745.0 * speed**2 / 2.0, rel=0.02)
    assert line_loss(flow, 6e-3, 4.0, 745.0) == pytest.approx(loss, rel=0.02)
    if litres == 150.0:
        assert reynolds == pytest.approx(14737.0, rel=1e-3)
        assert oracle == pytest.approx(0.0284, rel=0.02)


def test_losses_over_flow() -> None:
    assert line_loss(0.0, 6e-3, 4.0, 745.0) == 0.0
    assert friction_factor(2000.0, 0.0) == pytest.approx(fluids.friction_factor(2000.0), rel=1e-6)
    assert scaled_loss(20e3, 1.0, 2.0) == pytest.approx(20e3 * 2.0**1.8)
    # A smooth pipe's exponent lies between 1.73 and 1.78: 1.8 errs on the safe side.
    ratio = line_loss(200 / 3.6e6, 6e-3, 4.0, 745.0) / line_loss(150 / 3.6e6, 6e-3, 4.0, 745.0)
    assert (200 / 150) ** 1.70 < ratio < (200 / 150) ** 1.8


def test_high_pressure_pump() -> None:
    # Computed here: 8 mm, 3.5 mm, 3 lobes, 6 000 rpm, 0.85.
    per_cam_turn = pump_delivery(8e-3, 3.5e-3, 3, 2.0, 1.0)
    assert 1e9 * per_cam_turn == pytest.approx(527.8, abs=0.1)
    flow = pump_delivery(8e-3, 3.5e-3, 3, 100.0, 0.85)
    assert 3.6e6 * flow == pytest.approx(80.8, abs=0.1)
    assert 1e3 * 750.0 * flow == pytest.approx(16.8, abs=0.1)
    assert pump_efficiency(100.0, 0.0) == 0.775


def test_housing() -> None:
    # Ratio of areas.
    assert housing_ratio(70.0, 80.0) == pytest.approx(1.306, abs=0.001)
    assert 180.0 * housing_ratio(70.0, 80.0) == pytest.approx(235.1, abs=0.1)


def test_corrected_flow_of_the_maps_own_reference() -> None:
    # Published worked example: 45 lb/min at 110 degF and 11.5 psia, reference 528 degR and 14.7 psia: 59.79 lb/min.
    found = corrected_flow(45.0, (110.0 + 460.0) / 1.8, 11.5, 528.0 / 1.8, 14.7)
    assert found == pytest.approx(59.8, abs=0.05)
    # Computed here: 265 g/s at 303.15 K and 97 kPa for two makers' references.
    assert corrected_flow(265.0, 303.15, 97.0, 298.15, 100.0) == pytest.approx(275.5, abs=0.2)
    assert corrected_flow(265.0, 303.15, 97.0, 302.78, 96.17) == pytest.approx(262.9, abs=0.2)
    assert flow_of_corrected(0.2755, 303.15, 97e3, 298.15, 100e3) == pytest.approx(0.265, abs=2e-4)


def test_direct_injection_in_its_window() -> None:
    # Computed here: 18 g/s at 10 MPa, 15 MPa of rail, 85 mg; 250 deg at 6 500 rpm.
    flow = flow_at(18.0, 10e6, 15e6 - CYLINDER_PRESSURE, 1.0, 1.0)
    assert flow == pytest.approx(21.30, abs=0.02)
    assert pulse(85.0, flow * 1e3, 0.0) * 1e3 == pytest.approx(3.99, abs=0.02)
    assert 1e3 * window_time(250.0, 6500 / 60) == pytest.approx(6.41, abs=0.02)
    most = largest_fuel_direct(21.3e-3, 4, 6500 / 60, 0.0, 250.0, 0.90)
    assert pulse(cycle_fuel(most, 4, 6500 / 60), 21.3e-3, 0.0) == pytest.approx(0.9 * window_time(250.0, 6500 / 60))


def test_placeholder_of_the_dead_time() -> None:
    # Judgement: 1.0 ms at 14 V and 300 kPa, 0.15 ms a volt down to 12 V, 0.3 ms below, 0.05 ms for 50 kPa.
    assert placeholder_dead_time(14.0, 300e3) == pytest.approx(1.0e-3)
    assert placeholder_dead_time(12.0, 350e3) == pytest.approx(1.35e-3)
    assert placeholder_dead_time(10.0, 300e3) == pytest.approx(1.9e-3)


def test_idle_time_of_large_injectors_is_short() -> None:
    short = idle_time(0.003, 1.0, E10_AIR, 4, 800 / 60, 25e-3)
    assert short == pytest.approx(0.003 / E10_AIR / 4 * 2.0 / (800 / 60) / 25e-3)
    assert short < 0.8e-3 < idle_time(0.003, 1.0, E10_AIR, 4, 800 / 60, 6e-3)


_FLOW = st.floats(1e-3, 3e-2)
_SPEED = st.floats(10.0, 130.0)
_DEAD = st.floats(0.2e-3, 2e-3)


@given(flow=_FLOW, speed=_SPEED, dead=_DEAD, limit=st.floats(0.5, 1.0), events=st.integers(1, 2))
def test_the_largest_flow_takes_just_the_duty(
    flow: float, speed: float, dead: float, limit: float, events: int
) -> None:
    most = largest_fuel(flow, 4, speed, dead, limit, events)
    if most > 0.0:
        taken = duty(pulse(cycle_fuel(most, 4, speed), flow, dead, events), speed)
        assert taken == pytest.approx(limit)
        assert required_flow(cycle_fuel(most, 4, speed), speed, dead, limit, events) == pytest.approx(flow)


@given(flow=_FLOW, speed=_SPEED, dead=_DEAD, more=st.floats(1.0, 3.0))
def test_smaller_parts_and_longer_dead_times_never_give_more(
    flow: float, speed: float, dead: float, more: float
) -> None:
    most = largest_fuel(flow, 4, speed, dead, 0.85)
    assert largest_fuel(flow / more, 4, speed, dead, 0.85) <= most
    assert largest_fuel(flow, 4, speed, dead * more, 0.85) <= most
    direct = largest_fuel_direct(flow, 4, speed, dead, 250.0, 0.9)
    assert largest_fuel_direct(flow / more, 4, speed, dead, 250.0, 0.9) <= direct
    assert largest_fuel_direct(flow, 4, speed, dead, 250.0 / more, 0.9) <= direct


@given(pressure=st.floats(0.0, 6e5), more=st.floats(0.0, 3e5), volts=st.floats(8.0, 13.5))
def test_a_pump_never_gives_more_against_more_pressure_or_less_voltage(
    pressure: float, more: float, volts: float
) -> None:
    curve = tuple((p, at_voltage(q, 13.5, volts)) for p, q in ((3e5, 60e-6), (4e5, 55e-6), (6e5, 40e-6)))
    here, there = pump_flow(curve, pressure), pump_flow(curve, pressure + more)
    assert here is not None
    assert there is None or there <= here
    assert there is not None or pressure + more > 6e5
    assert here <= (pump_flow(((3e5, 60e-6), (4e5, 55e-6), (6e5, 40e-6)), pressure) or 0.0)
