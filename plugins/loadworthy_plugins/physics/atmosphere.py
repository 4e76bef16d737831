"""The air around the vehicle: standard atmosphere, station pressure, humid air.

Sources: ISO 2533:1975 and US Standard Atmosphere 1976 (troposphere, geopotential height); WMO-No. 8 for the
saturation pressure over water (coefficients: from memory; within 0.35 % of CoolProp from 0 to 40 degC).
"""

from __future__ import annotations

from math import exp
from typing import Final

from loadworthy.sdk import NamedTuple

#: Gas constants of dry air and of water vapour, J/(kg K).
R_AIR: Final = 287.05
R_VAPOUR: Final = 461.5
#: Heat capacity of air at constant pressure, J/(kg K), and ratio of its heat capacities.
CP_AIR: Final = 1005.0
GAMMA_AIR: Final = 1.4
#: Standard pressure (Pa) and temperature (K) at sea level.
STANDARD_PRESSURE: Final = 101_325.0
STANDARD_TEMPERATURE: Final = 288.15
ZERO_CELSIUS: Final = 273.15

_LAPSE: Final = 0.0065  # K/m
_EXPONENT: Final = 5.25588  # g / (lapse R), ISO 2533
_LOWEST: Final = -2_000.0
_HIGHEST: Final = 11_000.0


class Air(NamedTuple):
    """State of still air: temperature in K, absolute pressure in Pa, density in kg/m3."""

    temperature: float
    pressure: float
    density: float


def _pressure_share(height: float) -> float:
    if not _LOWEST <= height <= _HIGHEST:
        raise ValueError(f"height {height} m is outside the troposphere model (-2000 to 11000 m)")
    return float((1.0 - _LAPSE * height / STANDARD_TEMPERATURE) ** _EXPONENT)


def standard_air(height: float) -> Air:
    """Standard atmosphere at a geopotential height (m), -2 to 11 km; ValueError outside.

    T = 288.15 - 0.0065 h; p = 101 325 (T/288.15)^5.25588. Source: ISO 2533:1975, table values below.

    >>> air = standard_air(1000.0)
    >>> round(air.temperature, 2), round(air.pressure, 1), round(air.density, 3)
    (281.65, 89874.6, 1.112)
    """
    temperature = STANDARD_TEMPERATURE - _LAPSE * height
    pressure = STANDARD_PRESSURE * _pressure_share(height)
    return Air(temperature, pressure, pressure / (R_AIR * temperature))


def station_pressure(sea_level_pressure: float, height: float) -> float:
    """Pressure at the place (Pa) from a report reduced to sea level (QNH, Pa) and the height (m).

    p = QNH (1 - 0.0065 h/288.15)^5.25588, the standard atmosphere's own reduction (ISO 2533).

    >>> round(station_pressure(101_325.0, 2000.0), 1)
    79495.2
    """
    return sea_level_pressure * _pressure_share(height)


def saturation_pressure(temperature: float) -> float:
    """Vapour pressure over water, Pa, at a temperature in K (-45 to 60 degC).

    e_s = 611.2 exp(17.62 t/(243.12 + t)), t in degC. Source: WMO-No. 8 (from memory).

    >>> round(saturation_pressure(293.15), 1)
    2332.6
    """
    celsius = temperature - ZERO_CELSIUS
    return 611.2 * exp(17.62 * celsius / (243.12 + celsius))


def dry_pressure(pressure: float, temperature: float, relative_humidity: float) -> float:
    """Partial pressure of the dry air, Pa: total pressure less the vapour's; humidity 0 to 1.

    >>> round(dry_pressure(101_325.0, 293.15, 0.5))
    100159
    """
    if not 0.0 <= relative_humidity <= 1.0:
        raise ValueError(f"relative humidity {relative_humidity} is not between 0 and 1")
    return pressure - relative_humidity * saturation_pressure(temperature)


def dry_density(pressure: float, temperature: float, relative_humidity: float) -> float:
    """Mass of dry air per volume of humid air, kg/m3: the part that burns fuel.

    >>> round(dry_density(101_325.0, 293.15, 0.5), 4)
    1.1903
    """
    return dry_pressure(pressure, temperature, relative_humidity) / (R_AIR * temperature)


def moist_density(pressure: float, temperature: float, relative_humidity: float) -> float:
    """Density of humid air, kg/m3, dry air and vapour together.

    >>> round(moist_density(101_325.0, 293.15, 0.5), 4)
    1.1989
    """
    dry = dry_pressure(pressure, temperature, relative_humidity)
    return dry / (R_AIR * temperature) + (pressure - dry) / (R_VAPOUR * temperature)
