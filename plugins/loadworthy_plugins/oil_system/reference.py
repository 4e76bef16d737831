"""What a pressure is held to: the maker's figures, this engine's own record, and pressures corrected to them."""

from __future__ import annotations

from itertools import pairwise
from math import hypot, sqrt
from typing import TYPE_CHECKING, Any

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.oil_system.oil import dynamic, line, typical_line
from loadworthy_plugins.oil_system.points import FARTHEST, REFERENCE
from loadworthy_plugins.oil_system.pressure_model import PER_KELVIN, normalised, normalised_sensitivity
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from loadworthy_plugins.oil_system.oil import Oil
    from loadworthy_plugins.oil_system.points import Point

#: Shares of the flow that pass orifices: as usual, with piston jets or a turbocharger's restrictor, and the band
#: (judgement).
SHARE, SHARE_WITH_JETS, SHARE_BAND = 0.2, 0.3, (0.0, 0.5)
#: A record further off in speed says nothing, as a share (judgement).
SPEED_BAND = 0.30
#: Past the last speed of the maker's figures they are held this far, rev/s; before the first one by this share
#: (judgement).
PAST_LAST, BEFORE_FIRST = 500 / 60, 0.15


class Figure(NamedTuple):
    """A pressure at a speed that others are held to, with the dynamic viscosity that it is for (None: not known)."""

    speed: float
    pressure: float
    mu: float | None
    temperature: float
    stage: str
    source: str


def maker_figures(vehicle: Mapping[str, Any], which: str) -> tuple[Figure, ...]:
    """Return the maker's ``min`` or ``max`` figures, in order of speed."""
    out = []
    for row in vehicle.get("oil_pressure_spec") or ():
        speed, pressure = number(row.get("rpm")), number(row.get(which))
        if speed is None or pressure is None:
            continue
        temperature = number(row.get("temp")) or REFERENCE
        grade = row.get("oil_grade") or vehicle.get("oil_grade_spec")
        mu = grade_viscosity(grade, temperature)
        out.append(Figure(speed, pressure, mu, temperature, str(row.get("stage") or ""), "maker"))
    return tuple(sorted(out, key=lambda f: (f.speed, f.pressure, f.stage)))


def record_figures(vehicle: Mapping[str, Any]) -> tuple[Figure, ...]:
    """Return this engine's own record as written with the vehicle, in order of speed."""
    out = []
    for row in vehicle.get("oil_pressure_history") or ():
        speed, pressure = number(row.get("rpm")), number(row.get("pressure"))
        temperature = number(row.get("oil_temp"))
        if speed is None or pressure is None or temperature is None:
            continue
        known = line(number(row.get("kv40")), number(row.get("kv100")))
        grade = row.get("oil_grade") or vehicle.get("oil_grade_spec")
        mu = dynamic(known, temperature) if known is not None else grade_viscosity(grade, temperature)
        out.append(Figure(speed, pressure, mu, temperature, str(row.get("stage") or ""), "record"))
    return tuple(sorted(out, key=lambda f: (f.speed, f.pressure, f.stage)))


def grade_viscosity(grade: Any, temperature: float) -> float | None:
    """Return the dynamic viscosity of a typical oil of a grade, Pa s; None where the grade is not known."""
    found = typical_line(grade) if isinstance(grade, str) else None
    return None if found is None else dynamic(found, temperature)


def figure_at(figures: Iterable[Figure], speed: float, stage: str = "") -> Figure | None:
    """Return the figure at a speed, linear between the given ones of the same stage; None where they do not reach.

    The lowest is held a little below its speed and the last one 500 rpm beyond it.
    """
    own = [f for f in figures if f.stage == stage] or [f for f in figures if not f.stage]
    if not own:
        return None
    first, last = own[0], own[-1]
    if speed < first.speed:
        return first if speed >= first.speed * (1.0 - BEFORE_FIRST) else None
    if speed >= last.speed:
        return last if speed <= last.speed + PAST_LAST else None
    for low, high in pairwise(own):
        if low.speed <= speed < high.speed:
            share = (speed - low.speed) / (high.speed - low.speed)
            pressure = low.pressure + share * (high.pressure - low.pressure)
            return low._replace(speed=speed, pressure=pressure)
    return None


class Corrected(NamedTuple):
    """A pressure brought to another viscosity and speed, Pa gauge, with its standard uncertainty."""

    pressure: float
    u: float
    low: float
    high: float


def corrected(point: Point, oil: Oil, mu_to: float, speed_to: float, share: float) -> Corrected:
    """Return a point's pressure with oil of viscosity ``mu_to`` at ``speed_to``; ``share`` passes orifices."""
    mu = point.mu
    if mu is None:
        raise ValueError("viscosity at the point not known")
    ratio, speeds = mu / mu_to, speed_to / point.speed
    value = normalised(point.pressure, ratio, speeds, share)
    low, high = sorted(normalised(point.pressure, ratio, speeds, s) for s in SHARE_BAND)
    relative = hypot(oil.u_relative, PER_KELVIN * point.u_temperature) * normalised_sensitivity(ratio, speeds, share)
    scale = value / point.pressure if point.pressure > 0.0 else 1.0
    u = sqrt((point.u * scale) ** 2 + (value * relative) ** 2 + ((high - low) / (2.0 * sqrt(3.0))) ** 2)
    return Corrected(value, u, low, high)


def judged(point: Point, oil: Oil, figure: Figure, share: float) -> Corrected:
    """Return the pressure that is held to a figure: the lower one of two.

    One with the oil that the figure is for (would the right oil hold pressure?), one with the sump's own oil at the
    figure's temperature: so neither thick oil passes a worn engine nor thin oil excuses the pressure that it runs on.
    """
    if point.mu is None:
        return Corrected(point.pressure, point.u, point.pressure, point.pressure)
    own = corrected(point, oil, oil.mu(figure.temperature), figure.speed, share)
    right = figure.mu
    if right is None:
        return own
    return min(own, corrected(point, oil, right, figure.speed, share), key=lambda c: c.pressure)


def orifice_share(vehicle: Mapping[str, Any]) -> float:
    """Return the share of the flow that passes orifices."""
    return SHARE_WITH_JETS if vehicle.get("piston_jets") is True else SHARE


def nearest(figures: Iterable[Figure], point: Point, stage: str = "") -> tuple[Figure, ...]:
    """Return the figures of known viscosity within 30 % of a point's speed and 40 K of its temperature."""
    return tuple(
        f
        for f in figures
        if f.mu is not None
        and f.stage == stage
        and abs((point.temperature or 0.0) - f.temperature) <= FARTHEST
        and abs(f.speed / point.speed - 1.0) <= SPEED_BAND * (1.0 + 1e-9)
    )
