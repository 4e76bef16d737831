"""Standard atmosphere and humid air against published tables and independent libraries."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.physics import atmosphere as air


@pytest.mark.parametrize(
    ("height", "temperature", "pressure", "density"),
    [
        # ISO 2533:1975 tables, geopotential height.
        (1000.0, 281.65, 89_874.6, 1.11164),
        (2000.0, 275.15, 79_495.2, 1.00649),
    ],
)
def test_standard_air_matches_iso_2533(height: float, temperature: float, pressure: float, density: float) -> None:
    state = air.standard_air(height)
    assert state.temperature == pytest.approx(temperature, rel=1e-5)
    assert state.pressure == pytest.approx(pressure, rel=1e-5)
    assert state.density == pytest.approx(density, rel=2e-5)


def test_sea_level_is_the_standard_state() -> None:
    assert air.standard_air(0.0) == pytest.approx((288.15, 101_325.0, 1.22500), rel=2e-5)


@pytest.mark.parametrize("height", [-400.0, 0.0, 500.0, 1500.0, 3000.0, 4500.0])
def test_standard_air_matches_two_libraries(height: float) -> None:
    import ambiance
    import fluids

    state = air.standard_air(height)
    # Both libraries take geometric height; at geopotential height h that is R h/(R - h).
    radius = 6_356_766.0
    geometric = radius * height / (radius - height)
    theirs = fluids.ATMOSPHERE_1976(geometric)
    assert state.temperature == pytest.approx(theirs.T, rel=1e-5)
    assert state.pressure == pytest.approx(theirs.P, rel=1e-4)
    assert state.density == pytest.approx(theirs.rho, rel=1e-4)
    other = ambiance.Atmosphere(geometric)
    assert state.temperature == pytest.approx(float(other.temperature[0]), rel=1e-5)
    assert state.pressure == pytest.approx(float(other.pressure[0]), rel=1e-4)


def test_station_pressure_undoes_the_reduction_to_sea_level() -> None:
    # A healthy sensor at 600 m "reads 7 kPa low" against a weather report.
    station = air.station_pressure(101_325.0, 600.0)
    assert station == pytest.approx(94_321.0, abs=15.0)  # ISO 2533 table, 600 m: 943.2 hPa
    assert air.station_pressure(102_000.0, 0.0) == 102_000.0


def test_saturation_pressure_matches_coolprop() -> None:
    from CoolProp.CoolProp import PropsSI

    assert air.saturation_pressure(293.15) == pytest.approx(2332.6, rel=1e-4)
    for celsius in (0.1, 10.0, 20.0, 30.0, 40.0):
        kelvin = celsius + 273.15
        assert air.saturation_pressure(kelvin) == pytest.approx(PropsSI("P", "T", kelvin, "Q", 0, "Water"), rel=4e-3)


@pytest.mark.parametrize("celsius", [0.5, 10.0, 20.0, 30.0, 40.0])
@pytest.mark.parametrize("humidity", [0.1, 0.5, 0.9])
def test_humid_air_matches_coolprop(celsius: float, humidity: float) -> None:
    from CoolProp.CoolProp import HAPropsSI

    kelvin = celsius + 273.15
    # Vha: m3 of mixture per kg of humid air; Vda: per kg of dry air.
    state = ("T", kelvin, "P", 101_325.0, "R", humidity)
    assert air.moist_density(101_325.0, kelvin, humidity) == pytest.approx(1 / HAPropsSI("Vha", *state), rel=7e-4)
    assert air.dry_density(101_325.0, kelvin, humidity) == pytest.approx(1 / HAPropsSI("Vda", *state), rel=1e-3)


def test_humid_air_at_twenty_degrees() -> None:
    # OIML R 111 formula gives 1.1993 kg/m3 for the moist density.
    assert air.moist_density(101_325.0, 293.15, 0.5) == pytest.approx(1.1989, rel=1e-3)
    assert air.moist_density(101_325.0, 293.15, 0.5) == pytest.approx(1.1993, rel=1e-3)
    assert air.dry_density(101_325.0, 293.15, 0.5) == pytest.approx(1.1903, rel=1e-3)


@given(st.floats(80e3, 105e3), st.floats(260.0, 315.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_vapour_leaves_less_air_to_burn(pressure: float, temperature: float, one: float, other: float) -> None:
    damp, dry = max(one, other), min(one, other)
    assert air.dry_density(pressure, temperature, damp) <= air.dry_density(pressure, temperature, dry)
    assert air.dry_density(pressure, temperature, damp) <= air.moist_density(pressure, temperature, damp)


@given(st.floats(-2000.0, 10_990.0))
def test_pressure_falls_with_height(height: float) -> None:
    assert air.standard_air(height + 10.0).pressure < air.standard_air(height).pressure


@pytest.mark.parametrize("height", [-2001.0, 11_001.0])
def test_outside_the_troposphere_is_refused(height: float) -> None:
    with pytest.raises(ValueError, match="troposphere"):
        air.standard_air(height)
    with pytest.raises(ValueError, match="troposphere"):
        air.station_pressure(101_325.0, height)


def test_humidity_in_percent_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        air.dry_pressure(101_325.0, 293.15, 50.0)
