"""Leak-down: two openings in series, against fluids and a real-air nozzle."""

from __future__ import annotations

from math import isinf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.compression import leakage
from loadworthy_plugins.physics.gas_flow import critical_ratio, mass_flux

SEA = 101325.0
PSI = 6894.757
SUPPLY = 80 * PSI + SEA
JET_40 = leakage.jet_area(0.001016, 0.85)


def real_air_flux(upstream: float, downstream: float, temperature: float = 293.15) -> float:
    """Return the mass flux of real air through an ideal nozzle: the greatest along the isentrope (CoolProp)."""
    from CoolProp.CoolProp import PropsSI

    h0 = PropsSI("H", "P", upstream, "T", temperature, "Air")
    s0 = PropsSI("S", "P", upstream, "T", temperature, "Air")

    def at(pressure: float) -> float:
        speed = sqrt(max(0.0, 2 * (h0 - PropsSI("H", "P", pressure, "S", s0, "Air"))))
        return PropsSI("D", "P", pressure, "S", s0, "Air") * speed

    throat = upstream * critical_ratio()
    if downstream >= throat * 1.01:
        return at(downstream)
    return max(at(throat * (0.97 + 0.002 * i)) for i in range(31))


def real_air_cylinder(ratio: float) -> float:
    """Return the gauge cylinder pressure at 80 psi supply for an area ratio, by bisection on real-air fluxes."""
    low, high = SEA, SUPPLY
    for _ in range(40):
        middle = (low + high) / 2
        if real_air_flux(SUPPLY, middle) > ratio * real_air_flux(middle, SEA):
            low = middle
        else:
            high = middle
    return low - SEA


def test_critical_ratio_and_choked_flux() -> None:
    from fluids.safety_valve import API520_A_g

    assert critical_ratio() == pytest.approx(0.528282, abs=1e-6)
    flux = mass_flux(652.91e3, 293.15, SEA)
    assert flux == pytest.approx(1541.2, rel=1e-3)
    # API 520 Part I sizing for the same flow must give one square metre.
    area = API520_A_g(m=flux, T=293.15, Z=1.0, MW=28.9651159, k=1.4, P1=652.91e3, P2=SEA, Kd=1.0, Kb=1.0, Kc=1.0)
    assert area == pytest.approx(1.0, rel=1e-3)
    # 1 541.2 kg/(s m2) through the geometric area of a 1.016 mm jet.
    assert flux * leakage.jet_area(0.001016, 1.0) * 1e3 == pytest.approx(1.2495, rel=1e-3)


def test_sixty_of_eighty_psi() -> None:
    k = leakage.area_ratio(SUPPLY, 60 * PSI + SEA, SEA)
    assert k == pytest.approx(1.0586, rel=2e-3)
    assert k * JET_40 * 1e6 == pytest.approx(0.729, rel=2e-3)
    # Real air (CoolProp) reads within 0.2 % for the same areas: 413.59 against 413.69 kPa.
    assert real_air_cylinder(k) == pytest.approx(60 * PSI, rel=2e-3)


def test_equal_areas() -> None:
    gauge = leakage.cylinder_pressure(1.0, SUPPLY, SEA) - SEA
    assert gauge / 1e3 == pytest.approx(425.87, abs=0.05)
    assert 100 * (1 - gauge / (80 * PSI)) == pytest.approx(22.79, abs=0.05)
    assert real_air_cylinder(1.0) == pytest.approx(gauge, rel=2e-3)


@pytest.mark.parametrize(
    ("diameter", "supply", "percent", "tolerance"),
    [
        # The leak that reads 25 % on a 1.016 mm jet at 80 psi, on other testers (independent: real air below).
        (0.001016, 80 * PSI, 25.0, 0.05),
        (0.001524, 80 * PSI, 5.86, 0.05),
        (0.002, 6e5, 2.0, 0.05),
        (0.0008, 80 * PSI, 49.0, 0.5),
    ],
)
def test_percentages_mean_nothing_without_the_jet(
    diameter: float, supply: float, percent: float, tolerance: float
) -> None:
    leak = leakage.area_ratio(SUPPLY, 60 * PSI + SEA, SEA) * JET_40
    jet = leakage.jet_area(diameter, 0.85)
    p2 = leakage.cylinder_pressure(leak / jet, supply + SEA, SEA)
    assert 100 * leakage.loss(supply + SEA, p2, SEA) == pytest.approx(percent, abs=tolerance)
    # Mass balance by an independent flux.
    assert jet * real_air_flux(supply + SEA, p2) == pytest.approx(leak * real_air_flux(p2, SEA), rel=0.01)


@pytest.mark.parametrize(("percent", "area"), [(5, 0.298), (10, 0.431), (20, 0.637), (25, 0.729), (40, 0.999)])
def test_areas_of_the_loss_table(percent: int, area: float) -> None:
    p2 = leakage.cylinder_from_loss(SUPPLY, percent / 100, SEA)
    assert leakage.area_ratio(SUPPLY, p2, SEA) * JET_40 * 1e6 == pytest.approx(area, abs=6e-4)


def test_a_known_jet_in_place_of_the_cylinder() -> None:
    # A 1.016 mm tester at 80 psi must read 21.6 % on a 1.00 mm jet.
    k = (1.0 / 1.016) ** 2
    p2 = leakage.cylinder_pressure(k, SUPPLY, SEA)
    assert 100 * leakage.loss(SUPPLY, p2, SEA) == pytest.approx(21.6, abs=0.05)
    assert leakage.jet_by_known_jet(leakage.area_ratio(SUPPLY, p2, SEA)) == pytest.approx(0.001016, rel=1e-6)
    with pytest.raises(ValueError, match="leak"):
        leakage.jet_by_known_jet(0.0)


def test_ends_and_refusals() -> None:
    assert leakage.area_ratio(SUPPLY, SUPPLY, SEA) == 0.0
    assert isinf(leakage.area_ratio(SUPPLY, SEA, SEA))
    assert leakage.cylinder_pressure(0.0, SUPPLY, SEA) == pytest.approx(SUPPLY, rel=1e-9)
    for p1, p2 in [(SUPPLY, SUPPLY + 1), (SUPPLY, SEA - 1), (SEA, SEA)]:
        with pytest.raises(ValueError, match="fall"):
            leakage.area_ratio(p1, p2, SEA)
    with pytest.raises(ValueError, match="below zero"):
        leakage.cylinder_pressure(-0.1, SUPPLY, SEA)


def test_uncertainty_against_monte_carlo() -> None:
    import numpy as np

    rng = np.random.default_rng(40)
    p2 = 60 * PSI + SEA
    stated = leakage.area_uncertainty(SUPPLY, p2, SEA, jet=JET_40, u_supply=3e3, u_cylinder=4e3, u_jet=0.03)
    drawn = [
        leakage.area_ratio(SUPPLY + a, p2 + b, SEA) * JET_40 * (1 + c)
        for a, b, c in zip(rng.normal(0, 3e3, 4000), rng.normal(0, 4e3, 4000), rng.normal(0, 0.03, 4000), strict=True)
    ]
    assert stated == pytest.approx(float(np.std(drawn)), rel=0.08)


pressures = st.floats(0.02, 0.98)


@given(pressures, pressures, st.floats(2e5, 1e6), st.floats(7e4, 1.04e5))
def test_area_falls_as_the_cylinder_holds_more(a: float, b: float, gauge: float, ambient: float) -> None:
    low, high = sorted((a, b))
    supply = gauge + ambient
    leaky = leakage.area_ratio(supply, ambient + low * gauge, ambient)
    tight = leakage.area_ratio(supply, ambient + high * gauge, ambient)
    assert tight < leaky if high - low > 1e-9 else tight <= leaky


@given(pressures, st.floats(2e5, 1e6), st.floats(7e4, 1.04e5))
def test_inverse(held: float, gauge: float, ambient: float) -> None:
    cylinder = ambient + held * gauge
    k = leakage.area_ratio(gauge + ambient, cylinder, ambient)
    assert leakage.cylinder_pressure(k, gauge + ambient, ambient) == pytest.approx(cylinder, rel=1e-7)
