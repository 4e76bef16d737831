"""The least pressure that carries oil to the axis of a crank that is fed through it. SI."""

from __future__ import annotations

from math import pi, sqrt

#: Speed from which the margin counts in full, rev/s (judgement: below, it would contradict hot idle limits).
FULL_MARGIN_FROM = 3000 / 60


def centrifugal_head(speed: float, radius: float, density: float) -> float:
    """Return the pressure that rotation asks for between main journal and crank axis, Pa: 0.5 rho (2 pi N r)^2.

    Rigid rotation of the oil in the drilling; N rev/s, r the main journal's radius in m, rho kg/m3.

    >>> round(centrifugal_head(6500 / 60, 0.027, 800.0) / 1e3, 1)
    135.1
    """
    return 0.5 * density * (2.0 * pi * speed * radius) ** 2


def floor_pressure(speed: float, radius: float, density: float, margin: float) -> float:
    """Return the least pressure at a speed, Pa gauge: centrifugal head and a margin that is full from 3 000 rpm.

    Cranks whose drillings avoid the axis need less.

    >>> [round(floor_pressure(n / 60, 0.028, 800.0, 100e3) / 1e3, 1) for n in (750, 3000, 6200)]
    [26.9, 131.0, 232.2]
    """
    return centrifugal_head(speed, radius, density) + margin * min(1.0, speed / FULL_MARGIN_FROM)


def floor_speed(pressure: float, radius: float, density: float, margin: float) -> float | None:
    """Return the speed up to which a pressure carries the oil, rev/s; None where that is below 3 000 rpm.

    N = sqrt(2 (p - margin) / rho) / (2 pi r).

    >>> round(60 * (floor_speed(232.2e3, 0.028, 800.0, 100e3) or 0.0), -1)
    6200.0
    """
    if pressure <= floor_pressure(FULL_MARGIN_FROM, radius, density, margin):
        return None
    return sqrt(2.0 * (pressure - margin) / density) / (2.0 * pi * radius)
