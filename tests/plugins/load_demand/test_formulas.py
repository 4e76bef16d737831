"""Torque, air and fuel against solved problems and published articles."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.load_demand import formulas as f
from loadworthy_plugins.physics.atmosphere import R_AIR
from loadworthy_plugins.physics.fuels import FUELS

LB, INCH, PSI, HP = 0.45359237, 0.0254, 6894.757293, 745.69987


def test_brake_test_of_an_eight_cylinder() -> None:
    # Textbook-companion IC-engine set, problem 17.12: 42 kg at 0.54 m, 4 500 rpm, 8 cylinders 90 x 80 mm,
    # 0.44 kg/min fuel, 6 kg/min air, 100 kPa, 300 K (R 287, g 9.81 as printed).
    torque = 42 * 9.81 * 0.54
    displacement = 8 * pi / 4 * 0.090**2 * 0.080
    power = f.power_of(torque, 75.0)
    assert power == pytest.approx(104.846e3, rel=1e-3)
    assert f.mean_pressure(torque, displacement) == pytest.approx(6.867e5, rel=1e-3)
    fuel, air = 0.44 / 60, 6.0 / 60
    assert fuel / power * f.KWH == pytest.approx(0.2518, rel=1e-3)
    assert air / power * f.KWH == pytest.approx(3.434, rel=1e-3)
    density = 100e3 / (287 * 300)
    assert f.filling_needed(air, density, displacement, 75.0) == pytest.approx(0.5639, rel=1e-3)
    flows = f.spark_flows(power, 3.434 / f.KWH, 1.0, 13.64)
    assert flows == pytest.approx((air, fuel), rel=1e-3)


def test_turbocharger_article() -> None:
    # Public article "Turbocharger Math" (2011): 400 hp, air-fuel ratio 12, 0.55 lb/(hp h), 122 in3 at 7 200 rpm,
    # volumetric efficiency 0.92, 130 degF -> 44.0 lb/min, 41.1 psia.
    specific_fuel = 0.55 * LB / (HP * 3600)
    air = f.diesel_flows(400 * HP, specific_fuel, 1.0, 12.0).air
    assert air * 60 / LB == pytest.approx(44.0, rel=2e-3)
    assert air == pytest.approx(0.33263, rel=2e-3)
    kelvin = (130 + 459.67) / 1.8
    density = f.charge_density(air, 0.92, 122 * INCH**3, 120.0)
    assert density * R_AIR * kelvin == pytest.approx(283.4e3, rel=2e-3)
    assert density * R_AIR * kelvin / PSI == pytest.approx(41.1, rel=2e-3)


def test_displacement_for_a_mean_pressure() -> None:
    # Textbook design example (from memory): 925 kPa and 150 N m give 2.0 dm3, 2.038 unrounded.
    assert f.mean_pressure(150.0, 2.038e-3) == pytest.approx(925e3, rel=1e-3)
    assert f.torque_of_mean_pressure(925e3, 2.038e-3) == pytest.approx(150.0, rel=1e-3)


def test_constants_of_the_trade_follow() -> None:
    assert f.torque_of(1e3, 1 / 60) == pytest.approx(9549.30, abs=0.005)
    assert f.mean_pressure(1.0, 1e-3) / 1e5 == pytest.approx(0.125664, rel=1e-5)
    # 1 lb/(hp h) is 608.28 g/kWh.
    pound_per_horsepower_hour = LB / (f.power_of(f.torque_of(HP, 1.0), 1.0) * 3600) * f.KWH * 1e3
    assert pound_per_horsepower_hour == pytest.approx(608.28, rel=1e-5)


def test_richening_hardly_lowers_the_air() -> None:
    # Holding fuel per power from 0.82 to 0.75 would cut the air by 8.5 %; the fuel-air cycle says +1.5 %.
    assert f.work_per_air(0.82) / f.work_per_air(0.75) - 1 == pytest.approx(0.015, abs=5e-4)
    assert pytest.approx(-0.085, abs=5e-4) == 0.75 / 0.82 - 1


@pytest.mark.parametrize(
    ("mixture", "work"),
    # Fuel-air cycle by Cantera, compression ratio 10, propane surrogate.
    [(0.70, 0.963), (0.75, 0.977), (0.80, 0.988), (0.85, 0.998), (0.88, 1.002), (0.90, 1.004), (0.95, 1.007)],
)
def test_work_per_air_at_its_knots(mixture: float, work: float) -> None:
    assert f.work_per_air(mixture) == pytest.approx(work, rel=1e-12)


@given(st.floats(0.70, 1.0499))
def test_work_per_air_is_continuous_and_close_to_one(mixture: float) -> None:
    here = f.work_per_air(mixture)
    assert abs(f.work_per_air(mixture + 1e-4) - here) <= 1e-4
    assert 0.96 < here <= 1.007


@pytest.mark.parametrize("mixture", [0.69, 1.06, 1.3])
def test_mixture_outside_the_cycle_has_no_number(mixture: float) -> None:
    with pytest.raises(f.OutsideModelError, match="outside"):
        f.work_per_air(mixture)


def test_work_density_identity() -> None:
    # bmep = rho kappa is the air balance written once more.
    air = f.spark_flows(180e3, 3.85 / f.KWH, 0.82, 13.986).air
    density = f.charge_density(air, 0.90, 1.998e-3, 5500 / 60)
    torque = f.torque_of(180e3, 5500 / 60)
    assert density * f.work_density(0.90, 3.85 / f.KWH) == pytest.approx(f.mean_pressure(torque, 1.998e-3), rel=1e-12)


@pytest.mark.parametrize(
    ("specific", "filling", "low", "high"),
    [
        # Ranges of kappa that the defaults imply, J/kg.
        ((3.70, 3.85), (0.95, 0.90), 0.84e6, 0.93e6),
        ((0.208 * 1.20 * 14.438, 0.225 * 1.28 * 14.438), (0.92, 0.88), 0.76e6, 0.92e6),
        ((0.245 * 1.25 * 14.438, 0.270 * 1.35 * 14.438), (0.86, 0.80), 0.54e6, 0.71e6),
    ],
)
def test_work_density_of_the_defaults(
    specific: tuple[float, float], filling: tuple[float, float], low: float, high: float
) -> None:
    for s, v in zip(specific, filling, strict=True):
        assert low <= f.work_density(v, s / f.KWH) <= high


def test_anchor_scales_with_torque_and_temperature() -> None:
    # p_plan = p_base (T_plan/T_base)(T_m,plan/T_m,base): 205 kPa x 1.2 x 322/315.
    work = f.measured_work_density(f.mean_pressure(300.0, 2e-3), 315.0, 205e3)
    pressure = f.mean_pressure(360.0, 2e-3) / work * R_AIR * 322.0
    assert pressure == pytest.approx(251.47e3, rel=1e-4)
    assert pressure == pytest.approx(205e3 * 360 / 300 * 322 / 315, rel=1e-12)


def test_wheel_figures() -> None:
    assert f.crank_figure(180e3, 0.15) == pytest.approx(211_764.7, abs=0.1)
    assert f.crank_figure(180e3, 0.0) == 180e3
    for loss in (-0.01, 1.0, 12.0):
        with pytest.raises(ValueError, match="no share"):
            f.crank_figure(180e3, loss)


def test_peaks_that_no_engine_has() -> None:
    # 250 N m at 5 000 rpm are 130.9 kW, so 150 kW there needs 286.5 N m.
    conflict = f.peak_conflict(150e3, 5000 / 60, 250.0, 2000 / 60)
    assert conflict.torque_ratio == pytest.approx(286.479 / 250, rel=1e-5)
    assert conflict.worst == conflict.torque_ratio
    # 400 N m at 4 500 rpm are already 188.5 kW.
    conflict = f.peak_conflict(150e3, 5000 / 60, 400.0, 4500 / 60)
    assert conflict.power_ratio == pytest.approx(188_495.6 / 150e3, rel=1e-6)
    assert conflict.worst == conflict.power_ratio
    assert f.peak_conflict(150e3, 5500 / 60, 320.0, 2000 / 60).worst < 1.0


@given(st.floats(1.0, 1000.0), st.floats(5.0, 150.0))
def test_power_and_torque_undo_each_other(torque: float, speed: float) -> None:
    assert f.torque_of(f.power_of(torque, speed), speed) == pytest.approx(torque, rel=1e-12)
    assert f.torque_of_mean_pressure(f.mean_pressure(torque, 2e-3), 2e-3) == pytest.approx(torque, rel=1e-12)


@pytest.mark.parametrize(("fuel", "more"), [("petrol_e85", 1.38), ("ethanol", 1.51), ("methanol", 2.10)])
def test_alcohol_changes_the_fuel_not_the_air(fuel: str, more: float) -> None:
    # From E10, same power and mixture, specific air x 0.97: fuel +38 %, x 1.5, x 2.1.
    e10 = f.spark_flows(180e3, 3.85 / f.KWH, 0.82, FUELS["petrol_e10"].stoichiometric_air)
    other = f.spark_flows(180e3, 0.97 * 3.85 / f.KWH, 0.82, FUELS[fuel].stoichiometric_air)
    assert other.air / e10.air == pytest.approx(0.97)
    assert other.fuel / e10.fuel == pytest.approx(more, abs=0.006)


def test_linear_continues_its_outer_segments() -> None:
    points = ((0.0, 0.0), (1.0, 1.0), (2.0, 4.0))
    assert [f.linear(points, x) for x in (-1.0, 0.5, 1.0, 1.5, 2.0, 3.0)] == [-1.0, 0.5, 1.0, 2.5, 4.0, 7.0]
    assert f.linear(((3.0, 7.0),), 99.0) == 7.0
