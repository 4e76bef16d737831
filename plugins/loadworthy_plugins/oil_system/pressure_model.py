"""What oil pressure says about leakage: flow through bearings, leak index, pressures corrected for viscosity. SI.

A fixed pump delivers Q = D N. Laminar paths (bearings, pump slip) take a p/mu of it, orifices (piston jets,
restrictors) b sqrt(p). Laminar flow through a slit: any handbook of lubrication; checked by numerical integration.
"""

from __future__ import annotations

from math import hypot, pi, sqrt

#: Relative change of an engine oil's viscosity with temperature near 100 degC, 1/K (computed for one oil).
PER_KELVIN = 0.022


def bearing_flow(
    pressure: float, radius: float, clearance: float, land: float, viscosity: float, eccentricity: float
) -> float:
    """Return the flow out of one pressure-fed bearing with a central groove, m3/s.

    Q = pi p r c^3 (1 + 1.5 e^2) / (3 mu l'): the integral of the slot flow h^3 p / (12 mu l') over both sides,
    h = c (1 + e cos t); p Pa, r and c (radial clearance) m, l' the land on each side in m, mu Pa s.

    >>> round(6e4 * bearing_flow(300e3, 0.025, 25e-6, 0.009, 0.010, 0.6), 4)
    0.126
    """
    return pi * pressure * radius * clearance**3 * (1.0 + 1.5 * eccentricity**2) / (3.0 * viscosity * land)


def leak_index(pressure: float, viscosity: float, speed: float) -> float:
    """Return lambda = p / (mu N), p Pa gauge, mu Pa s of the oil in the sump at its temperature, N rev/s.

    >>> round(leak_index(160e3, 8.648e-3, 750 / 60))
    1480111
    """
    return pressure / (viscosity * speed)


def leak_ratio(
    pressure: float,
    viscosity: float,
    speed: float,
    reference_pressure: float,
    reference_viscosity: float,
    reference_speed: float,
    share: float = 0.0,
) -> float | None:
    """Return R, the leak index over that of a reference: 1 as the reference, less with larger clearances.

    ``share`` s of the reference's flow passes orifices: R = (1 - s) x / (m (1/r - s sqrt(x))), x = p/p_ref,
    m = mu/mu_ref, r = N_ref/N; none (0) is the end that is kind to hot oil and low pressure. None where the bracket is
    not positive. Speeds within 30 % of each other; the law does not carry from idle to 4 000 rpm.

    >>> [round(leak_ratio(75e3, 0.5717, 10.0, 100e3, 1.0, 10.0, s) or 0.0, 3) for s in (0.0, 0.2, 0.5)]
    [1.312, 1.269, 1.157]
    """
    x, m, r = pressure / reference_pressure, viscosity / reference_viscosity, reference_speed / speed
    if x <= 0.0:
        return 0.0
    bracket = 1.0 / r - share * sqrt(x)
    return None if bracket <= 0.0 else (1.0 - share) * x / (m * bracket)


def u_leak_ratio(pressure: float, u_pressure: float, u_viscosity: float, u_temperature: float) -> float:
    """Return the relative standard uncertainty of R: pressure (Pa), viscosity (relative) and oil temperature (K)."""
    from_pressure = u_pressure / pressure if pressure > 0.0 else 1.0
    return hypot(from_pressure, u_viscosity, PER_KELVIN * u_temperature)


def clearance_ratio(ratio: float) -> float:
    """Return the mean clearance over that of the reference: (1/R)^(1/3), for flow goes with clearance cubed.

    A fall of the leak index by a fifth is only 8 % more clearance:

    >>> round(clearance_ratio(0.80), 3), round(clearance_ratio(0.7025), 3)
    (1.077, 1.125)
    """
    if ratio <= 0.0:
        raise ValueError("a leak ratio must be positive")
    return float((1.0 / ratio) ** (1.0 / 3.0))


def normalised(pressure: float, viscosities: float, speeds: float, share: float) -> float:
    """Return the pressure that the engine would show with the reference's oil, temperature and speed, Pa gauge.

    m = mu/mu_ref, r = N_ref/N, s the share of the flow through orifices: k = (1 - s) m,
    y = (-s + sqrt(s^2 + 4 k r)) / (2 k), p_ref = p y^2. Not at the relief valve's plateau, and not for a pump that
    holds a commanded pressure.

    >>> [round(normalised(1.0, 1.3, 1.0, s), 4) for s in (0.0, 0.2, 0.5)]
    [0.7692, 0.7906, 0.8354]
    """
    if not 0.0 <= share < 1.0:
        raise ValueError(f"share of the flow through orifices {share} is not from 0 to below 1")
    if viscosities <= 0.0 or speeds <= 0.0:
        raise ValueError("viscosities and speeds must be positive")
    k = (1.0 - share) * viscosities
    y = (-share + sqrt(share * share + 4.0 * k * speeds)) / (2.0 * k)
    return pressure * y * y


def normalised_sensitivity(viscosities: float, speeds: float, share: float) -> float:
    """Return -d ln p_ref / d ln m of `normalised`: by how many percent p_ref falls if the oil is 1 % more viscous.

    From (1 - s) m y^2 + s y = r: d ln y^2 / d ln m = -2 (1 - s) m y / (2 (1 - s) m y + s). All through bearings: 1.

    >>> normalised_sensitivity(1.3, 1.0, 0.0), round(normalised_sensitivity(1.3, 1.0, 0.5), 3)
    (1.0, 0.704)
    """
    y = sqrt(normalised(1.0, viscosities, speeds, share))
    laminar = 2.0 * (1.0 - share) * viscosities * y
    return laminar / (laminar + share)
