"""How much of the cranking compression a known leak costs: the link between leak-down and gauge reading.

From intake closing to top dead centre the charge is compressed, loses heat (one polytropic exponent) and leaks
through a fixed opening to ambient. Ideal gas; states are pressure and mass. The reading is the highest pressure, a
degree or two before top dead centre, not the pressure there.
"""

from __future__ import annotations

from functools import lru_cache
from math import exp, pi, sqrt

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.compression.geometry import Cylinder
from loadworthy_plugins.physics.atmosphere import GAMMA_AIR, R_AIR
from loadworthy_plugins.physics.gas_flow import critical_ratio, flow_function

#: Exponents of the compression path for this ratio of readings (it moves at most 0.01 over any sensible band).
PETROL_PATH = 1.30
DIESEL_PATH = 1.28
START_TEMPERATURE = 300.0
#: Integration step, rad: two degrees (within 0.05 % of an adaptive solver).
_STEP = pi / 90.0
_CRITICAL = critical_ratio()
_CHOKED = flow_function(0.0)


class Stroke(NamedTuple):
    """One cranking compression stroke.

    ``closing`` rad after bottom dead centre, ``exponent`` of the compression path, ``speed`` rev/s, ``ambient`` Pa
    absolute.
    """

    cylinder: Cylinder
    closing: float
    exponent: float
    speed: float
    ambient: float = 101325.0


@lru_cache(maxsize=64)
def _path(cylinder: Cylinder, closing: float, step: float) -> tuple[float, tuple[tuple[float, float], ...]]:
    """Return the step in use and, at every half step, volume and its relative rate.

    From intake closing to one step past top dead centre, so that the summit lies inside. Volumes are in units of
    that at intake closing; the rate is ``dV/dt/V`` per radian.
    """
    span = pi - closing
    count = max(2, round(span / step))
    start = cylinder.volume(pi + closing)
    points = []
    for i in range(2 * count + 3):
        angle = pi + closing + span * i / (2 * count)
        volume = cylinder.volume(angle)
        points.append((volume / start, cylinder.area * cylinder.travel_rate(angle) / volume))
    return span / count, tuple(points)


def _leak_strength(stroke: Stroke, leak: float) -> float:
    """Return the share of the starting charge that leaks per radian at ambient pressure with phi = 1."""
    start = stroke.cylinder.volume(pi + stroke.closing)
    return leak * sqrt(R_AIR * START_TEMPERATURE) / (start * 2.0 * pi * stroke.speed)


def peak_pressure(stroke: Stroke, leak: float, step: float = _STEP) -> float:
    """Return the highest gauge pressure (Pa) reached with a leak of effective area ``leak`` (m2).

    ``dp = -n p dV/V - gamma R T_l dm_l/V`` and ``dm = -dm_l`` by fourth-order Runge-Kutta in crank angle, with
    ``dm_l = CdA p_up phi(p_dn/p_up) / sqrt(R T_up) dt/w``; outflow at the gas temperature, inflow at 300 K.
    ``step`` in rad. Raises ValueError for a leak below zero.

    A 500 ml cylinder, ratio 10, closing 50 degrees late, 200 rpm, without and with 0.5 mm2 (an adaptive solver
    gives the same):

    >>> from math import radians
    >>> stroke = Stroke(Cylinder(0.086, 0.086, 0.143, 10.0), radians(50.0), 1.30, 200.0 / 60.0)
    >>> [round(peak_pressure(stroke, mm2 * 1e-6) / 1e3) for mm2 in (0.0, 0.5)]
    [1610, 1417]
    """
    if leak < 0.0:
        raise ValueError("leak area below zero")
    dt, points = _path(stroke.cylinder, stroke.closing, step)
    n = stroke.exponent
    if leak == 0.0:
        return float(stroke.ambient * (points[-3][0] ** -n - 1.0))
    strength = _leak_strength(stroke, leak)

    def rate(p: float, m: float, at: tuple[float, float]) -> tuple[float, float]:
        # p in units of ambient, m of the starting charge, volume of that at closing: T = p v / m.
        v, shrink = at
        if p > 1.0:
            warm = p * v / m
            phi = _CHOKED if p * _CRITICAL >= 1.0 else flow_function(1.0 / p)
            lost = strength * phi * p / sqrt(warm)
        else:
            warm = 1.0
            lost = -strength * flow_function(max(p, 0.0))
        return -n * p * shrink - GAMMA_AIR * warm * lost / v, -lost

    p = m = 1.0
    pressures = [p]
    for i in range(0, len(points) - 2, 2):
        half, end = points[i + 1], points[i + 2]
        p1, m1 = rate(p, m, points[i])
        p2, m2 = rate(p + dt / 2 * p1, m + dt / 2 * m1, half)
        p3, m3 = rate(p + dt / 2 * p2, m + dt / 2 * m2, half)
        p4, m4 = rate(p + dt * p3, m + dt * m3, end)
        p += dt / 6 * (p1 + 2 * p2 + 2 * p3 + p4)
        m += dt / 6 * (m1 + 2 * m2 + 2 * m3 + m4)
        pressures.append(p)
    return (_summit(pressures) - 1.0) * stroke.ambient


def _summit(values: list[float]) -> float:
    """Return the height of the parabola through the highest value and its two neighbours."""
    top = max(range(len(values)), key=values.__getitem__)
    if not 0 < top < len(values) - 1:
        return values[top]
    before, peak, after = values[top - 1 : top + 2]
    curve = before - 2.0 * peak + after
    return peak - (after - before) ** 2 / (8.0 * curve) if curve else peak


@lru_cache(maxsize=1024)
def reading_ratio(stroke: Stroke, leak: float) -> float:
    """Return the gauge reading with a leak of effective area ``leak`` (m2) over that without, 0 to 1.

    Depends on the leak over displacement times speed only, so a leak that costs 17 % at 200 rpm costs 2 % at 2 000.

    >>> from math import radians
    >>> stroke = Stroke(Cylinder(0.086, 0.086, 0.143, 10.0), radians(50.0), 1.30, 200.0 / 60.0)
    >>> round(reading_ratio(stroke, 0.5e-6), 4)
    0.8805
    """
    return peak_pressure(stroke, leak) / peak_pressure(stroke, 0.0)


@lru_cache(maxsize=64)
def _leak_integral(cylinder: Cylinder, closing: float, exponent: float) -> float:
    """Return the integral of ``phi sqrt(T/T0) V0/V`` over crank angle along the path without leak (trapezoid)."""
    dt, points = _path(cylinder, closing, _STEP)
    terms = []
    for v, _ in points[::2][:-1]:
        p = v**-exponent
        terms.append(flow_function(min(1.0, 1.0 / p)) * sqrt(p * v) / v)
    return dt * (sum(terms) - (terms[0] + terms[-1]) / 2.0)


def leak_sensitivity(stroke: Stroke) -> float:
    """Return ``gamma J / w``: the relative fall of the absolute pressure at top dead centre per leak area, 1/m2.

    The first order of the leak's effect; ``J`` integrates ``phi(p_a/p) sqrt(R T) / V`` along the path without leak.
    """
    integral = _leak_integral(stroke.cylinder, stroke.closing, stroke.exponent)
    return GAMMA_AIR * _leak_strength(stroke, 1.0) * integral


def closed_form_ratio(stroke: Stroke, leak: float) -> float:
    """Return the gauge ratio by ``p = p_a CR_eff^n exp(-gamma CdA J / w)``.

    Within 0.015 of ``reading_ratio`` down to 0.72.

    >>> from math import radians
    >>> stroke = Stroke(Cylinder(0.086, 0.086, 0.143, 10.0), radians(50.0), 1.30, 200.0 / 60.0)
    >>> abs(closed_form_ratio(stroke, 0.5e-6) - reading_ratio(stroke, 0.5e-6)) < 0.015
    True
    """
    sound = peak_pressure(stroke, 0.0) / stroke.ambient + 1.0
    return (sound * exp(-leak * leak_sensitivity(stroke)) - 1.0) / (sound - 1.0)


def consistency(reading: float, reference: float, ratio: float, reference_ratio: float) -> float:
    """Return q: the low reading over what its leak explains.

    ``(p_i/p_ref) / (ratio(CdA_i)/ratio(CdA_ref))``; about one where the leak explains the reading, below 0.90 where the
    cylinder is low for a reason that does not leak, above 1.10 where the leak-down is doubtful (judgement).

    >>> round(consistency(9.0, 12.0, 0.985, 0.990), 3)
    0.754
    """
    return reading / reference / (ratio / reference_ratio)
