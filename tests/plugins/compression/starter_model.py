"""A starter motor turning an engine with leaking cylinders: an independent model of a cranking-current recording.

Series motor at a stiff 12.3 V behind 14 milliohm, one rotating inertia, compression and expansion of every cylinder
along one polytrope with its own leak. Time steps of half a millisecond.
"""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt

import numpy as np

SEA = 101325.0
BORE, STROKE, ROD, RATIO, CLOSING, OPENING = 0.086, 0.086, 0.143, 10.0, 50.0, 130.0
AREA = pi / 4 * BORE**2
CLEARANCE = AREA * STROKE / (RATIO - 1)


def travel(t: float) -> float:
    r = STROKE / 2
    return r + ROD - r * cos(t) - sqrt(ROD**2 - (r * sin(t)) ** 2)


def phi(s: float) -> float:
    s = max(s, 0.528282)
    return sqrt(max(0.0, 7.0 * (s ** (2 / 1.4) - s ** (2.4 / 1.4))))


def cylinder_torque(leak: float, speed: float = 20.9) -> tuple[list[float], float]:
    """Return gas torque at each degree of 720 after compression top dead centre, and the gauge summit (Pa)."""
    pressure, mass, step = SEA, 1.0, radians(0.25)
    start = 180.0 + CLOSING
    v0 = CLEARANCE + AREA * travel(radians(start))
    gauge = [0.0] * 720
    for i in range(round((360.0 + OPENING - start) / 0.25)):
        angle = radians(start + 0.25 * i)
        v = CLEARANCE + AREA * travel(angle)
        v_next = CLEARANCE + AREA * travel(angle + step)
        if i % 4 == 0:
            gauge[round(start + 0.25 * i - 360.0) % 720] = pressure - SEA
        warm = pressure / SEA * (v / v0) / mass
        if pressure >= SEA:
            out = leak * pressure * phi(SEA / pressure) / sqrt(287.05 * 300.0 * warm) * step / speed
        else:
            warm, out = 1.0, -leak * SEA * phi(pressure / SEA) / sqrt(287.05 * 300.0) * step / speed
        share = out * 287.05 * 300.0 / (SEA * v0)
        mass -= share
        pressure *= (v / v_next) ** 1.3
        pressure -= 1.4 * SEA * warm * share * v0 / v_next
    h = 1e-4
    torque = [g * AREA * (travel(radians(d) + h) - travel(radians(d) - h)) / (2 * h) for d, g in enumerate(gauge)]
    return torque, max(gauge)


def record(
    leaks: list[float], *, inertia: float = 0.4, constant: float = 0.49, seconds: float = 5.0
) -> tuple[list[float], list[float]]:
    """Return (current samples at 2 kHz, times of the first cylinder's compression top dead centre)."""
    n = len(leaks)
    curves = {leak: np.array(cylinder_torque(leak)[0]) for leak in set(leaks)}
    total = np.zeros(720)
    for j, leak in enumerate(leaks):
        total += np.roll(curves[leak], round(j * 720 / n))
    table = [*total.tolist(), float(total[0])]
    friction = constant * (12.3 - constant * 20.9) / 0.014 + float(total.mean())
    angle, speed, current = 300.0, 0.0, []
    tops: list[float] = []
    step = 5e-4
    for i in range(round(seconds / step)):
        amps = (12.3 - constant * speed) / 0.014
        current.append(amps)
        place = angle % 720.0
        k = int(place)
        gas = table[k] + (place - k) * (table[k + 1] - table[k])
        drag = friction if speed > 0.0 else min(friction, constant * amps)
        speed = max(0.0, speed + step * (constant * amps - drag + gas) / inertia)
        moved = angle + step * speed * 180.0 / pi
        if moved // 720.0 > angle // 720.0:
            tops.append(i * step)
        angle = moved
    return current, tops
