"""Fuels and petrol-ethanol blends against published figures and Cantera's."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.physics.fuels import (
    FUELS,
    evaporation_cooling,
    fuelling_factors,
    petrol_blend,
    stoichiometric_air,
)


@pytest.mark.parametrize(
    ("hydrogen", "oxygen", "air", "tolerance"),
    [
        (1.93, 0.033, 13.996, 0.005),  # reference petrol of UN R83 / GTR 15
        (2.74, 0.385, 9.860, 0.005),  # reference E85 of the same
        (1.86, 0.007, 14.438, 0.005),  # reference B7 of the same
        (1.86, 0.0, 14.589, 0.005),
        (2.525, 0.0, 15.497, 0.005),
        (4.0, 0.0, 17.239, 0.005),
        (4.0, 1.0, 6.474, 0.005),
        # Cantera stoich_air_fuel_ratio with dry air .20946/.78084/.00934/.0004.
        (3.0, 0.5, 9.006, 0.01),
        (18 / 8, 0.0, 15.133, 0.01),
        (1.85, 0.0, 14.576, 0.01),
    ],
)
def test_stoichiometric_air_of_a_formula(hydrogen: float, oxygen: float, air: float, tolerance: float) -> None:
    assert stoichiometric_air(hydrogen, oxygen) == pytest.approx(air, abs=tolerance)


@pytest.mark.parametrize(
    ("share", "w", "x", "density", "lhv", "air", "oxygen"),
    [
        # Computed from the component data (DOE AFDC, CoolProp, chemicals); Cantera agrees at 0.10 and 0.85.
        (0.00, 0.0000, 0.0000, 745.0, 43.40, 14.575, 0.00),
        (0.05, 0.0531, 0.1085, 747.4, 42.52, 14.279, 1.84),
        (0.10, 0.1058, 0.2044, 749.9, 41.65, 13.986, 3.68),
        (0.20, 0.2103, 0.3663, 754.7, 39.91, 13.404, 7.30),
        (0.30, 0.3135, 0.4978, 759.6, 38.20, 12.829, 10.9),
        (0.51, 0.5258, 0.7065, 769.8, 34.68, 11.646, 18.3),
        (0.83, 0.8387, 0.9186, 785.4, 29.49, 9.903, 29.1),
        (0.85, 0.8579, 0.9291, 786.4, 29.18, 9.797, 29.8),
        (1.00, 1.0000, 1.0000, 793.7, 26.82, 9.005, 34.73),
    ],
)
def test_blend_properties(
    share: float, w: float, x: float, density: float, lhv: float, air: float, oxygen: float
) -> None:
    blend = petrol_blend(share)
    assert blend.ethanol_mass_share == pytest.approx(w, abs=1e-4)
    assert blend.ethanol_mole_share == pytest.approx(x, abs=1e-4)
    assert blend.density == pytest.approx(density, abs=0.06)
    assert blend.lower_heating_value / 1e6 == pytest.approx(lhv, abs=0.006)
    assert blend.stoichiometric_air == pytest.approx(air, abs=0.001)
    assert 100 * blend.oxygen_mass_share == pytest.approx(oxygen, abs=0.06)


def test_blend_air_equals_the_elementary_formula() -> None:
    # The same air need from the blend's carbon, hydrogen and oxygen, counted one by one.
    for share in (0.0, 0.1, 0.51, 0.85, 1.0):
        blend = petrol_blend(share)
        w = blend.ethanol_mass_share
        petrol, ethanol = 12.011 + 1.85 * 1.008, 2 * 12.011 + 6 * 1.008 + 15.999
        carbon = (1 - w) * 12.011 / petrol + w * 2 * 12.011 / ethanol
        hydrogen = (1 - w) * 1.85 * 1.008 / petrol + w * 6 * 1.008 / ethanol
        oxygen = w * 15.999 / ethanol
        air = (carbon / 12.011 + hydrogen / 4.032 - oxygen / 31.998) * 138.28
        assert blend.stoichiometric_air == pytest.approx(air, rel=1e-9)
        assert blend.oxygen_mass_share == pytest.approx(oxygen, abs=1e-4)


def test_energy_per_volume_matches_the_department_of_energy() -> None:
    # DOE AFDC: 76 330 and 116 090 Btu per US gallon.
    for share, btu_per_gallon in ((1.0, 76_330.0), (0.0, 116_090.0)):
        blend = petrol_blend(share)
        per_litre = btu_per_gallon * 1055.056 / 3.785412 / 1e6
        assert blend.density / 1e3 * blend.lower_heating_value / 1e6 == pytest.approx(per_litre, rel=3e-3)


@pytest.mark.parametrize(
    ("share", "mass", "time", "volume"),
    [
        (0.0, 1.0, 1.0, 1.0),
        (0.05, 1.021, 1.019, 1.017),
        (0.10, 1.042, 1.039, 1.035),
        (0.20, 1.087, 1.080, 1.073),
        (0.30, 1.136, 1.125, 1.114),
        (0.51, 1.251, 1.231, 1.211),
        (0.83, 1.472, 1.433, 1.396),
        (0.85, 1.488, 1.448, 1.409),
    ],
)
def test_fuelling_factors_from_pure_petrol(share: float, mass: float, time: float, volume: float) -> None:
    # Computed; the open time follows from orifice flow with sqrt(density).
    e0, blend = petrol_blend(0.0), petrol_blend(share)
    factors = fuelling_factors(blend.stoichiometric_air, blend.density, e0.stoichiometric_air, e0.density)
    assert factors == pytest.approx((mass, time, volume), abs=6e-4)


def test_charge_cooling_matches_the_published_gain() -> None:
    # SAE 2012-01-1275: about 70 % of full evaporation, 14 K on petrol and 49 K on E85.
    for share, ours, published in ((0.0, 15.0, 14.0), (0.85, 50.9, 49.0)):
        blend = petrol_blend(share)
        gain = 0.7 * evaporation_cooling(blend.latent_heat, blend.stoichiometric_air)
        assert gain == pytest.approx(ours, abs=0.06)
        assert gain == pytest.approx(published, abs=2.0)


@pytest.mark.parametrize(
    ("name", "energy_per_air"),
    [
        ("petrol_e0", 2.978),
        ("petrol_e5", 2.978),
        ("petrol_e10", 2.978),
        ("petrol_e85", 2.978),
        ("ethanol", 2.978),
        ("methanol", 3.074),
        ("diesel_b0", 2.954),
        ("diesel_b7", 2.957),
        ("lpg", 2.968),
        ("cng", 2.900),
    ],
)
def test_every_fuel_gives_about_the_same_heat_per_kilogram_of_air(name: str, energy_per_air: float) -> None:
    fuel = FUELS[name]
    assert fuel.lower_heating_value / fuel.stoichiometric_air / 1e6 == pytest.approx(energy_per_air, abs=0.001)


def test_named_petrols_are_blends() -> None:
    for name, share in (("petrol_e0", 0.0), ("petrol_e5", 0.05), ("petrol_e10", 0.10), ("petrol_e85", 0.85)):
        assert FUELS[name].ethanol_fraction == share
        assert FUELS[name].stoichiometric_air == petrol_blend(share).stoichiometric_air


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_ethanol_needs_less_air_and_more_fuel(one: float, other: float) -> None:
    less, more = petrol_blend(min(one, other)), petrol_blend(max(one, other))
    assert more.stoichiometric_air <= less.stoichiometric_air
    assert more.lower_heating_value <= less.lower_heating_value
    assert more.density >= less.density
    factors = fuelling_factors(more.stoichiometric_air, more.density, less.stoichiometric_air, less.density)
    assert factors.mass >= factors.open_time >= factors.volume >= 1.0


@pytest.mark.parametrize("share", [-0.01, 1.01, 10.0])
def test_a_share_in_percent_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        petrol_blend(share)
