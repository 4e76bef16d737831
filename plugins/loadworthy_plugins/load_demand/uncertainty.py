"""First-order relative standard uncertainties of the demand, and ranges at two of them. All defaults are judgement."""

from __future__ import annotations

from math import hypot
from typing import Final

from loadworthy.sdk import NamedTuple

#: Relative u of a planned torque or power by what it is based on.
POWER_U: Final[dict[str, float]] = {
    "crank_measured": 0.02,
    "wheel": 0.04,
    "crank_declared": 0.05,
    "unknown": 0.05,
}
#: Added in quadrature where the correction rule of the figure is unknown.
UNKNOWN_CORRECTION_U: Final = 0.03
#: A plan that states only boost.
BOOST_ONLY_U: Final = 0.09

TEMPERATURE_U: Final = 0.025
TEMPERATURE_U_COOLER_UNKNOWN: Final = 0.05
MIXTURE_U: Final = 0.03

#: Anchored to this car's own log.
ANCHORED_WORK_U: Final = 0.03
ANCHORED_WORK_U_NO_MIXTURE: Final = 0.05
ANCHORED_TEMPERATURE_U: Final = 0.015
ANCHORED_AIR_U: Final = 0.03


class Range(NamedTuple):
    """A quantity at minus two, at none and at plus two standard uncertainties."""

    low: float
    nominal: float
    high: float


def around(nominal: float, relative: float) -> Range:
    """Range of a quantity from its relative standard uncertainty; never below zero.

    >>> around(100.0, 0.0625)
    Range(low=87.5, nominal=100.0, high=112.5)
    """
    return Range(nominal * max(0.0, 1.0 - 2.0 * relative), nominal, nominal * (1.0 + 2.0 * relative))


def power_u(basis: str, correction_known: bool, stated: float = 0.0) -> float:
    """Relative u of the planned power: basis, unknown correction rule, and what the figure itself states.

    >>> round(power_u("crank_declared", False), 4)
    0.0583
    """
    return hypot(POWER_U[basis], 0.0 if correction_known else UNKNOWN_CORRECTION_U, stated)


def pressure_u(power: float, specific: float, filling: float, temperature: float) -> float:
    """Relative u of the manifold pressure from those of power, specific air, filling and charge temperature.

    >>> round(100 * pressure_u(0.02, 0.05, 0.06, 0.025), 2)
    8.44
    """
    return hypot(power, specific, filling, temperature)


def anchored_pressure_u(power: float, work: float, temperature: float) -> float:
    """Relative u of the manifold pressure if anchored to this car's own log.

    >>> round(100 * anchored_pressure_u(0.02, 0.03, 0.015), 2)
    3.91
    """
    return hypot(power, work, temperature)


def gauge_u(relative: float, pressure: float, ambient: float) -> float:
    """Relative u of the gauge pressure from that of the absolute one: times p/(p - p_a).

    >>> round(100 * gauge_u(0.0844, 200e3, 101.3e3), 1)
    17.1
    """
    if pressure <= ambient:
        raise ValueError("no boost: the pressure does not exceed the ambient")
    return relative * pressure / (pressure - ambient)
