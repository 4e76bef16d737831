"""The torque curve that a plan means: given points, or an envelope from peaks that are stated or assumed.

Speeds rev/s, torque N m, power W. Whatever is assumed comes back as an ``Assumption``.
"""

from __future__ import annotations

from math import ceil, floor
from typing import Final

from loadworthy.sdk import Assumption, NamedTuple
from loadworthy_plugins.load_demand.defaults import SHAPE_U, Shape
from loadworthy_plugins.load_demand.formulas import OutsideModelError, linear, power_of, torque_of

Points = tuple[tuple[float, float], ...]

#: How far beyond its ends a given curve may be continued (share of the end speed).
BEYOND: Final = 0.05
#: Distance of the speeds at which demand is evaluated: 250 rpm.
GRID: Final = 250.0 / 60.0
#: Lowest speed of an envelope: 1000 rpm.
LOWEST_SPEED: Final = 1000.0 / 60.0
#: Relative u of an envelope's torque below the speed of peak torque.
EARLY_PLATEAU_U: Final = 0.15


class Peaks(NamedTuple):
    """Both peaks of a full-load curve and what of them was assumed."""

    power: float
    power_speed: float
    torque: float
    torque_speed: float
    assumed: tuple[Assumption, ...] = ()


def curve_torque(points: Points, speed: float) -> float:
    """Torque of a given curve: linear between its points, at most 5 % beyond its ends; OutsideModelError further out.

    >>> curve_torque(((30.0, 200.0), (50.0, 300.0)), 40.0)
    250.0
    """
    first, last = points[0][0], points[-1][0]
    if not first * (1.0 - BEYOND) <= speed <= last * (1.0 + BEYOND):
        raise OutsideModelError(f"the curve ends at {first * 60:.0f} and {last * 60:.0f} rpm")
    return linear(points, speed)


def envelope_torque(peaks: Peaks, speed: float) -> float:
    """Torque of the envelope over two peaks.

    min(T_peak, P_peak/(2 pi n)) from the speed of peak torque up, an upper bound; T_peak (0.55 + 0.45 n/n_T)
    below it, an estimate (judgement).

    >>> peaks = Peaks(power_of(250.0, 90.0), 90.0, 300.0, 40.0)
    >>> envelope_torque(peaks, 50.0), round(envelope_torque(peaks, 90.0), 6), envelope_torque(peaks, 20.0)
    (300.0, 250.0, 232.5)
    """
    if speed < peaks.torque_speed:
        return peaks.torque * (0.55 + 0.45 * speed / peaks.torque_speed)
    return min(peaks.torque, torque_of(peaks.power, speed))


def early_plateau_u(torque: float, peak: float) -> float:
    """Relative u of an envelope torque below the speed of peak torque: 15 %, less where two of it would pass the peak.

    >>> early_plateau_u(150.0, 300.0), early_plateau_u(300.0, 300.0)
    (0.15, 0.0)
    """
    return min(EARLY_PLATEAU_U, max(0.0, (peak / torque - 1.0) / 2.0))


def peaks_of(points: Points) -> Peaks:
    """Peaks of a given curve, at its points; of equal torques the lower speed, of equal powers too.

    >>> peaks = peaks_of(((30.0, 300.0), (50.0, 300.0), (90.0, 200.0)))
    >>> peaks.torque_speed, peaks.power_speed
    (30.0, 90.0)
    """
    torque_speed, torque = max(points, key=lambda p: (p[1], -p[0]))
    power_speed, at_power = max(points, key=lambda p: (p[0] * p[1], -p[0]))
    return Peaks(power_of(at_power, power_speed), power_speed, torque, torque_speed)


def grid(low: float, high: float, marks: tuple[float, ...] = ()) -> tuple[float, ...]:
    """Speeds to evaluate: every 250 rpm from low to high, both ends, and the marks between them, rising.

    >>> [round(60 * n) for n in grid(1400 / 60, 2100 / 60, (1900 / 60,))]
    [1400, 1500, 1750, 1900, 2000, 2100]
    """
    steps = range(ceil(low / GRID - 1e-9), floor(high / GRID + 1e-9) + 1)
    speeds = sorted({low, high, *(m for m in marks if low <= m <= high), *(k * GRID for k in steps)})
    # Two speeds closer than 1 rpm are one; the ends and marks win over the grid.
    kept = {low, high, *marks}
    result: list[float] = []
    for n in speeds:
        if result and n - result[-1] < 1.0 / 60.0:
            if n in kept and result[-1] not in kept:
                result[-1] = n
            elif n not in kept:
                continue
            else:
                result.append(n)
        else:
            result.append(n)
    return tuple(result)


def _assume(what: str, value: float, unit: str, why: str, u: float | None = None) -> Assumption:
    return Assumption(what, value, unit, why, u)


def complete_peaks(
    shape: Shape,
    power: float | None,
    power_speed: float | None,
    torque: float | None,
    torque_speed: float | None,
) -> Peaks:
    """Both peaks from one or two of them; unstated speeds and the missing peak follow the usual shape.

    Where both peaks are stated, an assumed speed gives way until the two agree. ValueError without any peak.

    >>> peaks = complete_peaks(Shape(5500 / 60, 1.25, 0.45), 180e3, 5500 / 60, None, None)
    >>> round(peaks.torque, 1), round(60 * peaks.torque_speed), len(peaks.assumed)
    (390.7, 2475, 2)
    """
    assumed: list[Assumption] = []
    usual = "usual shape of a full-load curve (judgement)"
    n_power, n_torque = power_speed, torque_speed
    if n_power is None:
        n_power = shape.power_speed
        if power is not None and torque is not None:
            # Torque at peak power may not exceed peak torque.
            if torque_of(power, n_power) > torque:
                n_power = shape.torque_ratio * power / power_of(torque, 1.0)
        elif n_torque is not None:
            n_power = max(n_power, n_torque / shape.speed_ratio)
        assumed.append(_assume("speed of peak power", n_power, "rev/s", usual, SHAPE_U * n_power))
    if n_torque is None:
        n_torque = shape.speed_ratio * n_power
        if power is not None and torque is not None:
            n_torque = min(n_torque, power / power_of(torque, 1.0))
        assumed.append(_assume("speed of peak torque", n_torque, "rev/s", usual, SHAPE_U * n_torque))
    if power is None and torque is None:
        raise ValueError("neither peak power nor peak torque")
    if torque is None:
        assert power is not None
        torque = shape.torque_ratio * torque_of(power, n_power)
        assumed.append(_assume("peak torque", torque, "N m", usual, SHAPE_U * torque))
    if power is None:
        power = power_of(torque / shape.torque_ratio, n_power)
        assumed.append(_assume("peak power", power, "W", usual, SHAPE_U * power))
    return Peaks(power, n_power, torque, n_torque, tuple(assumed))
