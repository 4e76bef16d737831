"""Formulas of oil pressure, wear, heat and film: each figure with its source beside it."""

from __future__ import annotations

from math import cos, log, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from loadworthy_plugins.oil_system.film import (
    film_index,
    high_shear_viscosity,
    least_index,
)
from loadworthy_plugins.oil_system.heat import allowed_power, planned_temperature
from loadworthy_plugins.oil_system.pattern import (
    droop_ceiling,
    droop_start,
    plateau,
    slope,
    thumb_speed,
)
from loadworthy_plugins.oil_system.pressure_model import (
    bearing_flow,
    clearance_ratio,
    leak_index,
    leak_ratio,
    normalised,
    normalised_sensitivity,
    u_leak_ratio,
)
from loadworthy_plugins.oil_system.requirement import centrifugal_head, floor_pressure, floor_speed
from loadworthy_plugins.oil_system.wear import wear_rate
from loadworthy_plugins.physics.viscosity import T40, T100, density, dynamic_viscosity, line_through

OIL = line_through(T40, 63.0e-6, T100, 10.80e-6)
positive = st.floats(0.05, 20.0)


def mu(celsius: float) -> float:
    """Return the dynamic viscosity of the multigrade of the check values, Pa s."""
    return dynamic_viscosity(OIL.at(celsius + 273.15), density(855.0, celsius + 273.15))


def rpm(value: float) -> float:
    return value / 60.0


# Pressure and leakage ------------------------------------------------------------------------------------------------


def test_flow_out_of_a_bearing() -> None:
    # The closed form is the integral of the slot flow h^3 p/(12 mu l') over both sides (scipy.integrate.quad).
    p, r, c, land, viscosity, e = 300e3, 0.025, 25e-6, 0.009, 0.010, 0.6
    found = bearing_flow(p, r, c, land, viscosity, e)
    slot, _ = quad(lambda t: (c * (1.0 + e * cos(t))) ** 3 * p / (12.0 * viscosity * land) * r, 0.0, 2.0 * pi)
    assert found == pytest.approx(2.0 * slot, rel=1e-9)
    assert 6e4 * found == pytest.approx(0.1260, rel=1e-3)
    assert bearing_flow(p, r, 1.5 * c, land, viscosity, e) / found == pytest.approx(3.375)


def test_pressure_at_another_temperature() -> None:
    # Computed: 190 kPa at 800 rpm and 80 degC of the multigrade, brought to 100 degC; the root of (1-s) m x + s sqrt
    # x = 1.
    m = mu(80) / mu(100)
    assert m == pytest.approx(1.6203, rel=3e-3)
    found = [190.0 * normalised(1.0, m, 1.0, s) for s in (0.2, 0.0, 0.5)]
    assert found == pytest.approx([123.0, 117.3, 135.5], rel=3e-3)
    for share, value in zip((0.2, 0.0, 0.5), found, strict=True):
        root = brentq(lambda x, s=share: (1.0 - s) * m * x + s * sqrt(x) - 1.0, 1e-6, 2.0)
        assert value / 190.0 == pytest.approx(root, rel=1e-9)


@pytest.mark.parametrize(("share", "expected"), [(0.0, 0.7692), (0.2, 0.7906), (0.5, 0.8354)])
def test_shares_through_orifices(share: float, expected: float) -> None:
    # Computed from the quadratic for m = 1.3, r = 1.
    assert normalised(1.0, 1.3, 1.0, share) == pytest.approx(expected, abs=1e-4)


@given(positive, positive, st.floats(0.0, 0.9))
def test_normalised_pressure_solves_the_balance_of_flows(m: float, r: float, share: float) -> None:
    x = normalised(1.0, m, r, share)
    assert (1.0 - share) * m * x + share * sqrt(x) == pytest.approx(r, rel=1e-9)


@given(positive, positive, st.floats(0.0, 0.9))
def test_sensitivity_is_the_slope_of_the_normalised_pressure(m: float, r: float, share: float) -> None:
    h = 1e-5
    numeric = -(log(normalised(1.0, m * (1 + h), r, share)) - log(normalised(1.0, m * (1 - h), r, share))) / (2 * h)
    assert normalised_sensitivity(m, r, share) == pytest.approx(numeric, rel=1e-4)


def test_leak_index_and_mean_clearance() -> None:
    # Computed: 160 kPa at 750 rpm and 100 degC was the record; now 110 kPa at 800 rpm and 104 degC.
    assert mu(104) == pytest.approx(7.935e-3, rel=3e-3)
    assert leak_index(160e3, mu(100), rpm(750)) == pytest.approx(1.480e6, rel=3e-3)
    assert leak_index(110e3, mu(104), rpm(800)) == pytest.approx(1.040e6, rel=3e-3)
    ratio = leak_ratio(110e3, mu(104), rpm(800), 160e3, mu(100), rpm(750))
    assert ratio == pytest.approx(0.7025, rel=3e-3)
    assert clearance_ratio(ratio or 0.0) == pytest.approx(1.125, rel=3e-3)


@pytest.mark.parametrize(("share", "expected"), [(0.0, 1.312), (0.2, 1.269), (0.5, 1.157)])
def test_leak_ratio_with_orifices(share: float, expected: float) -> None:
    # Computed: x 0.75, m 0.5717, r 1.
    assert leak_ratio(75.0, 0.5717, 10.0, 100.0, 1.0, 10.0, share) == pytest.approx(expected, abs=3e-3)


@given(positive, positive, positive)
def test_leak_ratio_and_normalised_pressure_agree(x: float, m: float, r: float) -> None:
    # Where leakage is as that of the reference (R = 1), the corrected pressure is the reference's own.
    share = 0.2
    ratio = leak_ratio(x, m, 1.0 / r, 1.0, 1.0, 1.0, share)
    if ratio is None:
        return
    same = normalised(x, m * ratio, r, share)
    # With the laminar conductance of the reference times 1/R the corrected pressure is x y^2 with m R in place of m.
    assert (1.0 - share) * m * ratio * (1.0 / x) * same + share * sqrt(same / x) == pytest.approx(r, rel=1e-9)


@given(positive, positive, st.floats(1.001, 3.0))
def test_leak_ratio_rises_with_pressure_and_falls_with_viscosity(p: float, m: float, more: float) -> None:
    def ratio(pressure: float, viscosity: float, speed: float = 1.0) -> float:
        return leak_ratio(pressure, viscosity, speed, 1.0, 1.0, 1.0) or 0.0

    assert ratio(p * more, m) > ratio(p, m)
    assert ratio(p, m * more) < ratio(p, m)
    assert ratio(p, m, more) < ratio(p, m)


def test_leak_ratio_ends() -> None:
    assert leak_ratio(0.0, 1.0, 1.0, 1.0, 1.0, 1.0) == 0.0
    # Faster than the reference with half of the flow through orifices: the bracket is not positive.
    assert leak_ratio(4.0, 1.0, 1.3, 1.0, 1.0, 1.0, 0.7) is None
    with pytest.raises(ValueError, match="positive"):
        clearance_ratio(0.0)


def test_uncertainty_of_the_leak_ratio() -> None:
    # u(R)/R = sqrt((u_p/p)^2 + (u_mu/mu)^2 + (0.022 u_T)^2); 2.2 % per K is the multigrade's slope at 100 degC.
    found = u_leak_ratio(150e3, 10e3, 0.03, 3.0)
    assert found == pytest.approx(sqrt((10 / 150) ** 2 + 0.03**2 + (0.022 * 3.0) ** 2))
    assert (mu(99.5) - mu(100.5)) / mu(100) == pytest.approx(0.022, abs=0.001)


@pytest.mark.parametrize("bad", [(0.0, 1.0, 0.2), (1.0, 0.0, 0.2), (1.0, 1.0, 1.0), (1.0, 1.0, -0.1)])
def test_impossible_corrections(bad: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match=r"positive|orifices"):
        normalised(1.0, *bad)


# Requirement ----------------------------------------------------------------------------------------------------------


def test_pressure_that_carries_oil_to_the_crank_axis() -> None:
    # Rigid rotation, computed by integrating rho w^2 r from the axis to the journal's surface.
    speed, radius, rho = rpm(6500), 0.027, 800.0
    head, _ = quad(lambda r: rho * (2 * pi * speed) ** 2 * r, 0.0, radius)
    assert centrifugal_head(speed, radius, rho) == pytest.approx(head)
    assert head / 1e3 == pytest.approx(135.1, rel=1e-3)


@pytest.mark.parametrize(("n", "expected"), [(750, 26.9), (3000, 131.0), (6200, 232.2)])
def test_floor_pressure(n: float, expected: float) -> None:
    # Centrifugal head and a margin of 100 kPa that is full from 3 000 rpm (judgement).
    assert floor_pressure(rpm(n), 0.028, 800.0, 100e3) / 1e3 == pytest.approx(expected, abs=0.2)


@given(st.floats(50.1, 160.0))
def test_floor_speed_is_the_inverse(speed: float) -> None:
    pressure = floor_pressure(speed, 0.028, 800.0, 100e3)
    assert floor_speed(pressure, 0.028, 800.0, 100e3) == pytest.approx(speed)


def test_no_speed_where_the_pressure_is_short_at_3000() -> None:
    assert floor_speed(130.9e3, 0.028, 800.0, 100e3) is None
    assert floor_speed(50e3, 0.028, 800.0, 100e3) is None


def test_rule_of_thumb_at_a_plateau() -> None:
    # Arithmetic: 380 kPa over 68.95 kPa for each 1 000 rpm.
    assert 60 * thumb_speed(380e3, 68.95e3 / rpm(1000)) == pytest.approx(5511, abs=1)


# Shapes ---------------------------------------------------------------------------------------------------------------

FALLING = [(800.0, 150.0), (3000.0, 310.0), (4500.0, 395.0), (5500.0, 355.0), (6500.0, 300.0)]


def test_where_a_droop_starts() -> None:
    # Worked by hand: relief 400 kPa, so a later point below 360 kPa droops.
    assert droop_start(FALLING, 400.0) == 4500.0
    assert 60 * droop_ceiling(rpm(4500)) == pytest.approx(4000)
    lower = [(n, 312.0 if n == 4500.0 else p) for n, p in FALLING]
    assert droop_start(lower, 400.0) == 3000.0
    assert 60 * droop_ceiling(rpm(3000)) == pytest.approx(2500)


@given(st.integers(1, 4), st.floats(0.5, 0.999))
def test_a_lower_point_never_moves_the_start_of_a_droop_up(index: int, factor: float) -> None:
    lower = [(n, p * factor if i == index else p) for i, (n, p) in enumerate(FALLING)]
    start = droop_start(lower, 400.0)
    assert start is not None
    assert start <= 4500.0


def test_a_rising_pressure_does_not_droop() -> None:
    assert droop_start([(800.0, 100.0), (2000.0, 240.0), (4000.0, 380.0), (6000.0, 400.0)], 400.0) is None
    # At a low relief setting that is reached and held, nothing droops either.
    assert droop_start([(800.0, 100.0), (2000.0, 240.0), (4000.0, 370.0), (6000.0, 365.0)], 400.0) is None


def test_slope_of_a_sound_fixed_pump() -> None:
    assert slope([(10.0, 100.0), (20.0, 170.0), (40.0, 290.0)]) == pytest.approx(0.768, abs=0.001)
    assert slope([(10.0, 100.0)]) is None
    assert slope([(10.0, 100.0), (10.0, 120.0)]) is None


def test_plateau() -> None:
    level = [(rpm(n), p) for n, p in ((800, 150.0), (3000, 380.0), (4500, 385.0), (6000, 376.0))]
    assert plateau(level) == 380.0
    assert plateau(level[:2]) is None
    # Flat, but over less than 1 500 rpm.
    assert plateau([(rpm(800), 150.0), (rpm(3000), 380.0), (rpm(4000), 382.0)]) is None
    assert plateau([(rpm(3000), 0.0), (rpm(6000), 0.0)]) is None


# Wear -----------------------------------------------------------------------------------------------------------------


def test_wear_rate_with_top_up() -> None:
    # Solution of V dc/dd = G - u c: 42 mg/kg after 12 000 km, 5 L, 0.3 L for each 1 000 km; without top-up 3.50.
    found = wear_rate(42e-6, 12e6, 5e-3, 0.3e-3 * 12)
    assert found * 1e12 == pytest.approx(4.91, rel=2e-3)
    assert wear_rate(42e-6, 12e6, 5e-3, 0.0) * 1e12 == pytest.approx(3.50, rel=2e-3)
    # Stepped solution of the balance with that rate gives the content back.
    content, steps = 0.0, 20000
    for _ in range(steps):
        content += (found - content * 3.6e-3 / 12e6 / 5e-3) * 12e6 / steps
    assert content == pytest.approx(42e-6, rel=1e-3)


def test_iron_over_a_long_interval_is_no_wear() -> None:
    # 60 mg/kg over 25 000 km: 2.4 for each 1 000 km.
    assert wear_rate(60e-6, 25e6, 5e-3, 0.0) * 1e12 == pytest.approx(2.4)


@given(st.floats(0.0, 500e-6), st.floats(1e-7, 1e-4), st.floats(1.5e6, 30e6), st.floats(0.0, 20e-3), st.floats(0, 5e-3))
def test_more_metal_or_more_top_up_never_means_less_wear(
    rise: float, more: float, distance: float, topup: float, added: float
) -> None:
    rate = wear_rate(rise, distance, 5e-3, topup)
    assert wear_rate(rise + more, distance, 5e-3, topup) >= rate
    assert wear_rate(rise, distance, 5e-3, topup + added) >= rate * (1.0 - 1e-6)


def test_less_than_in_fresh_oil_counts_as_none() -> None:
    assert wear_rate(-5e-6, 10e6, 5e-3, 0.0) == 0.0
    for bad in ((0.0, 5e-3, 0.0), (1e6, 0.0, 0.0), (1e6, 5e-3, -1.0)):
        with pytest.raises(ValueError, match="positive"):
            wear_rate(1e-6, *bad)


# Heat and film --------------------------------------------------------------------------------------------------------


def celsius(values: tuple[float, float]) -> list[float]:
    return [value - 273.15 for value in values]


def test_oil_temperature_at_the_planned_power() -> None:
    # Computed: oil 118, coolant 92, 150 to 200 kW.
    found = planned_temperature(391.15, 365.15, 365.15, 150e3, 200e3)
    assert celsius(found) == pytest.approx([122.9, 126.7], abs=0.1)
    # At less power the flat exponent is the hotter one.
    low, high = planned_temperature(391.15, 365.15, 365.15, 150e3, 75e3)
    assert (low, high) == pytest.approx((365.15 + 26 * 0.5, 365.15 + 26 * 0.5**0.6))


def test_power_that_an_oil_temperature_allows() -> None:
    # Computed: oil 121 at 165 kW, coolant 88, limit 120: 156.8 kW; the other exponent would say 160.0.
    assert allowed_power(394.15, 361.15, 361.15, 165e3, 393.15) / 1e3 == pytest.approx(156.8, abs=0.2)
    assert allowed_power(394.15, 361.15, 395.0, 165e3, 393.15) == 0.0
    # With room left the steep exponent is the cautious one.
    assert allowed_power(383.15, 363.15, 363.15, 150e3, 393.15) == pytest.approx(150e3 * 30 / 20)


@given(st.floats(1.0, 80.0), st.floats(-20.0, 20.0), st.floats(10e3, 500e3), st.floats(10e3, 500e3))
def test_the_allowed_power_keeps_the_limit(rise: float, sink_change: float, power: float, planned: float) -> None:
    sink, limit = 360.0, 393.15
    allowed = allowed_power(sink + rise, sink, sink + sink_change, power, limit)
    if planned <= allowed:
        assert planned_temperature(sink + rise, sink, sink + sink_change, power, planned)[1] <= limit + 1e-6
    else:
        assert planned_temperature(sink + rise, sink, sink + sink_change, power, planned)[1] >= limit - 1e-6


def test_oil_that_is_no_hotter_than_its_sink() -> None:
    with pytest.raises(ValueError, match="hotter"):
        planned_temperature(360.0, 360.0, 360.0, 1e5, 1e5)
    with pytest.raises(ValueError, match="hotter"):
        allowed_power(360.0, 361.0, 360.0, 1e5, 393.15)
    with pytest.raises(ValueError, match="power"):
        planned_temperature(390.0, 360.0, 360.0, 0.0, 1e5)


def test_film_index_of_a_plan() -> None:
    # Computed: standard peak 250 N m at 1 750 rpm, 2.9 mPa s both, plan 330 N m at 1 750 rpm.
    standard = [(rpm(1750), 250.0), (rpm(4000), 250.0), (rpm(6000), 200.0)]
    reference = least_index(lambda n, t: 2.9e-3, standard)
    assert film_index(2.9e-3, rpm(1750), 330.0) / reference == pytest.approx(0.758, rel=2e-3)
    at_ratio_one = brentq(lambda t: film_index(2.9e-3, rpm(1750), t) / reference - 1.0, 50.0, 900.0)
    assert at_ratio_one == pytest.approx(250.0, rel=2e-3)
    free = brentq(lambda n: film_index(2.9e-3, n, 330.0) / reference - 1.0, rpm(1000), rpm(6000))
    assert 60 * free == pytest.approx(2310, rel=2e-3)


def test_high_shear_viscosity_at_another_temperature() -> None:
    # Computed: 3.5 mPa s at 150 degC of the multigrade, at 120 degC.
    assert 1e3 * high_shear_viscosity(3.5e-3, mu(120), mu(150)) == pytest.approx(5.73, rel=5e-3)
    assert high_shear_viscosity(3.5e-3, mu(150), mu(150), 0.8) == pytest.approx(2.8e-3)
