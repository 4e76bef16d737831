"""Ceilings on engine speed: what the pressure carries, where it droops, and how far it was measured at all."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from loadworthy.sdk import Ceiling, Gap
from loadworthy_plugins.oil_system.asked import HOT_DENSITY, RADIUS, figure_for, floor_at, level, required_at
from loadworthy_plugins.oil_system.pattern import droop_ceiling, thumb_speed
from loadworthy_plugins.oil_system.points import ID
from loadworthy_plugins.oil_system.reference import figure_at
from loadworthy_plugins.oil_system.relief import at_relief, sound_plateau
from loadworthy_plugins.oil_system.requirement import floor_speed
from loadworthy_plugins.oil_system.rules_pattern import droop
from loadworthy_plugins.shared_results import number, step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Result
    from loadworthy_plugins.oil_system.held import Held
    from loadworthy_plugins.oil_system.points import Point

SWEEP = "oil-pressure-sweep"
#: The physics ceiling uses the lowest pressure from this speed up, rev/s (judgement).
_FROM = 3000 / 60
#: Speeds this near to the planned top count as measured there, as a share (judgement).
_NEAR_TOP = 0.98
#: Just inside a segment between two speeds (share of it).
_INSIDE = 1e-6


def _pressure(held: Held, point: Point) -> float:
    """Return the pressure of a point as its own figure judges it."""
    figure = figure_for(held, held.minimum, point)
    if figure is None and not held.regulated:
        figure = figure_at(held.record, point.speed)
    told = level(held, point, figure) if figure is not None else None
    return point.pressure if told is None else told.pressure


def first_short(held: Held, sources: tuple[str, ...]) -> float | None:
    """Return the lowest speed (rev/s) at which the pressure falls below what these sources ask for; None if nowhere."""
    known = [(p.speed, _pressure(held, p), p.stage) for p in held.sweep.points]
    merged: dict[float, tuple[float, str]] = {}
    for speed, pressure, stage in known:
        if speed not in merged or pressure < merged[speed][0]:
            merged[speed] = (pressure, stage)
    speeds = sorted(merged)
    if not speeds:
        return None
    figures = [f.speed for f in (*held.minimum, *held.record) if speeds[0] < f.speed < speeds[-1]]
    knots = sorted({*speeds, *figures})

    def margin(speed: float) -> float | None:
        i = max((k for k in range(len(speeds)) if speeds[k] <= speed), default=0)
        stage = merged[speeds[i]][1]
        asked = required_at(held, speed, stage)
        if asked is None or asked.source not in sources:
            return None
        if i + 1 == len(speeds):
            return merged[speeds[i]][0] - asked.pressure
        share = (speed - speeds[i]) / (speeds[i + 1] - speeds[i])
        low, high = merged[speeds[i]][0], merged[speeds[i + 1]][0]
        return low + share * (high - low) - asked.pressure

    first = margin(speeds[0])
    if first is not None and first < 0.0:
        return speeds[0]
    for a, b in pairwise(knots):
        inside = (b - a) * _INSIDE
        at_a, at_b = margin(a + inside), margin(b - inside)
        if at_a is None or at_b is None:
            continue
        if at_a < 0.0:
            return a
        if at_b < 0.0:
            return a + (b - a) * at_a / (at_a - at_b)
    last = margin(speeds[-1])
    return speeds[-1] if last is not None and last < 0.0 else None


def ceilings(held: Held, *, latest: bool) -> Iterator[Result]:
    """Return the ceilings of one sheet; ``latest``: also those that stand for what nobody has measured yet."""
    yield from _short(held)
    yield from _droop(held)
    yield from _floor(held)
    yield from _thumb(held)
    if latest:
        yield from _unmeasured(held)


def _of(held: Held, rule: str) -> tuple[str, str | None, str]:
    return (ID + rule, None, held.sheet.id)


def _short(held: Held) -> Iterator[Ceiling]:
    for source, rule, words in (("maker", "maker_min", "maker's least"), ("record", "record_share", "own record")):
        speed = first_short(held, (source,))
        if speed is None:
            continue
        lowest = held.sweep.points[0].speed
        yield Ceiling(
            f"rpm_{source}",
            "engine_speed" if speed > lowest else "torque",
            speed if speed > lowest else "as_received",
            f"oil pressure falls below the {words}",
            until=SWEEP,
            finding=_of(held, rule),
            steps=step("pressure falls short from", speed, "rev/s"),
        )


def _droop(held: Held) -> Iterator[Ceiling]:
    start, _ = droop(held)
    if start is None:
        return
    yield Ceiling(
        "rpm_droop",
        "engine_speed",
        droop_ceiling(start),
        "oil pressure falls towards higher speed: suction limit",
        until=SWEEP,
        finding=_of(held, "droop"),
        steps=step("droop starts at", start, "rev/s"),
    )


def _floor(held: Held) -> Iterator[Ceiling]:
    fast = [p for p in held.sweep.points if p.speed >= _FROM]
    # No calibration commands the low stage at high speed where there is a high one.
    fast = [p for p in fast if p.stage == "high"] or fast
    lowest = min((p.pressure for p in fast), default=None)
    if lowest is None:
        return
    radius = number(held.case.vehicle.get("main_journal_radius")) or RADIUS
    margin = held.limits[ID + "oil_p_floor_margin"].number
    speed = None if lowest <= floor_at(held, _FROM) else floor_speed(lowest, radius, HOT_DENSITY, margin)
    if speed is not None and held.top_speed is not None and speed >= held.top_speed:
        return
    reach = speed if speed is not None else _FROM
    stages = {p.stage for p in fast} if held.regulated else {""}
    covered = any(figure_at(held.minimum, reach, stage) is not None for stage in stages)
    covered = covered or figure_at(held.record, reach) is not None
    yield Ceiling(
        "rpm_floor",
        "engine_speed" if speed is not None else "torque",
        speed if speed is not None else "as_received",
        "oil pressure carries the oil to the crank axis only up to this speed",
        kind="advisory" if covered else "hard",
        until=SWEEP,
        steps=(
            *step("lowest pressure from 3 000 rpm up", lowest, "Pa gauge"),
            *step("radius of the main journals", radius, "m"),
        ),
    )


def _thumb(held: Held) -> Iterator[Ceiling]:
    if held.pump != "fixed":
        return
    level_off = sound_plateau(held)
    speed = first_short(held, ("rule",))
    if speed is None and level_off is not None and not held.minimum and not held.record:
        speed = thumb_speed(level_off, held.limits[ID + "oil_p_rule_slope"].number)
    if speed is None or (held.top_speed is not None and speed >= held.top_speed):
        return
    yield Ceiling(
        "rpm_rule",
        "engine_speed",
        speed,
        "rule of thumb: 0.69 bar for each 1 000 rpm",
        kind="advisory",
        until=SWEEP,
        finding=_of(held, "rule_of_thumb") if level_off is None else None,
    )


def _unmeasured(held: Held) -> Iterator[Result]:
    """Beyond the last point pressure is known only at the relief valve's setting."""
    if not held.sweep.points or held.top_speed is None:
        return
    last = held.sweep.points[-1]
    if last.speed >= _NEAR_TOP * held.top_speed or (held.relief is not None and at_relief(held, last)):
        return
    yield Ceiling(
        "rpm_unmeasured",
        "engine_speed",
        last.speed,
        "oil pressure at higher speed is not known",
        origin="gap",
        until=SWEEP,
        basis="demonstrated",
    )
    yield Gap(
        ID + "top_speed",
        f"oil pressure at top speed: measured up to {60.0 * last.speed:.0f} rpm, "
        f"planned up to {60.0 * held.top_speed:.0f} rpm",
        section="oil_pressure",
        test=SWEEP,
    )
