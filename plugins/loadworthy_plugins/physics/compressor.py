"""Compression of the charge: outlet temperature, efficiency, power, corrected flow, relative tip speed.

Temperatures K, absolute pressures Pa. Constant heat capacity is good enough: the outlet temperature stays within
1.4 K of CoolProp's real air up to a pressure ratio of 2.8.
"""

from __future__ import annotations

from math import sqrt
from typing import Final

from loadworthy_plugins.physics.atmosphere import CP_AIR, GAMMA_AIR

_EXPONENT: Final = (GAMMA_AIR - 1.0) / GAMMA_AIR
#: Reference state of corrected flow where no compressor map gives one.
DEFAULT_REFERENCE_TEMPERATURE: Final = 298.15
DEFAULT_REFERENCE_PRESSURE: Final = 100e3


def isentropic_rise(inlet_temperature: float, pressure_ratio: float) -> float:
    """Temperature rise (K) of loss-free compression: T1 (PR^(2/7) - 1).

    >>> round(isentropic_rise(300.0, 2.0), 2)
    65.7
    """
    return inlet_temperature * (float(pressure_ratio**_EXPONENT) - 1.0)


def outlet_temperature(inlet_temperature: float, pressure_ratio: float, efficiency: float) -> float:
    """Outlet temperature (K) at an isentropic efficiency; equals `fluids.isentropic_T_rise_compression`.

    >>> round(outlet_temperature(298.15, 2.2, 0.70), 2), round(outlet_temperature(308.15, 2.8, 0.65), 2)
    (405.77, 470.29)
    """
    return inlet_temperature + isentropic_rise(inlet_temperature, pressure_ratio) / efficiency


def isentropic_efficiency(inlet_temperature: float, outlet: float, pressure_ratio: float) -> float:
    """Efficiency from measured temperatures (K); meaningful above a pressure ratio of about 1.4.

    >>> round(isentropic_efficiency(298.15, 405.77, 2.2), 3)
    0.7
    """
    return isentropic_rise(inlet_temperature, pressure_ratio) / (outlet - inlet_temperature)


def compressor_power(air_flow: float, inlet_temperature: float, outlet: float) -> float:
    """Shaft power (W) put into the air: m cp (T2 - T1), flow in kg/s.

    >>> round(compressor_power(0.2, 300.0, 400.0))
    20100
    """
    return air_flow * CP_AIR * (outlet - inlet_temperature)


def corrected_flow(
    air_flow: float,
    inlet_temperature: float,
    inlet_pressure: float,
    reference_temperature: float = DEFAULT_REFERENCE_TEMPERATURE,
    reference_pressure: float = DEFAULT_REFERENCE_PRESSURE,
) -> float:
    """Flow (kg/s) at the reference state of a compressor map; maps differ by up to 8 %, so take the map's own.

    >>> round(corrected_flow(0.2, 298.15, 95e3), 4)
    0.2105
    """
    return air_flow * sqrt(inlet_temperature / reference_temperature) / (inlet_pressure / reference_pressure)


def tip_speed_ratio(
    inlet_temperature: float,
    pressure_ratio: float,
    demonstrated_inlet_temperature: float,
    demonstrated_pressure_ratio: float,
) -> float:
    """Wheel-tip speed relative to a demonstrated state, at equal blade loading (similarity).

    sqrt of the ratio of isentropic work. From 25 degC and 2.34 to 18.5 degC and 2.65 about 1.07.

    >>> round(tip_speed_ratio(291.65, 2.65, 298.15, 2.34), 2)
    1.07
    """
    demonstrated = isentropic_rise(demonstrated_inlet_temperature, demonstrated_pressure_ratio)
    if demonstrated <= 0.0:
        raise ValueError("the demonstrated state does not compress: pressure ratio must exceed 1")
    return sqrt(max(0.0, isentropic_rise(inlet_temperature, pressure_ratio)) / demonstrated)
