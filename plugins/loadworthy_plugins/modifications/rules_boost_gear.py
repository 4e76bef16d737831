"""Boost, turbocharger, camshaft and gearing against what the vehicle is said to have."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Verdict, evolve, format_value, p_above
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.mixture import CRANKING_EXPONENT, road_speed
from loadworthy_plugins.modifications.rule_table import GEARS, TYRE
from loadworthy_plugins.modifications.run import Value, finding, most_trusted, show, value_of, within
from loadworthy_plugins.physics.compressor import (
    DEFAULT_REFERENCE_PRESSURE,
    DEFAULT_REFERENCE_TEMPERATURE,
    corrected_flow,
)
from loadworthy_plugins.shared_results import bands, number, seen, step

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Finding
    from loadworthy_plugins.modifications.run import Run

#: Gears whose ratios differ by no more than this are off equally (judgement).
EQUAL_GEARS: Final = 0.02
#: Duty from which the boost control can do no more (judgement), and mean compression of a changed camshaft.
FULL_DUTY: Final = 0.98
CAM_COMPRESSION: Final = (0.85, 0.95)


def boost_gear_rules(run: Run) -> Iterator[Finding]:
    """Judge gearing, then boost at zero duty, compressor, idle vacuum, boost at full duty, limits seen in the log."""
    yield from gearing(run)
    if run.charged:
        yield from _spring(run)
        yield from _compressor(run)
        yield from _boost_short(run)
    yield from _idle_vacuum(run)
    yield from _ratio_fit(run)
    yield from _limits_above(run)


# Boost ----------------------------------------------------------------------------------------------------------------


def _spring(run: Run) -> Iterator[Finding]:
    """Judge the base-pressure run: the lowest speed against the spring, the highest against the lowest."""
    rows = run.sheet.get("base_pressure_points") or ()
    if not rows:
        return
    spring = run.fact("wastegate_spring")
    found = []
    for i, row in enumerate(rows, 1):
        boost = value_of(row.get("boost"), f"{run.sheet.id}.base_pressure_points[{i}].boost")
        speed = number(row.get("engine_speed"))
        if boost is not None and speed is not None:
            found.append((speed, boost))
    found.sort(key=lambda one: (one[0], one[1].value))
    why = run.why_scaled() or ("" if spring is not None else "spring of the wastegate not stated")
    if why or spring is None or not found:
        yield finding(run, "spring", unknown=why or "no boost at zero duty with known uncertainty")
        return
    (_, first), (_, last) = found[0], found[-1]
    tol = max(run.limit("spring_tol"), run.limit("spring_tol_share") * spring.value)
    limit = evolve(run.limits[ID + "spring_tol"], value=tol)
    verdicts = tuple(limit.judge(abs(boost.value - spring.value), _root(boost.u, spring.u)) for _, boost in found)
    off = verdicts[0].p_beyond
    creep = p_above(last.value - first.value, _root(first.u, last.u), tol) if len(found) > 1 else 0.0
    refused = most_trusted([boost.refused for _, boost in found])
    text = "boost at zero duty " + ", ".join(
        f"{format_value(boost.value, 'pressure_gauge')} at {60.0 * speed:.0f} rpm" for speed, boost in found
    )
    yield finding(
        run,
        "spring",
        verdicts=verdicts,
        text=f"{text}; stated spring {format_value(spring.value, 'pressure_gauge')}"
        + ("; grows with speed: creep" if creep >= 0.5 else ""),
        bands=bands(
            both=off * creep,
            off=off * (1.0 - creep),
            creep=(1.0 - off) * creep,
            clean=(1.0 - off) * (1.0 - creep) if len(found) > 1 else 0.0,
        ),
        clears=len(found) > 1 and not refused and run.sensors_clean,
        readings=tuple(show(boost, "Pa gauge") for _, boost in found),
        steps=step("allowed", tol, "Pa"),
    )


def _root(*parts: float) -> float:
    return hypot(*parts)


def _compressor(run: Run) -> Iterator[Finding]:
    """Judge corrected air flow against choke, and where boost stands; a leak moves boost too, so it is tested first."""
    choke, standard = run.fact("compressor_choke_flow"), run.fact("boost_onset_standard")
    onset = run.read("boost_onset_speed")
    share = _choke_share(run, choke)
    if share is None and (onset is None or standard is None):
        return
    verdicts, words, refused = [], [], []
    if share is not None:
        verdicts.append(run.limits[ID + "compressor_choke"].judge(share.value, share.u))
        words.append(f"corrected air flow {share.value:.2f} of the declared compressor's choke")
        refused.append(share.refused)
    tight = run.sheet.get("charge_leak_test") == "tight"
    if onset is not None and standard is not None and tight and not run.why_scaled():
        shift = abs(onset.value - standard.value)
        verdicts.append(run.limits[ID + "boost_onset_shift"].judge(shift, onset.u))
        words.append(f"full boost stands {60.0 * shift:.0f} rpm from where the standard engine has it")
        refused.append(onset.refused)
    if not verdicts:
        why = run.why_scaled() or "where boost stands tells nothing before the charge air path was tested tight"
        yield finding(run, "compressor", unknown=why)
        return
    neither = 1.0
    for verdict in verdicts:
        neither *= 1.0 - verdict.p_beyond
    complete = len(verdicts) == 2
    yield finding(
        run,
        "compressor",
        verdicts=tuple(verdicts),
        text="; ".join(words),
        bands=bands(beyond=1.0 - neither, clean=neither if complete else 0.0),
        clears=complete and run.sensors_clean and not most_trusted(refused),
        readings=(
            *((show(share, "1"),) if share is not None else ()),
            *((show(onset, "rev/s"),) if onset is not None else ()),
        ),
    )


def _choke_share(run: Run, choke: Value | None) -> Value | None:
    """Return the greatest corrected air flow over choke, at the map's own reference state."""
    inlet, ambient = run.read("ambient_temp"), run.ambient
    if choke is None or inlet is None or ambient is None:
        return None
    temperature, pressure = run.fact("compressor_map_temperature"), run.fact("compressor_map_pressure")
    reference = (
        temperature.value if temperature is not None else DEFAULT_REFERENCE_TEMPERATURE,
        pressure.value if pressure is not None else DEFAULT_REFERENCE_PRESSURE,
    )
    found = []
    for i, row in enumerate(run.rows, 1):
        air = value_of(row.get("air_flow"), f"{run.sheet.id}.points[{i}].air_flow")
        if air is None or air.value <= 0.0 or row["region"] != "load" or run.metering == "speed_density":
            continue
        at = ambient.value - (number(row.get("filter_dp")) or 0.0)
        share = corrected_flow(air.value, inlet.value, at, *reference) / choke.value
        u = share * _root(air.u / air.value, 0.5 * inlet.u / inlet.value, ambient.u / at)
        found.append(Value(share, u, air.place, air.refused))
    return max(found, key=lambda one: one.value, default=None)


def _boost_short(run: Run) -> Iterator[Finding]:
    """Judge full load with the control doing all it can: short of its target while air flow is at its standard peak."""
    at_end = [
        (i, row)
        for i, row in enumerate(run.rows, 1)
        if row["region"] == "load" and (number(row.get("boost_duty")) or 0.0) >= FULL_DUTY and row.get("map_target")
    ]
    if not at_end:
        return
    peak, leak = run.fact("standard_peak_air_flow"), run.sheet.get("charge_leak_test")
    why = run.why_scaled()
    if not why and leak != "tight":
        why = "charge air path not tested tight: a leak looks the same"
    elif not why and (peak is None or run.ambient is None):
        why = "peak air flow of the standard engine, or air pressure, not known"
    found: list[tuple[float, Value]] = []
    for i, row in at_end if not why else ():
        place = f"{run.sheet.id}.points[{i}]"
        pressure, air = value_of(row.get("map"), place + ".map"), value_of(row.get("air_flow"), place + ".air_flow")
        target = number(row.get("map_target"))
        if pressure is None or air is None or target is None or peak is None or run.ambient is None:
            continue
        allowed = max(run.limit("boost_short"), run.limit("boost_short_share") * (target - run.ambient.value))
        short = p_above(target - pressure.value, pressure.u, allowed)
        # "At its peak" allows for what the meter may err.
        full = p_above(air.value + 2.0 * air.u, air.u, peak.value)
        found.append((short * full, pressure))
    if why or not found:
        yield finding(run, "boost_short", unknown=why or "no point with manifold pressure, its target and air flow")
        return
    p, pressure = max(found, key=lambda one: (one[0], one[1].place))
    yield finding(
        run,
        "boost_short",
        verdicts=(Verdict("watch", p),),
        text="boost falls short at full duty with air flow at the standard peak: the turbocharger is at its limit"
        if p >= 0.5
        else "boost at full duty not short with air flow at the standard peak",
        bands=bands(short=p),
        clears=run.sensors_clean and not pressure.refused,
        readings=(show(pressure, "Pa absolute"),),
    )


def _idle_vacuum(run: Run) -> Iterator[Finding]:
    """Judge what a changed camshaft does to idle, all signs together; in part they prove and clear nothing."""
    vacuum, standard = run.read("idle_vacuum"), run.fact("idle_vacuum_standard")
    if vacuum is None or run.diesel:
        return
    warm = run.sheet.get("warm")
    if standard is None or warm is False:
        why = "engine not warm" if warm is False else "vacuum of the standard engine not known"
        yield finding(run, "idle_vacuum", unknown=why)
        return
    verdict = run.limits[ID + "idle_vacuum_low"].judge(standard.value - vacuum.value, vacuum.u)
    low, share = verdict.p_beyond, run.read("compression_share")
    flags = [
        run.sheet.get(name)
        for name in ("idle_vacuum_steady", "compression_even", "idle_hydrocarbons_high", "runs_clean_at_speed")
    ]
    text = f"idle vacuum {format_value(vacuum.value, 'pressure_difference')}"
    text += f", standard engine {format_value(standard.value, 'pressure_difference')}"
    complete = share is not None and None not in flags
    cam = clean = 0.0
    if share is not None and complete:
        steady, even, high, runs = flags
        sunk = within(share.value, share.u, *CAM_COMPRESSION)
        cam = low * sunk if even and high and runs and not steady else 0.0
        full = p_above(share.value, share.u, CAM_COMPRESSION[1])
        clean = (1.0 - low) * full if steady and even and not high else 0.0
    else:
        text += "; steadiness, compression, hydrocarbons or running at speed not known: no word on the camshaft"
    yield finding(
        run,
        "idle_vacuum",
        verdicts=(verdict,),
        text=text,
        bands=bands(cam=cam, clean=clean),
        clears=complete and clean > 0.0 and warm is True and not vacuum.refused,
        readings=(show(vacuum, "Pa"),),
    )


def _ratio_fit(run: Run) -> Iterator[Finding]:
    """Judge whether cranking pressure fits the declared ratio; why it does not, the compression check says."""
    share = run.read("compression_share")
    if share is None:
        return
    if run.sheet.get("compression_even") is not True:
        yield finding(run, "ratio_fit", unknown="cylinders not shown to be alike: their mean says nothing of the ratio")
        return
    p = p_above(abs(share.value - 1.0), share.u, run.limit("cr_ratio_tol"))
    factor = share.value ** (1.0 / CRANKING_EXPONENT)
    yield finding(
        run,
        "ratio_fit",
        verdicts=(Verdict("note", p),),
        text=f"cranking pressure {share.value:.2f} times the expected one: "
        + (f"as with {factor:.2f} times the declared compression ratio" if p >= 0.5 else "fits the declared ratio"),
        clears=not share.refused,
        readings=(show(share, "1"),),
        steps=step("compression ratio over declared", factor, "1", "share^(1/1.25)"),
    )


def _limits_above(run: Run) -> Iterator[Finding]:
    told = run.sheet.get("limits_above_standard")
    if not told:
        return
    above = [one for one in told if one != "none"]
    yield finding(
        run,
        "limits_above",
        verdicts=seen(bool(above), "watch"),
        text="the log shows more than the standard calibration allows: "
        + ", ".join(one.replace("_", " ") for one in above)
        if above
        else "torque, boost and speed limit in the log as standard",
        bands=bands(above=float(bool(above))),
    )


# Gearing --------------------------------------------------------------------------------------------------------------


def gears_of(run: Run) -> tuple[tuple[int, Value], ...]:
    """Return (gear, measured over declared overall ratio) for each gear that was logged locked, worst point of each."""
    final, tyre = run.fact("final_drive"), run.fact("tyre_circumference")
    ratios: Sequence[float] = run.case.vehicle.get("gear_ratios") or ()
    kind = run.case.vehicle.get("gearbox_type")
    if final is None or tyre is None or kind == "cvt":
        return ()
    found: dict[int, Value] = {}
    for i, row in enumerate(run.rows, 1):
        place = f"{run.sheet.id}.points[{i}].vehicle_speed"
        gear, road = row.get("gear"), value_of(row.get("vehicle_speed"), place)
        speed = value_of(row.get("engine_speed"), place)
        locked = row.get("driveline_locked")
        if locked is False or (locked is None and kind == "automatic_converter"):
            continue
        if gear is None or road is None or speed is None or not 1 <= gear <= len(ratios) or road.value <= 0.0:
            continue
        expected = road_speed(speed.value, tyre.value, ratios[gear - 1], final.value)
        value = expected / road.value
        parts = (road.u / road.value, speed.u / speed.value, tyre.u / tyre.value, final.u / final.value)
        one = Value(value, value * sum(part**2 for part in parts) ** 0.5, place, road.refused)
        if gear not in found or abs(value - 1.0) > abs(found[gear].value - 1.0):
            found[gear] = one
    return tuple(sorted(found.items()))


def gearing(run: Run) -> Iterator[Finding]:
    """Judge road speed against engine speed gear by gear: all off alike, one off, or none."""
    if not any(row.get("vehicle_speed") is not None and row.get("gear") is not None for row in run.rows):
        return
    if run.sheet.get("vehicle_speed_source") == "speedometer":
        yield finding(
            run, "gearing", unknown="a speedometer reads high by law: take the speed of a wheel sensor or GPS"
        )
        return
    found = gears_of(run)
    if not found:
        yield finding(
            run, "gearing", unknown="no locked gear with its ratio, final drive and tyre circumference stated"
        )
        return
    limit = run.limits[ID + "overall_ratio_tol"]
    off = {gear: limit.judge(abs(one.value - 1.0), one.u).p_beyond for gear, one in found}
    worst = max(found, key=lambda one: off[one[0]])[1]
    chosen = _gear_bands(found, off)
    words = ", ".join(f"gear {gear} {one.value:.3f}" for gear, one in found)
    text = f"overall ratio measured over declared: {words}"
    if off and max(off.values()) >= 0.5:
        text += "; power from road speed or acceleration is wrong by as much and not used"
        text += "" if len(found) > 1 else "; a second gear decides between tyre, final drive and gearbox"
    refused = most_trusted([one.refused for _, one in found])
    source = run.sheet.get("vehicle_speed_source")
    yield finding(
        run,
        "gearing",
        verdicts=(limit.judge(abs(worst.value - 1.0), worst.u),),
        text=text,
        bands=chosen,
        names=((TYRE, None), (GEARS, None)) if len(found) == 1 and off[found[0][0]] >= 0.5 else (),
        clears=len(found) > 1 and not refused and source is not None,
        readings=tuple(show(one, "1") for _, one in found),
    )


def _gear_bands(found: tuple[tuple[int, Value], ...], off: dict[int, float]) -> dict[str, float]:
    """Return the bands of the gearing rule; with one gear there is none."""
    if len(found) < 2:
        return {}
    values = sorted(one.value for _, one in found)
    u = max(one.u / one.value for _, one in found) * 2**0.5
    alike = within(values[-1] / values[0] - 1.0, u, -1.0, EQUAL_GEARS)
    every, clean = alike * min(off.values()), 1.0
    for p in off.values():
        clean *= 1.0 - p
    ranked = sorted(off.values())
    # One gear alone: it is off and every other one is not.
    alone = ranked[-1] * (1.0 - ranked[-2]) * (1.0 - every)
    name = "all_of_three" if len(found) > 2 else "all_of_two"
    total = every + alone + clean
    scale = 1.0 / total if total > 1.0 else 1.0
    return dict(bands(**{name: every * scale, "one_gear": alone * scale, "clean": clean * scale}))
