"""Air through an opening: ideal nozzle, choked or not, in both directions of the question.

Source of the mass flux: one-dimensional isentropic flow of an ideal gas (equals the gas equations of API 520 Part I
and, for air, a CoolProp real-gas nozzle within 0.1 %). Sonic conductance: ISO 6358-1:2013.
"""

from __future__ import annotations

from math import log, pi, sqrt
from typing import Final

from loadworthy_plugins.physics.atmosphere import GAMMA_AIR, R_AIR

#: Reference air of ISO 6358 / ISO 8778: density kg/m3, temperature K.
REFERENCE_DENSITY: Final = 1.185
REFERENCE_TEMPERATURE: Final = 293.15


def critical_ratio(gamma: float = GAMMA_AIR) -> float:
    """Ratio downstream/upstream absolute pressure at and below which the flow is choked.

    >>> round(critical_ratio(), 6)
    0.528282
    """
    return float((2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0)))


def flow_function(ratio: float, gamma: float = GAMMA_AIR) -> float:
    """Flow function phi of the pressure ratio r = downstream/upstream absolute, constant once choked.

    phi = sqrt(2g/(g-1) (r^(2/g) - r^((g+1)/g))), r not below the critical ratio; ValueError unless 0 <= r <= 1.

    >>> round(flow_function(0.1), 6), flow_function(1.0)
    (0.684731, 0.0)
    """
    if not 0.0 <= ratio <= 1.0:
        raise ValueError(f"pressure ratio {ratio} is not between 0 and 1")
    r = max(ratio, critical_ratio(gamma))
    return sqrt(2.0 * gamma / (gamma - 1.0) * max(0.0, r ** (2.0 / gamma) - r ** ((gamma + 1.0) / gamma)))


def mass_flux(
    upstream: float,
    temperature: float,
    downstream: float,
    *,
    gas_constant: float = R_AIR,
    gamma: float = GAMMA_AIR,
) -> float:
    """Mass flow per effective area, kg/(s m2), from absolute pressures (Pa) and upstream temperature (K).

    G = p_u/sqrt(R T) phi(p_d/p_u). Real air by CoolProp: 565.3 for the first case.

    >>> round(mass_flux(250e3, 320.0, 100e3), 1), round(mass_flux(150e3, 293.15, 100e3), 1)
    (564.8, 338.7)
    """
    return upstream / sqrt(gas_constant * temperature) * flow_function(downstream / upstream, gamma)


def effective_area(mass_flow: float, upstream: float, temperature: float, downstream: float) -> float:
    """Effective area CdA, m2, that passes a mass flow of air (kg/s) between two absolute pressures (Pa).

    >>> round(1e6 * effective_area(564.8e-6, 250e3, 320.0, 100e3), 3)
    1.0
    """
    return mass_flow / mass_flux(upstream, temperature, downstream)


def equivalent_diameter(area: float, discharge: float) -> float:
    """Diameter (m) of the round hole with this effective area (m2) and discharge coefficient.

    >>> round(1e3 * equivalent_diameter(0.5115e-6, 0.65), 2)
    1.0
    """
    return sqrt(4.0 * area / (pi * discharge))


def sharp_edge_discharge(ratio: float) -> float:
    """Discharge coefficient of a sharp-edged orifice at the pressure ratio downstream/upstream, 0 to 1.

    Fit to orifice data of 1949 as printed in public simulation-library documentation.

    >>> [round(sharp_edge_discharge(r), 2) for r in (1.0, 0.6, 0.5, 0.4)]
    [0.6, 0.71, 0.75, 0.79]
    """
    if not 0.0 <= ratio <= 1.0:
        raise ValueError(f"pressure ratio {ratio} is not between 0 and 1")
    r = ratio
    return 0.8414 + r * (-0.1002 + r * (0.8415 + r * (-3.9 + r * (4.6001 - 1.6827 * r))))


def sonic_conductance(area: float) -> float:
    """Sonic conductance C, m3/(s Pa), of an effective area (m2): the choked flows are set equal.

    C = phi_choked sqrt(1/(R T_0))/rho_0 x CdA = 1.99195e-3 CdA.

    >>> round(sonic_conductance(1.0), 8)
    0.00199195
    """
    choked = flow_function(0.0)
    return area * choked / sqrt(R_AIR * REFERENCE_TEMPERATURE) / REFERENCE_DENSITY


def conductance_flow(
    conductance: float, upstream: float, temperature: float, downstream: float, critical: float
) -> float:
    """Mass flow, kg/s, by ISO 6358-1:2013 from the sonic conductance (m3/(s Pa)) and the critical ratio b.

    >>> c = sonic_conductance(1e-6)
    >>> round(1e6 * conductance_flow(c, 250e3, 320.0, 100e3, 0.5), 1)
    564.8
    """
    ratio = downstream / upstream
    if not 0.0 <= ratio <= 1.0:
        raise ValueError(f"pressure ratio {ratio} is not between 0 and 1")
    choked = conductance * upstream * REFERENCE_DENSITY * sqrt(REFERENCE_TEMPERATURE / temperature)
    if ratio <= critical:
        return choked
    return choked * sqrt(max(0.0, 1.0 - ((ratio - critical) / (1.0 - critical)) ** 2))


def choked_decay_time(area: float, volume: float, temperature: float, start: float, end: float) -> float:
    """Seconds in which a vessel (m3) at constant temperature falls from `start` to `end` (Pa abs), choked all along.

    t = V ln(p_s/p_e)/(0.684731 CdA sqrt(R T)). Checked with a solved textbook case: a tyre of 1 ft3.

    >>> round(choked_decay_time(4.4584e-6, 0.0283168, 294.26, 50.0, 27.83), 1)
    18.7
    """
    return volume * log(start / end) / (flow_function(0.0) * area * sqrt(R_AIR * temperature))
