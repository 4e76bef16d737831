"""Formulas of mixture, gearing and ignition against figures from elsewhere; the source stands beside each."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.units import parse
from loadworthy_plugins.modifications import mixture
from loadworthy_plugins.physics.compressor import corrected_flow

LB_H = 0.45359237 / 3600  # unit definition


def test_pounds_an_hour() -> None:
    # Unit definitions: 0.12600 g/s; 10.15, 10.50, 11.05 cc/min at 0.745, 0.72, 0.684.
    assert parse("1 lb/h", "flow_mass").value * 1e3 == pytest.approx(0.12600, abs=1e-5)
    found = [mixture.volume_flow(LB_H, rho) * 60e6 for rho in (745.0, 720.0, 684.0)]
    assert found == pytest.approx([10.15, 10.50, 11.05], abs=0.01)


def test_cubic_centimetres_a_minute() -> None:
    # 550 cc/min at 0.745: 6.829 g/s, 54.20 lb/h (computed here).
    flow = 550e-6 / 60 * 745.0
    assert flow * 1e3 == pytest.approx(6.829, abs=0.001)
    assert flow / LB_H == pytest.approx(54.20, abs=0.01)
    assert mixture.volume_flow(flow, 745.0) * 60e6 == pytest.approx(550.0)


def test_square_root_law() -> None:
    # 440 cc/min from 300 to 400 kPa, 60 lb/h from 43.5 to 58 psi: 508.1; 69.28 (square-root law).
    assert mixture.flow_at(440.0, 300.0, 400.0) == pytest.approx(508.1, abs=0.1)
    assert mixture.flow_at(60.0, 43.5, 58.0) == pytest.approx(69.28, abs=0.1)
    # Rated in n-heptane, used on petrol of 745 kg/m3: mass +4.4 % (computed here).
    assert mixture.flow_at(1.0, 3e5, 3e5, 684.0, 745.0) == pytest.approx(1.044, abs=0.001)
    # Direct injection, 18 g/s at 10 MPa, rail 15 MPa against 1 MPa: 21.30 g/s, 85 mg in 3.99 ms (computed here).
    q = mixture.flow_at(18.0, 10e6, 15e6 - mixture.CYLINDER_PRESSURE)
    assert q == pytest.approx(21.30, abs=0.02)
    assert 85.0 / q == pytest.approx(3.99, abs=0.02)


def test_key_on_ratio() -> None:
    # Key-on 66.7 at ambient 100; log peak 146.7: k 1.50, true 220 kPa absolute (computed here).
    k = mixture.sensor_ratio(100e3, 66.7e3)
    assert k == pytest.approx(1.50, abs=0.01)
    assert k * 146.7 == pytest.approx(220.0, abs=0.5)


@pytest.mark.parametrize(("litres", "expected"), [(1.984, 1.067), (1.798, 1.177)])
def test_volumetric_efficiency(litres: float, expected: float) -> None:
    # 265 g/s, 6 000 rpm, 230 kPa, 320 K (ideal gas).
    found = mixture.volumetric_efficiency(0.265, 230e3, 320.0, litres * 1e-3, 100.0)
    assert found == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("thicker", "expected"), [(0.5e-3, 9.09), (-0.3e-3, 9.77)])
def test_ratio_after_a_gasket(thicker: float, expected: float) -> None:
    # 82.5 x 84.2 mm, 9.5 (geometry).
    assert mixture.ratio_after_gasket(82.5e-3, 84.2e-3, 9.5, thicker) == pytest.approx(expected, abs=0.01)


def test_a_gasket_that_leaves_no_chamber() -> None:
    with pytest.raises(ValueError, match="no chamber"):
        mixture.ratio_after_gasket(82.5e-3, 84.2e-3, 9.5, -10e-3)


def test_compressor_flow_at_two_reference_states() -> None:
    # 265 g/s, 303.15 K, 97 kPa: 275.5 at 298.15 K and 100 kPa, 262.9 at 302.78 K and 96.17 kPa (computed here).
    assert corrected_flow(265.0, 303.15, 97e3, 298.15, 100e3) == pytest.approx(275.5, abs=0.2)
    assert corrected_flow(265.0, 303.15, 97e3, 302.78, 96.17e3) == pytest.approx(262.9, abs=0.2)


def test_single_cause_of_a_lean_trim() -> None:
    # Trim +18 %, map for E5: injector 0.847, dp 0.718, meter 0.847, ethanol 0.457 (relations of the orifice).
    found = mixture.single_cause(0.18, 0.05)
    assert found == pytest.approx((0.847, 0.718, 0.847, 0.457), abs=0.003)


def test_single_cause_of_a_rich_trim() -> None:
    # Trim -24 % uniform: injectors 1.316 times the stated ones (relations of the orifice).
    assert mixture.single_cause(-0.24, 0.05).injector == pytest.approx(1.316, abs=0.002)
    assert mixture.single_cause(-0.24, 0.05).ethanol is None


@given(st.floats(-0.5, 0.5), st.floats(0.0, 1.0))
def test_a_single_cause_gives_the_trim_back(trim: float, configured: float) -> None:
    found = mixture.single_cause(trim, configured)
    assert 1.0 / found.injector - 1.0 == pytest.approx(trim, abs=1e-9)
    assert found.pressure**-0.5 - 1.0 == pytest.approx(trim, abs=1e-9)
    if found.ethanol is not None:
        assert mixture.open_time_factor(found.ethanol, configured) - 1.0 == pytest.approx(trim, abs=1e-6)


@pytest.mark.parametrize("trim", [-1.0, -2.0, float("nan"), float("inf")])
def test_a_trim_that_takes_all_fuel_away(trim: float) -> None:
    with pytest.raises(ValueError, match="above -1"):
        mixture.single_cause(trim)


def test_road_speed() -> None:
    # 3 000 rpm, 0.82 x 3.45, 1.95 m: 124.1 km/h (computed here).
    assert mixture.road_speed(50.0, 1.95, 0.82, 3.45) * 3.6 == pytest.approx(124.1, abs=0.1)


def test_larger_injectors_than_stated_raise_the_balance() -> None:
    # Control shortens the pulse, so that the fuel computed with the stated flow is too little.
    air, stated = 0.2, 6.9e-3
    fuel = air / 14.279
    pulse = 2.0 * fuel / (1.316 * stated * 4 * 100.0)
    found = mixture.fuel_injected(stated, pulse, 100.0, 4)
    assert mixture.air_fuel_balance(air, 1.0, 14.279, found) == pytest.approx(1.316)


def test_dead_time_grows_as_voltage_falls_and_pressure_rises() -> None:
    found = [mixture.typical_dead_time(volts / 10, 300e3) for volts in range(60, 150, 5)]
    assert found == sorted(found, reverse=True)
    assert mixture.typical_dead_time(14.0, 400e3) == pytest.approx(1.1e-3)


def test_shape_of_a_falling_tail_and_of_a_constant() -> None:
    tail = mixture.shape_of([(0.3, 0.8), (0.1, 1.0), (0.2, 1.0)])
    assert (tail.trend, tail.spread > 0.2) == (pytest.approx(-0.2), True)
    assert mixture.shape_of([(0.1, 1.2), (0.3, 1.2)])[1:] == (0.0, 0.0)
    with pytest.raises(ValueError, match="a point"):
        mixture.shape_of([])


def test_breakdown_rises_with_pressure_and_gap_and_falls_with_temperature() -> None:
    base = mixture.breakdown_voltage(1e6, 600.0, 0.8e-3)
    assert base == pytest.approx(10887.0, abs=1.0)  # 4.3 + 136/60 + 324/60 x 0.8 kV (computed here)
    assert mixture.breakdown_voltage(1.2e6, 600.0, 0.8e-3) > base > mixture.breakdown_voltage(1e6, 700.0, 0.8e-3)
    assert mixture.breakdown_voltage(1e6, 600.0, 0.6e-3) < base


def test_cranking_pressure_follows_the_compression_ratio() -> None:
    assert mixture.cranking_pressure_ratio(9.5, 9.5) == 1.0
    # Exponent 1.25, band 1.18 to 1.32: 10 to 11 gives 12.6 % (computed here).
    assert mixture.cranking_pressure_ratio(11.0, 10.0) == pytest.approx(1.1265, abs=1e-4)
    low, high = (mixture.cranking_pressure_ratio(11.0, 10.0, n) for n in (1.18, 1.32))
    assert low < 1.1265 < high


def test_posterior_of_a_typical_sensor_ratio() -> None:
    # Prior 0.05 and a likelihood ratio of 60: 0.76 (computed here).
    assert mixture.posterior(0.05, 60.0) == pytest.approx(0.7595, abs=1e-4)
    assert mixture.posterior(0.05, 1.0) == pytest.approx(0.05)
