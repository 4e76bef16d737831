"""The physics against published figures; where none is, against a computation of another kind."""

from __future__ import annotations

import pytest

from loadworthy_cooling.formulas import (
    air_pressure,
    boiling_point,
    rise_factor,
    settled_temperature,
    sustained_load,
    water_pressure,
)


@pytest.mark.parametrize(
    ("temperature", "megapascal"),
    # IAPWS R7-97(2012), table 35.
    [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)],
)
def test_water_boils_as_the_release_prints(temperature: float, megapascal: float) -> None:
    assert water_pressure(temperature) == pytest.approx(megapascal * 1e6, rel=1e-8)


@pytest.mark.parametrize(
    ("pressure", "temperature"),
    # IAPWS R7-97(2012), table 36.
    [(0.1e6, 372.755919), (1.0e6, 453.035632)],
)
def test_boiling_point_of_water(pressure: float, temperature: float) -> None:
    assert boiling_point(pressure) == pytest.approx(temperature, abs=1e-5)


@pytest.mark.parametrize(
    ("gauge", "low", "high"),
    # Public coolant tables, half and half by volume: 226 degF at sea level, 262 to 265 degF under a cap of 15 psi; of
    # the latter the ideal mixture lies up to 2 K above.
    [(0.0, 107.7, 107.9), (103_421.0, 127.8, 129.4 + 2.0)],
)
def test_boiling_point_of_coolant_against_public_tables(gauge: float, low: float, high: float) -> None:
    assert low <= boiling_point(101_325.0 + gauge, 0.5) - 273.15 <= high


@pytest.mark.parametrize(
    ("gauge", "share", "celsius"),
    # Computed independently, with the IAPWS auxiliary equation for water in place of the industrial formulation.
    [
        (0.0, 0.33, 104.1),
        (0.0, 0.4, 105.4),
        (0.0, 0.6, 111.1),
        (90e3, 0.0, 118.8),
        (90e3, 0.5, 127.5),
        (110e3, 0.33, 126.6),
        (140e3, 0.4, 132.5),
        (140e3, 0.6, 139.1),
    ],
)
def test_boiling_point_under_a_cap(gauge: float, share: float, celsius: float) -> None:
    assert boiling_point(101_325.0 + gauge, share) - 273.15 == pytest.approx(celsius, abs=0.06)


@pytest.mark.parametrize(
    ("altitude", "hectopascal"),
    # ISO 2533:1975, tables.
    [(0.0, 1013.25), (1000.0, 898.76), (2000.0, 795.01), (3000.0, 701.21)],
)
def test_air_pressure(altitude: float, hectopascal: float) -> None:
    assert air_pressure(altitude) / 1e2 == pytest.approx(hectopascal, rel=3e-4)


def test_more_of_a_bad_thing_is_never_better() -> None:
    shares = [boiling_point(150e3, share / 20) for share in range(15)]
    assert shares == sorted(shares)
    altitudes = [boiling_point(air_pressure(h)) for h in range(0, 6000, 500)]
    assert altitudes == sorted(altitudes, reverse=True)
    factors = [rise_factor(r / 20) for r in range(1, 60)]
    assert factors == sorted(factors)


@pytest.mark.parametrize("room", [60.0, 78.0, 115.0])
def test_sustained_load_settles_at_its_limit(room: float) -> None:
    load = sustained_load(120e3, 78.0, room)
    assert settled_temperature(0.0, 78.0, load / 120e3) == pytest.approx(room)


@pytest.mark.parametrize(("pressure", "share"), [(0.0, 0.0), (2e6, 0.0), (float("nan"), 0.0), (1e5, 0.8), (1e5, -0.1)])
def test_no_boiling_point_of_nonsense(pressure: float, share: float) -> None:
    with pytest.raises(ValueError, match="no "):
        boiling_point(pressure, share)
