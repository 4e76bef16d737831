"""Shapes of oil pressure over engine speed: slope, plateau, droop. Points are (speed in rev/s, pressure in Pa), rising.

All thresholds are judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import fsum, log
from statistics import median

Points = Sequence[tuple[float, float]]

#: A plateau is flat within this share over at least this range of speed, rev/s.
FLAT, FLAT_RANGE = 0.05, 1500 / 60
#: A step whose later point is below this share of the reference, with less slope than this, is a droop.
DROOP_SHARE, FLAT_SLOPE = 0.90, 0.3
#: A calibration keeps this far below the speed at which a droop starts, rev/s.
DROOP_MARGIN = 500 / 60


def slope(points: Points) -> float | None:
    """Return the slope of ln p over ln N by least squares; None for fewer than two speeds.

    A sound fixed pump below its plateau: 0.6 to 1.0, hot. It is shown and never exonerates: a low idle point
    steepens it.

    >>> round(slope([(10.0, 100e3), (20.0, 200e3), (40.0, 400e3)]) or 0.0, 6)
    1.0
    """
    pairs = [(log(n), log(p)) for n, p in points if n > 0.0 and p > 0.0]
    if len({x for x, _ in pairs}) < 2:
        return None
    mean_x, mean_y = fsum(x for x, _ in pairs) / len(pairs), fsum(y for _, y in pairs) / len(pairs)
    return fsum((x - mean_x) * (y - mean_y) for x, y in pairs) / fsum((x - mean_x) ** 2 for x, _ in pairs)


def plateau(points: Points) -> float | None:
    """Return the pressure at which the points level off, Pa; None where they do not.

    The median of the longest run of neighbouring points that are flat within 5 % over at least 1 500 rpm; of equally
    long ones that at the highest speed.

    >>> plateau([(15.0, 150e3), (50.0, 375e3), (75.0, 380e3), (100.0, 382e3)])
    380000.0
    """
    best: tuple[float, float, float] | None = None
    for i in range(len(points)):
        for j in range(i + 1, len(points)):
            pressures = [p for _, p in points[i : j + 1]]
            width = points[j][0] - points[i][0]
            if (
                max(pressures) > 0.0
                and max(pressures) - min(pressures) <= FLAT * max(pressures)
                and width >= FLAT_RANGE
            ):
                found = (width, points[j][0], float(median(pressures)))
                best = max(best, found) if best is not None else found
    return best[2] if best is not None else None


def droop_start(points: Points, reference: float) -> float | None:
    """Return the speed at which pressure starts to fall away, rev/s; None where it does not.

    The first step, from idle up, whose later point lies below 0.90 of the reference (the relief setting; where it is
    not known, the highest pressure) and that rises with less than the power 0.3 of speed. A lower point in between
    must not move the start up:

    >>> high = [(800, 150), (3000, 310), (4500, 395), (5500, 355), (6500, 300)]
    >>> droop_start(high, 400.0), droop_start([*high[:2], (4500, 312), *high[3:]], 400.0)
    (4500, 3000)
    """
    for (n0, p0), (n1, p1) in pairwise(points):
        if n1 <= n0 or p0 <= 0.0:
            continue
        falls = p1 <= 0.0 or log(p1 / p0) / log(n1 / n0) < FLAT_SLOPE
        if falls and p1 < DROOP_SHARE * reference:
            return n0
    return None


def droop_ceiling(start: float) -> float:
    """Return the highest speed for a droop that starts at ``start``, rev/s: 500 rpm below it.

    >>> round(60 * droop_ceiling(4500 / 60)), round(60 * droop_ceiling(3000 / 60))
    (4000, 2500)
    """
    return max(0.0, start - DROOP_MARGIN)


def thumb_speed(pressure: float, slope: float) -> float:
    """Return the speed for which a pressure suffices by the rule of thumb, rev/s; ``slope`` in Pa per rev/s.

    >>> round(60 * thumb_speed(380e3, 68.95e3 / (1000 / 60)))
    5511
    """
    return pressure / slope
