"""Flow through an opening against standards, solved textbook cases and real-gas computation."""

from __future__ import annotations

from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.physics import gas_flow

PSI = 6894.757293


def test_relief_valve_gas_matches_api_520() -> None:
    # API 520 Part I, example 1: 24 270 kg/h hydrocarbon, 348 K, Z 0.90, M 51, k 1.11, 670 kPa to atmosphere.
    import fluids

    gas_constant = 8314.46 / 51 * 0.90
    flux = gas_flow.mass_flux(670e3, 348.0, 101_325.0, gas_constant=gas_constant, gamma=1.11)
    assert flux == pytest.approx(1869.3, rel=1e-3)
    area = 24_270 / 3600 / flux
    assert 1e6 * area == pytest.approx(3606.5, rel=1e-3)
    assert 1e6 * area == pytest.approx(0.975 * 3699.0, rel=1e-3)
    theirs = fluids.API520_A_g(
        m=24_270 / 3600, T=348.0, Z=0.90, MW=51.0, k=1.11, P1=670e3, P2=101_325.0, Kd=0.975, Kb=1.0, Kc=1.0
    )
    assert area / 0.975 == pytest.approx(theirs, rel=1e-3)


def test_tyre_with_a_hole() -> None:
    # Modern Engineering Thermodynamics, ex. 16.8: 1 ft3 at 70 degF, 50 psia, hole 0.0938 in, to 14.7 psia.
    # Printed: time constant 31.95 s, unchokes after 18.7 s.
    volume, kelvin = 0.3048**3, (70 + 459.67) / 1.8
    area = pi / 4 * (0.0938 * 0.0254) ** 2
    unchokes = 14.7 / gas_flow.critical_ratio()
    assert unchokes == pytest.approx(27.83, rel=2e-3)
    constant = gas_flow.choked_decay_time(area, volume, kelvin, 2.718281828459045, 1.0)
    assert constant == pytest.approx(31.92, rel=2e-3)
    assert constant == pytest.approx(31.95, rel=2e-3)
    time = gas_flow.choked_decay_time(area, volume, kelvin, 50 * PSI, unchokes * PSI)
    assert time == pytest.approx(18.70, rel=2e-3)


def _real_air_flux(upstream: float, kelvin: float, downstream: float) -> float:
    """Largest isentropic flux of CoolProp's air down to the outlet pressure: a real-gas nozzle."""
    from CoolProp.CoolProp import PropsSI

    h0 = PropsSI("H", "P", upstream, "T", kelvin, "Air")
    s0 = PropsSI("S", "P", upstream, "T", kelvin, "Air")
    best = 0.0
    for i in range(401):
        p = upstream + (downstream - upstream) * i / 400
        h = PropsSI("H", "P", p, "S", s0, "Air")
        rho = PropsSI("D", "P", p, "S", s0, "Air")
        best = max(best, rho * sqrt(max(0.0, 2 * (h0 - h))))
    return best


@pytest.mark.parametrize(
    ("upstream", "kelvin", "ours", "real"),
    [(250e3, 320.0, 564.8, 565.3), (150e3, 293.15, 338.7, 338.9)],
)
def test_mass_flux_matches_a_real_air_nozzle(upstream: float, kelvin: float, ours: float, real: float) -> None:
    flux = gas_flow.mass_flux(upstream, kelvin, 100e3)
    assert flux == pytest.approx(ours, rel=1e-3)
    assert _real_air_flux(upstream, kelvin, 100e3) == pytest.approx(real, rel=1e-4)
    assert flux == pytest.approx(real, rel=1e-3)


def test_sonic_conductance_of_an_area() -> None:
    assert gas_flow.sonic_conductance(1.0) == pytest.approx(1.99195e-3, rel=1e-5)


@given(st.floats(101e3, 400e3), st.floats(260.0, 400.0))
def test_conductance_form_follows_the_nozzle(upstream: float, kelvin: float) -> None:
    # ISO 6358-1:2013 with b 0.528 is an ellipse through the same two ends; 0.3 % of the choked flow apart at most.
    area = 2e-6
    nozzle = area * gas_flow.mass_flux(upstream, kelvin, 100e3)
    choked = area * gas_flow.mass_flux(upstream, kelvin, 0.0)
    ellipse = gas_flow.conductance_flow(gas_flow.sonic_conductance(area), upstream, kelvin, 100e3, 0.528282)
    assert ellipse == pytest.approx(nozzle, abs=0.003 * choked)


def test_flow_is_continuous_where_it_chokes() -> None:
    edge = gas_flow.critical_ratio()
    assert gas_flow.flow_function(edge * (1 - 1e-9)) == pytest.approx(
        gas_flow.flow_function(edge * (1 + 1e-9)), rel=1e-9
    )
    assert gas_flow.flow_function(edge) == pytest.approx(0.684731, abs=1e-6)
    # 1.893 times the downstream pressure, 90.5 kPa gauge at sea level.
    assert 101.3 / edge - 101.3 == pytest.approx(90.5, abs=0.1)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_flow_function_falls_with_the_ratio(one: float, other: float) -> None:
    low, high = min(one, other), max(one, other)
    assert gas_flow.flow_function(low) >= gas_flow.flow_function(high) >= 0.0


@given(st.floats(105e3, 500e3), st.floats(0.1, 50.0))
def test_more_pressure_never_passes_less(upstream: float, more: float) -> None:
    here = gas_flow.mass_flux(upstream, 300.0, 100e3)
    assert gas_flow.mass_flux(upstream + more * 1e3, 300.0, 100e3) > here


@given(st.floats(0.05, 50.0), st.floats(102e3, 400e3))
def test_effective_area_undoes_the_flow(square_mm: float, upstream: float) -> None:
    area = square_mm * 1e-6
    flow = area * gas_flow.mass_flux(upstream, 300.0, 100e3)
    assert gas_flow.effective_area(flow, upstream, 300.0, 100e3) == pytest.approx(area, rel=1e-12)


def test_equivalent_hole() -> None:
    assert gas_flow.equivalent_diameter(0.5115e-6, 0.65) == pytest.approx(1.00e-3, rel=2e-3)
    assert gas_flow.equivalent_diameter(pi / 4 * 4e-6, 1.0) == pytest.approx(2e-3, rel=1e-12)


@pytest.mark.parametrize(("ratio", "discharge"), [(1.0, 0.60), (0.6, 0.71), (0.5, 0.75), (0.4, 0.79)])
def test_sharp_edge_discharge(ratio: float, discharge: float) -> None:
    # Orifice data fit of 1949, as printed in public simulation-library documentation.
    assert gas_flow.sharp_edge_discharge(ratio) == pytest.approx(discharge, abs=0.006)


def test_choked_decay_agrees_with_integration() -> None:
    from scipy.integrate import solve_ivp

    area, volume, kelvin = 1e-6, 8e-3, 293.15

    def fall(_t: float, p: list[float]) -> list[float]:
        return [-287.05 * kelvin / volume * area * gas_flow.mass_flux(p[0], kelvin, 100e3)]

    time = gas_flow.choked_decay_time(area, volume, kelvin, 400e3, 250e3)
    result = solve_ivp(fall, (0.0, time), [400e3], rtol=1e-9, atol=1e-3)
    assert result.y[0][-1] == pytest.approx(250e3, rel=1e-6)


@pytest.mark.parametrize("ratio", [-0.1, 1.001])
def test_flow_against_the_pressure_is_refused(ratio: float) -> None:
    with pytest.raises(ValueError, match="pressure ratio"):
        gas_flow.flow_function(ratio)
    with pytest.raises(ValueError, match="pressure ratio"):
        gas_flow.sharp_edge_discharge(ratio)
    with pytest.raises(ValueError, match="pressure ratio"):
        gas_flow.conductance_flow(1e-9, 100e3, 300.0, ratio * 100e3, 0.5)
