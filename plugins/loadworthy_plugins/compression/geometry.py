"""What a sound cylinder should show on a cranking gauge, from its geometry.

Crank-slider kinematics are textbook geometry; the exponent that turns an effective compression ratio into a
gauge reading is a judgement with a wide band, so the expectation is a sanity band and never a verdict.
Angles are radians, volumes m3, pressures Pa. ``intake_closing`` is measured after bottom dead centre.
"""

from __future__ import annotations

from math import asin, cos, pi, radians, sin, sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Exponent from effective ratio to an absolute cranking reading on a hand gauge (judgement), and its band.
READING_EXPONENT = 1.25
READING_EXPONENT_LOW = 1.18
READING_EXPONENT_HIGH = 1.32
#: Connecting rod over stroke where the rod is not known (judgement).
DEFAULT_ROD_TO_STROKE = 1.65
#: Pressure-equivalent closing lies about half-way from 1 mm lift to seat: shift from either, and its bound.
CLOSING_SHIFT = radians(7.0)
CLOSING_SHIFT_BOUND = radians(5.0)
#: Bounds of the pressure-equivalent closing where the basis of a quoted angle is unknown.
UNKNOWN_CLOSING = (radians(40.0), radians(65.0))


class Cylinder(NamedTuple):
    """Geometry of one cylinder: m, and the static compression ratio as built now.

    ``pin_offset`` is the distance of the piston pin's path from the crank axis, towards the thrust side.
    """

    bore: float
    stroke: float
    rod: float
    compression_ratio: float
    pin_offset: float = 0.0

    @property
    def area(self) -> float:
        """Piston area, m2."""
        return pi / 4.0 * self.bore**2

    @property
    def displacement(self) -> float:
        """Swept volume, m3.

        >>> round(Cylinder(0.086, 0.086, 0.143, 10.0).displacement * 1e6, 2)
        499.56
        """
        return self.area * self.stroke

    @property
    def clearance(self) -> float:
        """Volume left at top dead centre, m3.

        >>> round(Cylinder(0.086, 0.086, 0.143, 10.0).clearance * 1e6, 2)
        55.51
        """
        return self.displacement / (self.compression_ratio - 1.0)

    def travel(self, angle: float) -> float:
        """Piston travel from top dead centre at crank ``angle`` after it, m.

        With r half the stroke and l the rod, ``r + l - r cos t - sqrt(l^2 - r^2 sin^2 t)``; a pin offset moves
        the slider's line (crank-slider geometry). Raises ValueError for a rod too short to turn.

        >>> round(Cylinder(0.086, 0.086, 0.143, 10.0).travel(radians(230.0)) * 1e3, 3)
        74.485
        """
        r, rod, e = self.stroke / 2.0, self.rod, self.pin_offset
        if rod <= r + abs(e):
            raise ValueError("connecting rod shorter than the crank throw")
        if e:
            angle += asin(e / (r + rod))
        top = sqrt((r + rod) ** 2 - e * e)
        return top - r * cos(angle) - sqrt(rod * rod - (r * sin(angle) - e) ** 2)

    def travel_rate(self, angle: float) -> float:
        """Piston travel per radian of crank at ``angle`` after top dead centre, m: the derivative of ``travel``."""
        r, rod, e = self.stroke / 2.0, self.rod, self.pin_offset
        if e:
            angle += asin(e / (r + rod))
        side = r * sin(angle) - e
        return r * sin(angle) + r * cos(angle) * side / sqrt(rod * rod - side * side)

    def volume(self, angle: float) -> float:
        """Chamber volume at crank ``angle`` after top dead centre, m3."""
        return self.clearance + self.area * self.travel(angle)


def effective_ratio(
    cylinder: Cylinder, intake_closing: float, *, dead_volume: float = 0.0, oil_volume: float = 0.0
) -> float:
    """Return the compression ratio from intake closing to top dead centre.

    ``dead_volume`` (m3) lies between the chamber and the gauge's check valve and adds to both volumes;
    ``oil_volume`` (m3) fills part of the chamber and is taken from both. Raises ValueError when the oil leaves
    no chamber.

    >>> engine = Cylinder(0.086, 0.086, 0.143, 10.0)
    >>> round(effective_ratio(engine, radians(50.0)), 3)
    8.795
    """
    clearance = cylinder.clearance + dead_volume - oil_volume
    if clearance <= 0.0:
        raise ValueError("the oil fills the whole chamber")
    return 1.0 + cylinder.area * cylinder.travel(pi + intake_closing) / clearance


def closing_bounds(quoted: float, basis: str) -> tuple[float, float, float]:
    """Return (low, best, high) of the pressure-equivalent intake closing, rad after bottom dead centre.

    ``basis`` is ``seat``, ``1mm`` or ``unknown``. The cranking engine behaves as if the valve closed about
    half-way between 1 mm lift and seat (gas-exchange simulation; shift and bound are judgements). With the
    basis unknown 40 and 65 degrees bound it, wider where the quoted angle itself lies outside.

    >>> [round(x * 180 / pi) for x in closing_bounds(radians(43.0), "1mm")]
    [45, 50, 55]
    """
    if basis == "unknown":
        reach = CLOSING_SHIFT + CLOSING_SHIFT_BOUND
        low = min(UNKNOWN_CLOSING[0], quoted - reach)
        high = max(UNKNOWN_CLOSING[1], quoted + reach)
        return low, min(max(quoted, UNKNOWN_CLOSING[0]), high), high
    best = quoted + {"1mm": CLOSING_SHIFT, "seat": -CLOSING_SHIFT}[basis]
    return best - CLOSING_SHIFT_BOUND, best, best + CLOSING_SHIFT_BOUND


def expected_reading(ratio: float, ambient: float, exponent: float = READING_EXPONENT) -> float:
    """Return the gauge pressure that a sound cylinder reaches, Pa above ambient.

    ``p_g = p_a (CR_eff^n - 1)`` with the ambient pressure absolute.

    A worked example in an open encyclopaedia ("Compression ratio"): dynamic ratio 7.5, 14.7 psi, exponent 1.3
    give 201.8 psi absolute, 187.1 psi gauge.

    >>> round(expected_reading(7.5, 14.7, 1.3), 1)
    187.1
    """
    return float(ambient * (ratio**exponent - 1.0))


def standard_reading(gauge: float, ambient: float) -> float:
    """Return a cranking reading as it would be at standard sea-level pressure, Pa gauge.

    Cranking multiplies the absolute pressure, so ``p_g,std = p_g x 101 325 / p_a``: the pressure ratio, not the
    density ratio that some tables print.

    >>> round(standard_reading(1020e3, 83524.0) / 1e3)
    1237
    """
    return gauge * 101325.0 / ambient


def short_rod_deficit(cylinder: Cylinder, intake_closing: float, shortening: float) -> float:
    """Return the deficit of the gauge reading of a piston that stands ``shortening`` (m) low, as a bent rod leaves it.

    The chamber grows by piston area times shortening, at top dead centre and at intake closing alike. Per millimetre:

    >>> engine = Cylinder(0.086, 0.086, 0.143, 10.0)
    >>> round(short_rod_deficit(engine, radians(50.0), 1e-3), 3)
    0.111
    """
    ratios = (
        effective_ratio(cylinder, intake_closing, dead_volume=volume) for volume in (0.0, cylinder.area * shortening)
    )
    sound, short = (expected_reading(ratio, 101325.0) for ratio in ratios)
    return 1.0 - short / sound


def hose_pump_up(
    ratio: float, ambient: float, clearance: float, hose: float, exponent: float = READING_EXPONENT
) -> Iterator[float]:
    """Yield the gauge reading (Pa) after each stroke where the hose lies behind the check valve.

    With ``y = (p/p_a)^(1/n)``: ``y_next = (CR_eff V_c + y V_h) / (V_c + V_h)`` from ``y = 1``; the error shrinks by
    ``V_h / (V_c + V_h)`` per stroke. ``clearance`` and ``hose`` in m3. Never ends.

    >>> puffs = hose_pump_up(8.7947, 101325.0, 55.507e-6, 15e-6)
    >>> [round(next(puffs) / 1e3) for _ in range(3)]
    [1081, 1357, 1417]
    """
    y = 1.0
    while True:
        y = (ratio * clearance + y * hose) / (clearance + hose)
        yield expected_reading(y, ambient, exponent)


class ReadingBand(NamedTuple):
    """Bounds and best estimate of a sound cylinder's cranking reading, Pa gauge."""

    low: float
    best: float
    high: float


def reading_band(
    cylinder: Cylinder, closing: tuple[float, float, float], ambient: float, *, dead_volume: float = 0.0
) -> ReadingBand:
    """Return the sanity band of the cranking reading over the exponent's and the closing's bounds.

    ``closing`` is (low, best, high) as from ``closing_bounds``; the nearer to bottom dead centre, the higher.

    >>> engine = Cylinder(0.086, 0.086, 0.143, 10.0)
    >>> angle = radians(50.0)
    >>> [round(p / 1e5, 1) for p in reading_band(engine, (angle, angle, angle), 101325.0)]
    [12.2, 14.3, 16.9]
    """
    angles = [*closing, 0.0] if closing[0] < 0.0 < closing[2] else closing
    ratios = [effective_ratio(cylinder, angle, dead_volume=dead_volume) for angle in angles]
    return ReadingBand(
        expected_reading(min(ratios), ambient, READING_EXPONENT_LOW),
        expected_reading(ratios[1], ambient),
        expected_reading(max(ratios), ambient, READING_EXPONENT_HIGH),
    )


def crank_torque(cylinder: Cylinder, gauge: float, angle: float) -> float:
    """Return the torque (N m) with which gas at ``gauge`` (Pa) turns the crank at ``angle`` after top dead centre.

    Force on the piston times the travel per radian (virtual work).

    >>> engine = Cylinder(0.086, 0.086, 0.143, 10.0)
    >>> round(crank_torque(engine, 80 * 6894.757, radians(90.0)), 1)
    137.8
    """
    return gauge * cylinder.area * cylinder.travel_rate(angle)
