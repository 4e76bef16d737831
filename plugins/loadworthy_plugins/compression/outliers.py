"""Outlier tests that scale themselves by the set at hand: reported as supporting only, never a verdict.

Two low cylinders of four hide each other from all of them, and three equal readings make any fourth an outlier.
Physical size and known scatter decide (see ``balance``).
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.middle import median

if TYPE_CHECKING:
    from collections.abc import Sequence


class Critical(NamedTuple):
    """Critical values at 5 % for one size of set: Dixon one-sided and two-sided, Grubbs one-sided and two-sided."""

    dixon: float
    dixon_two_sided: float
    grubbs: float
    grubbs_two_sided: float


#: Dixon 1951 (one-sided) for r10, r11, r21; two-sided by Rorabacher 1991 (r10, from memory) and by simulation. Grubbs
#: from Student's t (NIST/SEMATECH e-Handbook 1.3.5.17.1, from memory). A web table's 2.202 for seven is wrong.
CRITICAL: dict[int, Critical] = {
    3: Critical(0.941, 0.970, 1.153, 1.154),
    4: Critical(0.765, 0.829, 1.462, 1.481),
    5: Critical(0.642, 0.710, 1.671, 1.715),
    6: Critical(0.560, 0.625, 1.822, 1.887),
    7: Critical(0.507, 0.568, 1.938, 2.020),
    8: Critical(0.554, 0.615, 2.032, 2.127),
    9: Critical(0.512, 0.570, 2.110, 2.215),
    10: Critical(0.477, 0.535, 2.176, 2.290),
    11: Critical(0.576, 0.622, 2.234, 2.355),
    12: Critical(0.546, 0.592, 2.285, 2.412),
}


def dixon_ratio(readings: Sequence[float], *, high: bool) -> float:
    """Return Dixon's ratio for the lowest (or highest) reading of 3 to 13: r10 to seven, r11 to ten, r21 above.

    Zero where all readings are equal. Raises ValueError for other sizes.

    >>> round(dixon_ratio([445.0, 440.0, 405.0, 435.0], high=False), 3)
    0.75
    """
    n = len(readings)
    if not 3 <= n <= 13:
        raise ValueError("Dixon's ratios here need 3 to 13 readings")
    x = sorted((-r for r in readings) if high else readings)
    near, far = (1, -1) if n <= 7 else (1, -2) if n <= 10 else (2, -2)
    width = x[far] - x[0]
    return (x[near] - x[0]) / width if width > 0.0 else 0.0


def grubbs(readings: Sequence[float]) -> float:
    """Return Grubbs' largest deviation from the mean in sample standard deviations; zero where all are equal.

    >>> round(grubbs([445.0, 440.0, 405.0, 435.0]), 2)
    1.46
    """
    n = len(readings)
    mean = sum(readings) / n
    s = sqrt(sum((r - mean) ** 2 for r in readings) / (n - 1))
    return max(abs(r - mean) for r in readings) / s if s > 0.0 else 0.0


def mad_score(readings: Sequence[float], index: int) -> float | None:
    """Return ``0.6745 (x - median) / MAD`` of one reading; None where half of them agree exactly (MAD zero).

    >>> round(mad_score([12.1, 7.9, 8.0, 12.2], 1) or 0.0, 2)
    -0.69
    """
    middle = median(readings)
    mad = median([abs(r - middle) for r in readings])
    return 0.6745 * (readings[index] - middle) / mad if mad > 0.0 else None


class Supporting(NamedTuple):
    """What the self-scaled tests say of the more extreme end: statistics, critical values (two-sided) and flags."""

    high: bool
    dixon: float
    dixon_critical: float
    grubbs: float
    grubbs_critical: float

    @property
    def dixon_flags(self) -> bool:
        """Tell whether Dixon's ratio exceeds its critical value."""
        return self.dixon > self.dixon_critical

    @property
    def grubbs_flags(self) -> bool:
        """Tell whether Grubbs' statistic exceeds its critical value."""
        return self.grubbs > self.grubbs_critical


def supporting(readings: Sequence[float]) -> Supporting | None:
    """Return the tests of whichever end stands out more, two-sided at 5 %; None where no critical value is known."""
    critical = CRITICAL.get(len(readings))
    if critical is None:
        return None
    low, high = (dixon_ratio(readings, high=side) for side in (False, True))
    return Supporting(high > low, max(low, high), critical.dixon_two_sided, grubbs(readings), critical.grubbs_two_sided)
