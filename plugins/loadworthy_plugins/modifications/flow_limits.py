"""Where air flow and power end: the meter's range, its housing, the compressor's map, the chain of ceilings. SI."""

from __future__ import annotations

from math import pi

from loadworthy_plugins.physics.compressor import corrected_flow


def housing_ratio(standard_bore: float, bore: float) -> float:
    """Return true over shown flow where the same element sits in another bore: (D2/D1)^2, profiles alike.

    >>> round(housing_ratio(70.0, 80.0), 3), round(180.0 * housing_ratio(70.0, 80.0), 1)
    (1.306, 235.1)
    """
    return (bore / standard_bore) ** 2


def meter_use(air: float, full_scale: float) -> float:
    """Return the share of an air meter's range that an air flow takes.

    >>> meter_use(0.198, 0.22)
    0.9
    """
    return air / full_scale


def flow_of_corrected(
    corrected: float,
    inlet_temperature: float,
    inlet_pressure: float,
    reference_temperature: float,
    reference_pressure: float,
) -> float:
    """Return the air flow, kg/s, of a point of a compressor map: its corrected flow at the map's own reference.

    Inverse of m_corr = m sqrt(T1/T_ref)/(p1/p_ref). Published worked example: 45 lb/min at 110 degF and 11.5 psia is
    59.79 lb/min corrected to 528 degR and 14.7 psia.

    >>> t, p = (110 + 459.67) / 1.8, 11.5
    >>> round(flow_of_corrected(59.79, t, p, 528 / 1.8, 14.7), 1)
    45.0
    """
    return corrected / corrected_flow(1.0, inlet_temperature, inlet_pressure, reference_temperature, reference_pressure)


def power_of_fuel(fuel: float, specific_fuel: float) -> float:
    """Return the crank power, W, of a fuel flow (kg/s) at a specific consumption (kg/J).

    >>> air = 0.1861
    >>> round(power_of_fuel(air / (0.88 * 13.987), 320e-3 / 3.6e6) / 1e3, 1)
    170.1
    """
    return fuel / specific_fuel


def power_of_air(air: float, specific_air: float) -> float:
    """Return the crank power, W, of an air flow (kg/s) at a specific air consumption (kg/J).

    >>> round(power_of_air(0.1861, 3.85 / 3.6e6) / 1e3, 1)
    174.0
    """
    return air / specific_air


def torque_of_power(power: float, speed: float) -> float:
    """Return the crank torque, N m, of a power (W) at a speed (rev/s): P/(2 pi n).

    >>> round(torque_of_power(170e3, 6500 / 60), 1)
    249.8
    """
    return power / (2.0 * pi * speed)
