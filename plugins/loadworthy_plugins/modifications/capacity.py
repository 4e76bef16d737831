"""What injectors can deliver against what the plan asks for, over speed; what they share with the pumps."""

from __future__ import annotations

from itertools import pairwise
from math import hypot
from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import Finding, Gap, NamedTuple, Used
from loadworthy_plugins.modifications import fuel_parts
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.flow_limits import power_of_fuel, torque_of_power
from loadworthy_plugins.modifications.setting import judged, over_speed, relative, unknown_capacity, value
from loadworthy_plugins.shared_results import number, reading_of, seen, step

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.sdk import Result, Step
    from loadworthy_plugins.modifications.inventory import Part
    from loadworthy_plugins.modifications.setting import Setting, Use

BENCH, PUMP_TEST, RAIL_TEST = "injector-flow-bench", "fuel-pump-volume-test", "fuel-pressure-under-load"
INJECTORS: Final = "injector-too-small"
#: Loaded voltage where nobody measured it, V (judgement: a tired line at full load).
LOADED_VOLTAGE: Final = 12.0
#: Voltage before the wiring of the pump, V: from there its measured drop counts (common practice, no source).
SUPPLY_VOLTAGE: Final = 14.0
#: Base fuel pressure of port injection where nobody knows it, Pa gauge (common practice, no source).
BASE_PRESSURE: Final = 300e3
#: Crank angle for full load of a direct petrol injector where nobody knows it, deg: the lower end of 220 to 250 (common
#: practice, no source).
WINDOW: Final = 220.0
#: Standard uncertainties of the maker's dead time and of the placeholder, s (judgement).
U_DEAD, U_PLACEHOLDER = 0.05e-3, 0.2e-3
#: Added relative uncertainty of a flow whose test fluid nobody names: it is taken as n-heptane.
U_FLUID: Final = 0.02


class Rated(NamedTuple):
    """A static flow as its maker states it: mass flow, its relative u, pressure difference and density there."""

    flow: float
    u: float
    dp: float
    density: float


def rated(row: Mapping[str, Any]) -> Rated | None:
    """Return the static flow of an injector by mass; None without a figure, or without the pressure that it holds at.

    A volume of an unnamed fluid is taken as n-heptane, the lightest: less mass.
    """
    dp = value(row, "flow_pressure")
    by_mass, by_volume = value(row, "static_flow_mass"), value(row, "static_flow")
    if dp is None or (by_mass is None and by_volume is None):
        return None
    stated = value(row, "test_fluid_density")
    named = fuel_parts.FLUID_DENSITY.get(row.get("test_fluid") or "")
    if stated is not None:
        density, u_density = stated[0], stated[1] / stated[0]
    elif named is not None:
        density, u_density = named, 0.005
    else:
        density, u_density = fuel_parts.FLUID_DENSITY["n_heptane"], U_FLUID
    if by_mass is not None:
        flow, u = by_mass[0], by_mass[1] / by_mass[0]
        # The density only steps in where the fuel's is another: by its root.
        u = relative(u, 0.5 * u_density)
    else:
        assert by_volume is not None
        flow = by_volume[0] * density
        u = relative(by_volume[1] / by_volume[0], 0.5 * u_density)
    return Rated(flow, relative(u, 0.5 * dp[1] / dp[0]), dp[0], density)


def dead_time(row: Mapping[str, Any], voltage: float, dp: float) -> tuple[float, float, bool]:
    """Return dead time, its u and whether it is the maker's; at the nearest published point moved by the placeholder.

    Between points of voltage linear; the placeholder's slopes carry it beyond them and to another pressure.
    """
    points = []
    for point in row.get("dead_time_points") or ():
        at, time = number(point.get("voltage")), number(point.get("time"))
        if at is None or time is None:
            continue
        pressure = number(point.get("pressure"))
        moved = 0.0
        if pressure is not None and dp < fuel_parts.CYLINDER_PRESSURE:
            moved = fuel_parts.placeholder_dead_time(14.0, dp) - fuel_parts.placeholder_dead_time(14.0, pressure)
        points.append((at, max(0.0, time + moved)))
    if not points:
        pressure = dp if dp < fuel_parts.CYLINDER_PRESSURE else BASE_PRESSURE
        return fuel_parts.placeholder_dead_time(voltage, pressure), U_PLACEHOLDER, False
    points.sort()
    for (v0, t0), (v1, t1) in pairwise(points):
        if v0 <= voltage <= v1 and v1 > v0:
            return t0 + (t1 - t0) * (voltage - v0) / (v1 - v0), U_DEAD, True
    near, time = min(points, key=lambda p: (abs(p[0] - voltage), p))
    moved = fuel_parts.placeholder_dead_time(voltage, BASE_PRESSURE)
    moved -= fuel_parts.placeholder_dead_time(near, BASE_PRESSURE)
    return max(0.0, time + moved), relative(U_DEAD, 0.5 * abs(moved)), True


def injector_capacities(s: Setting) -> Iterator[Result]:
    """Return what injectors can do, and a gap for what had to be taken because nobody states it."""
    yield from _injectors(s)
    yield from _taken(s)


def _taken(s: Setting) -> Iterator[Result]:
    """Return a gap for what was taken because nobody states it."""
    if s.demand is None or s.fuel.kind == "gas":
        return
    if not s.direct and s.set_pressure() is None:
        text = "fuel pressure set is not stated: 3 bar is taken, and nothing is cleared by it"
        write = "set_pressure in the part fuel_pump or fuel_regulator"
        yield Gap(ID + "fuel_pressure", text, section="modification", test=RAIL_TEST, write=write)
    if s.voltage is None:
        text = f"voltage under full load is not measured: {LOADED_VOLTAGE:.0f} V is taken at pump and injectors"
        yield Gap(
            ID + "loaded_voltage",
            text,
            section="modification",
            test=PUMP_TEST,
            write="loaded_voltage under [[modification]]",
        )


def _sure(s: Setting, part: Part) -> bool:
    """Tell whether dead time and fuel pressure are known: what is only taken clears nothing."""
    return bool(part.row.get("dead_time_points")) and (s.direct or s.set_pressure() is not None)


def no_figures(s: Setting, part: Part, rule: str, cause: str, what: str, until: str) -> Iterator[Result]:
    """Return what follows where a part cannot be computed: unknown, a gap, and a capacity that nobody knows.

    A standard part is only advised to be looked into while the plan asks for little more than today.
    """
    yield Finding(ID + rule, part.sheet_id, part.name, unknown=what)
    yield Gap(f"{ID}{rule}@{part.name}", what, section="modification", test=until, write="the maker's figures")
    if part.answer != "standard" or s.rises:
        yield unknown_capacity(s, cause, "fuel_flow", what, until)


# Injectors -----------------------------------------------------------------------------------------------------------


def _injectors(s: Setting) -> Iterator[Result]:
    for part in s.found.of("injector"):
        if part.answer == "unknown":
            continue
        flow = rated(part.row)
        if part.answer == "modified" or flow is not None:
            yield from _dead_time(s, part)
        if flow is not None:
            yield from _idle(s, part, flow)
        if s.demand is None:
            continue
        rule = "injector_window" if s.direct else "injector_duty"
        yield from _injector_use(s, part, flow, rule)


def loaded_voltage(s: Setting) -> float:
    """Return the voltage at pump and injectors under full load, V: measured, else taken."""
    return s.voltage or LOADED_VOLTAGE


def pump_voltage(s: Setting) -> float:
    """Return the voltage at the fuel pump under full load, V: measured, else taken, or less by the wiring's drop."""
    if s.voltage is not None:
        return s.voltage
    drops = [number(part.row.get("wire_drop")) for part in s.found.of("pump_wiring")]
    return min([LOADED_VOLTAGE, *(SUPPLY_VOLTAGE - drop for drop in drops if drop is not None)])


def _difference(s: Setting, part: Part, i: int) -> float | None:
    """Return the pressure difference that the injector works at, at the plan; None where it cannot be told."""
    rail = number(part.row.get("rail_pressure"))
    if s.direct:
        return None if rail is None else max(0.0, rail - fuel_parts.CYLINDER_PRESSURE)
    rail = s.set_pressure() or BASE_PRESSURE
    if s.referenced:
        return rail
    boost = s.boost(i)
    if boost is None:
        return None
    return fuel_parts.port_difference(rail, s.ambient + boost, s.ambient, referenced=False)


def _injector_use(s: Setting, part: Part, flow: Rated | None, rule: str) -> Iterator[Result]:
    cylinders = s.cylinders
    window = number(part.row.get("injection_window")) or (None if s.fuel.diesel else WINDOW)
    lack = ""
    if s.fuel.kind == "gas":
        lack = "injectors of gas are not computed"
    elif flow is None:
        lack = "no static flow with the pressure that it holds at"
    elif cylinders is None:
        lack = "the number of cylinders is not stated"
    elif s.direct and window is None:
        lack = "the injection window of this diesel is not known"
    rows = []
    if flow is not None and cylinders is not None and not lack:
        for i in range(len(s.speeds)):
            row = _at(s, part, flow, cylinders, window or 0.0, i)
            if row is None:
                lack = "fuel flow or pressure at the injector is not known at the plan"
                break
            rows.append(row)
    if lack or not rows:
        yield from no_figures(s, part, rule, INJECTORS, f"injectors at the plan: {lack}", BENCH)
        return
    use = over_speed(rows)
    names = ("di_window_use_max",) if s.direct else ("duty_watch", "duty_fix")
    text = "share of the injection window at the plan" if s.direct else "injector duty at the plan"
    if max(use.used) > 1.0:
        text += " (above 1 is impossible: the data are wrong or the plan is)"
    shown = figures_used(part, "static_flow", "static_flow_mass", "flow_pressure", "rail_pressure")
    yield from judged(
        s,
        rule,
        names,
        part,
        use,
        "fuel_flow",
        text,
        BENCH,
        INJECTORS,
        s.fuel.factor,
        _steps(s, part, use),
        shown,
        _sure(s, part),
    )


def _at(
    s: Setting, part: Part, flow: Rated, cylinders: int, window: float, i: int
) -> tuple[float, float, float, float] | None:
    """Return capacity, its u, the share used and its u at one speed."""
    fuel, dp = s.at_plan("fuel_flow", i), _difference(s, part, i)
    if fuel is None or dp is None:
        return None
    speed = s.speeds[i]
    q = fuel_parts.flow_at(flow.flow, flow.dp, dp, flow.density, s.fuel.density)
    dead, u_dead, _ = dead_time(part.row, loaded_voltage(s), dp)
    events = int(part.row.get("injections_per_cycle") or 1)
    asked, u_asked = fuel.value * s.fuel.factor, fuel.u * s.fuel.factor
    if s.direct:
        cycle = fuel_parts.window_time(window, speed)
        most = fuel_parts.largest_fuel_direct(q, cylinders, speed, events * dead, window, s.limit("di_window_use_max"))
    else:
        cycle = 2.0 / speed
        most = fuel_parts.largest_fuel(q, cylinders, speed, dead, s.limit("duty_max"), events)
    u_most = hypot(most * flow.u, cylinders * speed / 2.0 * q * events * u_dead)
    if q <= 0.0:
        # Boost as high as the fuel pressure: nothing flows, the share is past any limit.
        return 0.0, 0.0, 10.0, 0.1
    mass = fuel_parts.cycle_fuel(asked, cylinders, speed)
    pulse = fuel_parts.pulse(mass, q, dead, events)
    share = pulse / cycle if s.direct else fuel_parts.duty(pulse, speed)
    u_effective = mass / q * relative(flow.u, u_asked / asked if asked > 0.0 else 0.0)
    return most, u_most, share, hypot(u_effective, events * u_dead) / cycle


def _steps(s: Setting, part: Part, use: Use) -> tuple[Step, ...]:
    """Return the assumptions and, at the speed with the least room, flow and crank power that the part carries."""
    i = max(range(len(use.used)), key=lambda k: use.used[k])
    dp = _difference(s, part, i)
    dead = dead_time(part.row, loaded_voltage(s), dp or BASE_PRESSURE)
    origin = "maker" if dead[2] else "placeholder (judgement)"
    found = [
        *step("speed with the least room", s.speeds[i], "rev/s"),
        *step("pressure difference at the injector", dp, "Pa", "rail less boost, or less cylinder pressure"),
        *step("dead time", dead[0], "s", f"at {loaded_voltage(s):.1f} V", origin),
        *step("largest fuel flow of the demand's fuel", use.value[i] / s.fuel.factor, "kg/s"),
        *_needed(s, part, i, dead[0]),
    ]
    if not s.direct and s.set_pressure() is None:
        found += step("fuel pressure taken", BASE_PRESSURE, "Pa gauge", "", "common practice, no source")
    return (*found, *chain_of_fuel(s, use.value[i] / s.fuel.factor, i))


def _needed(s: Setting, part: Part, i: int, dead: float) -> tuple[Step, ...]:
    """Return the flow of a port injector that would do at the plan, at the pressure there."""
    fuel, cylinders = s.at_plan("fuel_flow", i), s.cylinders
    if s.direct or fuel is None or cylinders is None:
        return ()
    mass = fuel_parts.cycle_fuel(fuel.value * s.fuel.factor, cylinders, s.speeds[i])
    events = int(part.row.get("injections_per_cycle") or 1)
    flow = fuel_parts.required_flow(mass, s.speeds[i], dead, s.limit("duty_max"), events)
    return step("flow of an injector that would do", flow, "kg/s") if flow < float("inf") else ()


def chain_of_fuel(s: Setting, fuel: float, i: int) -> tuple[Step, ...]:
    """Return what crank torque a fuel flow carries, by the demand's own specific consumption at the plan."""
    level, power = s.at_plan("fuel_flow", i), s.at_plan("power", i)
    if level is None or power is None or power.value <= 0.0:
        return ()
    carried = power_of_fuel(fuel, level.value / power.value)
    return step("crank torque that it carries", torque_of_power(carried, s.speeds[i]), "N m", "P/(2 pi n)")


def figures_used(part: Part, *keys: str) -> tuple[Used, ...]:
    """Return the figures of a part that a finding rests on, each with its sheet."""
    found = []
    for key in keys:
        reading = reading_of(part.row.get(key))
        if reading is not None:
            found.append(
                Used(f"{part.origins.get(key, part.sheet_id)}.part.{key}", reading.value, reading.u, reading.kind)
            )
    return tuple(found)


def _dead_time(s: Setting, part: Part) -> Iterator[Result]:
    known = bool(part.row.get("dead_time_points"))
    text = "dead time of the injectors unknown: only the maker's or a bench's is fit to calibrate with"
    yield Finding(
        ID + "dead_time_known",
        part.sheet_id,
        part.name,
        verdicts=seen(not known),
        text="dead time by the maker" if known else text,
    )


def _idle(s: Setting, part: Part, flow: Rated) -> Iterator[Result]:
    air, speed = value(part.row, "idle_air_flow"), number(part.row.get("idle_speed"))
    dp = number(part.row.get("rail_pressure")) if s.direct else (s.set_pressure() or BASE_PRESSURE)
    if air is None or speed is None or s.cylinders is None or dp is None or s.fuel.diesel:
        return
    q = fuel_parts.flow_at(flow.flow, flow.dp, dp, flow.density, s.fuel.density)
    time = fuel_parts.idle_time(air[0], 1.0, s.fuel.air, s.cylinders, speed, q)
    limit = s.limits[ID + ("effective_time_min_direct" if s.direct else "effective_time_min_port")]
    found = limit.judge(time, time * relative(flow.u, air[1] / air[0]))
    yield Finding(
        ID + "injector_idle",
        part.sheet_id,
        part.name,
        verdicts=(found,),
        text=f"injection time at idle without dead time {1e3 * time:.2f} ms: below the linear range metering is unsure",
        readings=figures_used(part, "idle_air_flow", "static_flow", "static_flow_mass"),
        clears=s.direct or s.set_pressure() is not None,
    )
