"""Rules on the shape of the pressures: plateau, droop, flutter, cold pressure, build time, surge."""

from __future__ import annotations

from itertools import pairwise
from math import log
from typing import TYPE_CHECKING

from loadworthy.sdk import Verdict, format_value, p_above, p_below
from loadworthy_plugins.oil_system.pattern import DROOP_SHARE, FLAT_SLOPE, droop_start, slope
from loadworthy_plugins.oil_system.points import ID
from loadworthy_plugins.oil_system.relief import plateau_of
from loadworthy_plugins.oil_system.results import at_speed, finding, pressure_words, verdicts
from loadworthy_plugins.oil_system.rules_leak import ratios
from loadworthy_plugins.oil_system.rules_pressure import low_symptom
from loadworthy_plugins.shared_results import bands, number, percent, seen, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Finding, Result, Used
    from loadworthy_plugins.oil_system.held import Held
    from loadworthy_plugins.oil_system.points import Point

#: A cold point counts below this oil temperature (K) and at these speeds, rev/s (judgement).
_COLD, _COLD_SPEEDS = 313.15, (1500 / 60, 2500 / 60)
#: Idle ratio below which a droop no longer speaks against the bearings (judgement).
_IDLE_SOUND = 0.85


def pattern_rules(held: Held) -> Iterator[Result]:
    """Judge the shape of one sheet."""
    for found in _plateau_low(held):
        yield found
        yield from low_symptom(found)
    yield from _droop(held)
    yield from _flutter(held)
    yield from _cold(held)
    yield from _plateau_high(held)
    yield from _build(held)
    yield from _surge(held)


def _idle_word(held: Held, name: str) -> str:
    """Return the band's name: with idle low, or not known, a droop does not speak against the bearings."""
    idle = held.sweep.idle
    sound = any(r.point is idle and r.value >= _IDLE_SOUND for r in ratios(held))
    return name if sound else f"{name}_idle_low"


def _readings(held: Held, points: Sequence[Point]) -> tuple[Used, ...]:
    return tuple(used(held.sheet, p.key, p.pressure, p.u, "Pa gauge") for p in points)


def _plateau_low(held: Held) -> Iterator[Finding]:
    level = plateau_of(held)
    if level is None or held.regulated:
        return
    u = max(p.u for p in held.sweep.points)
    relief = held.relief
    if relief is not None:
        verdict = held.limits[ID + "plateau_low"].judge(level / relief, u / relief)
    else:
        verdict = held.limits[ID + "plateau_low_unknown"].judge(level, u)
    yield finding(
        "plateau_low",
        held.sheet,
        verdicts=(verdict,),
        text=f"pressure levels off at {pressure_words(level)}, relief setting "
        + ("not known" if relief is None else pressure_words(relief)),
        steps=step("plateau", level, "Pa gauge", "median of points flat within 5 % over 1 500 rpm"),
        clears=relief is not None and not held.why_not_clear(),
    )


def droop(held: Held) -> tuple[float | None, float]:
    """Return where a droop starts (rev/s, None where none does) and the probability of it."""
    points = held.sweep.points
    if held.regulated or len(points) < 2:
        return None, 0.0
    highest = max(p.pressure for p in points)
    reference = held.relief if held.relief is not None else highest
    start = droop_start([(p.speed, p.pressure) for p in points], reference)
    p = 0.0
    for before, after in pairwise(points):
        if before.pressure <= 0.0 or after.pressure <= 0.0 or after.speed <= before.speed:
            continue
        flat = log(after.pressure / before.pressure) / log(after.speed / before.speed) < FLAT_SLOPE
        if flat:
            p = max(p, p_below(after.pressure, after.u, DROOP_SHARE * reference))
    return start, p


def _droop(held: Held) -> Iterator[Finding]:
    if held.regulated or len(held.sweep.points) < 3:
        return
    start, p = droop(held)
    points = held.sweep.points
    top, highest = points[-1], max(x.pressure for x in points)
    size = (highest - top.pressure) / highest if highest > 0.0 else 0.0
    limit = held.limits[ID + "droop_max"]
    verdict = limit.judge(size, top.u / highest if highest > 0.0 else 0.0)
    # Against the relief setting a low neighbour cannot hide a droop; the greater of both counts.
    verdict = verdict._replace(p_beyond=max(verdict.p_beyond, p))
    yield finding(
        "droop",
        held.sheet,
        verdicts=(verdict,),
        text=f"pressure falls to {pressure_words(top.pressure)} {at_speed(top.speed)}: suction limit"
        if verdict.p_beyond >= 0.5
        else "no fall of pressure towards the highest speed",
        bands=bands(**{_idle_word(held, "droops"): verdict.p_beyond}),
        max_grade=held.cap or None,
        # Without a relief setting a low neighbour hides a droop: no droop is no evidence then.
        clears=held.relief is not None and not held.why_not_clear(),
        readings=_readings(held, points),
        steps=(
            *step("fall from the highest", size, "1"),
            *step("starts at", start, "rev/s"),
            *step(
                "slope of ln p over ln N",
                slope([(p.speed, p.pressure) for p in points]),
                "",
                "sound when hot: 0.6 to 1.0",
            ),
        ),
    )


def _flutter(held: Held) -> Iterator[Finding]:
    points = [p for p in held.sweep.points if p.flutter is not None]
    if not points:
        return
    worst = max(points, key=lambda p: (p.flutter or 0.0, -p.speed))
    verdict = held.limits[ID + "flutter_max"].judge(worst.flutter or 0.0, 0.0)
    yield finding(
        "flutter",
        held.sheet,
        verdicts=(verdict,),
        text=f"pressure scatters by {percent(worst.flutter or 0.0)} {at_speed(worst.speed)}",
        bands=bands(**{_idle_word(held, "flutters"): verdict.p_beyond}),
        clears=not held.why_not_clear() and len(points) == len(held.sweep.points),
        readings=_readings(held, points),
    )


def cold_points(held: Held) -> tuple[Point, ...]:
    """Return the points that a cold start counts by."""
    low, high = _COLD_SPEEDS
    return tuple(
        p for p in held.sweep.cold if p.temperature is not None and p.temperature < _COLD and low <= p.speed <= high
    )


def _cold(held: Held) -> Iterator[Finding]:
    if not held.sweep.cold:
        return
    points, relief = cold_points(held), held.relief
    if not points or relief is None:
        lacks = "relief setting not known" if points else "no point below 40 degC at 1 500 to 2 500 rpm"
        yield finding("cold_pressure", held.sheet, unknown=lacks, readings=_readings(held, held.sweep.cold))
        return
    best = max(points, key=lambda p: (p.pressure, -p.speed))
    far = p_below(best.pressure, best.u, held.limits[ID + "cold_far_below"].number * relief)
    normal = 1.0 - p_below(best.pressure, best.u, held.limits[ID + "cold_normal"].number * relief)
    yield finding(
        "cold_pressure",
        held.sheet,
        verdicts=(Verdict("watch", far),),
        text=f"cold pressure {pressure_words(best.pressure)}, relief setting {pressure_words(relief)}",
        bands=bands(far_below=far, normal=normal),
        readings=_readings(held, points),
        steps=step("cold pressure over relief setting", best.pressure / relief, "1"),
    )


def _plateau_high(held: Held) -> Iterator[Finding]:
    relief = held.relief
    if relief is None:
        return
    limit = held.limits[ID + "plateau_high"]
    cold, hot = cold_points(held), held.sweep.points
    if not cold and not hot:
        return
    worst = max((*cold, *hot), key=lambda p: (p.pressure, -p.speed))
    verdict = limit.judge(worst.pressure / relief, worst.u / relief)
    if not cold and verdict.p_beyond < 0.05:
        # Hot, below its setting, a valve that is stuck shut does not show.
        return
    high = max((p_above(p.pressure, p.u, limit.number * relief) for p in cold), default=0.0)
    reached = max(
        (1.0 - p_below(p.pressure, p.u, held.limits[ID + "cold_normal"].number * relief) for p in cold), default=0.0
    )
    yield finding(
        "plateau_high",
        held.sheet,
        verdicts=(verdict,),
        text=f"pressure reaches {pressure_words(worst.pressure)}: relief valve stuck shut, or a wrong spring"
        if verdict.p_beyond >= 0.5
        else "pressure does not rise above the relief setting",
        bands=bands(cold=high, cold_at_relief=max(0.0, min(reached, 1.0 - high) - high)),
        clears=bool(cold),
        readings=_readings(held, (worst,)),
        steps=step("highest pressure over relief setting", worst.pressure / relief, "1"),
    )


def _build(held: Held) -> Iterator[Finding]:
    reading = held.sheet.reading("time_to_pressure")
    if reading is None or reading.u is None:
        return
    found = verdicts(held.limits, ("time_to_pressure_max",), reading.value, reading.u)
    yield finding(
        "build_time",
        held.sheet,
        verdicts=found,
        text=f"pressure {format_value(reading.value, 'time', digits=2)} after a cold start",
        bands=bands(slow=found[0].p_beyond),
        clears=not reading.refused,
        readings=(used(held.sheet, "time_to_pressure", reading.value, reading.u, "s"),),
    )


def _surge(held: Held) -> Iterator[Finding]:
    surge, level = held.sheet.get("pressure_surge"), number(held.sheet.get("oil_level"))
    if surge in (None, "unknown"):
        return
    fired = surge == "cornering_or_braking"
    low = level is not None and level <= held.limits[ID + "oil_level_range_low"].number
    yield finding(
        "surge",
        held.sheet,
        verdicts=seen(fired, "watch"),
        text=("pressure lost in bends or under braking" + (", level low" if low else ""))
        if fired
        else "pressure holds in bends and under braking",
        bands={"level_low": 1.0} if fired and low else {},
        readings=(used(held.sheet, "pressure_surge", surge),),
    )
