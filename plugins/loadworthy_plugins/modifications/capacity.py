"""What injectors and fuel pumps can deliver against what the plan asks for, over speed."""

from __future__ import annotations

from itertools import pairwise
from math import hypot
from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import Finding, Gap, NamedTuple, Used
from loadworthy_plugins.modifications import fuel_parts, supply
from loadworthy_plugins.modifications.flow_limits import power_of_fuel, torque_of_power
from loadworthy_plugins.modifications.setting import ID, judged, over_speed, relative, unknown_capacity, value
from loadworthy_plugins.shared_results import number, reading_of, seen, step

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.sdk import Result, Step
    from loadworthy_plugins.modifications.inventory import Part
    from loadworthy_plugins.modifications.setting import Setting, Use

BENCH, PUMP_TEST, RAIL_TEST = "injector-flow-bench", "fuel-pump-volume-test", "fuel-pressure-under-load"
INJECTORS, PUMP = "injector-too-small", "fuel-pump-too-small"
#: Loaded voltage where nobody measured it, V (judgement: a tired line at full load).
LOADED_VOLTAGE: Final = 12.0
#: Flow of jet pumps and bypass where nobody knows it, m3/s: 30 L/h, the upper end (common practice, no source).
BYPASS: Final = 30e-3 / 3600
#: Loss of line and filter where nobody knows it, Pa (judgement).
LINE_LOSS: Final = 30e3
#: Base fuel pressure of port injection where nobody knows it, Pa gauge (common practice, no source).
BASE_PRESSURE: Final = 300e3
#: Crank angle for full load of a direct petrol injector where nobody knows it, deg: the lower end of 220 to 250 (common
#: practice, no source).
WINDOW: Final = 220.0
#: Standard uncertainties (judgement): of the maker's dead time and of the placeholder, s; relative ones of what a
#: high-pressure pump delivers and of what a fuel pump does, its voltage and the loss of line and filter included.
U_DEAD, U_PLACEHOLDER, U_EFFICIENCY, U_PUMP = 0.05e-3, 0.2e-3, 0.04, 0.05
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


def fuel_capacities(s: Setting) -> Iterator[Result]:
    """Return what injectors, fuel pump and high-pressure pump can do."""
    yield from _injectors(s)
    yield from _pump(s)
    yield from _taken(s)
    if s.direct:
        yield from _high_pressure_pump(s)


def _taken(s: Setting) -> Iterator[Result]:
    """Return a gap for what was taken because nobody states it."""
    if s.demand is None or s.fuel.kind == "gas":
        return
    if not s.direct and s.set_pressure() is None:
        text = "fuel pressure set is not stated: 3 bar is taken, and nothing is cleared by it"
        write = "write set_pressure in the part fuel_pump or fuel_regulator"
        yield Gap(ID + "fuel_pressure", text, section="modification", test=RAIL_TEST, write=write)
    if s.voltage is None:
        text = f"voltage under full load is not measured: {LOADED_VOLTAGE:.0f} V is taken at pump and injectors"
        yield Gap(ID + "loaded_voltage", text, section="modification", test=PUMP_TEST, write="write loaded_voltage")


def _sure(s: Setting, part: Part) -> bool:
    """Tell whether dead time and fuel pressure are known: what is only taken clears nothing."""
    return bool(part.row.get("dead_time_points")) and (s.direct or s.set_pressure() is not None)


def _no_figures(s: Setting, part: Part, rule: str, cause: str, what: str, until: str) -> Iterator[Result]:
    """Return what follows where a part cannot be computed: unknown, a gap, and a capacity that nobody knows.

    A standard part is only advised to be looked into while the plan asks for little more than today.
    """
    yield Finding(ID + rule, part.sheet_id, part.name, unknown=what)
    yield Gap(f"{ID}{rule}@{part.name}", what, section="modification", test=until, write="write the maker's figures")
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


def _voltage(s: Setting) -> float:
    return s.voltage or LOADED_VOLTAGE


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
        yield from _no_figures(s, part, rule, INJECTORS, f"injectors at the plan: {lack}", BENCH)
        return
    use = over_speed(rows)
    names = ("di_window_use_max",) if s.direct else ("duty_watch", "duty_fix")
    text = "share of the injection window at the plan" if s.direct else "injector duty at the plan"
    if max(use.used) > 1.0:
        text += " (above 1 is impossible: the data are wrong or the plan is)"
    shown = _readings(part, "static_flow", "static_flow_mass", "flow_pressure", "rail_pressure")
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
    dead, u_dead, _ = dead_time(part.row, _voltage(s), dp)
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
    dead = dead_time(part.row, _voltage(s), dp or BASE_PRESSURE)
    origin = "maker" if dead[2] else "placeholder (judgement)"
    found = [
        *step("speed with the least room", s.speeds[i], "rev/s"),
        *step("pressure difference at the injector", dp, "Pa", "rail less boost, or less cylinder pressure"),
        *step("dead time", dead[0], "s", f"at {_voltage(s):.1f} V", origin),
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


def _readings(part: Part, *keys: str) -> tuple[Used, ...]:
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
        readings=_readings(part, "idle_air_flow", "static_flow", "static_flow_mass"),
        clears=s.direct or s.set_pressure() is not None,
    )


# Pumps ---------------------------------------------------------------------------------------------------------------


def _pump(s: Setting) -> Iterator[Result]:
    if s.demand is None:
        return
    for part in s.found.of("fuel_pump"):
        if part.answer == "unknown":
            continue
        points = _curve(part.row, _voltage(s)) if s.fuel.kind != "gas" else ()
        rows, lack = [], "" if points else "no flow of it at a pressure and voltage"
        for i in range(len(s.speeds)) if points else ():
            row = _pump_at(s, part, points, i)
            if row is None:
                lack = "its flow is not published at the pressure that the plan needs, or that pressure is not known"
                break
            rows.append(row)
        if lack or not rows:
            yield from _no_figures(s, part, "fuel_pump_margin", PUMP, f"fuel pump at the plan: {lack}", PUMP_TEST)
            continue
        use = over_speed(rows)
        i = min(range(len(rows)), key=lambda k: use.used[k])
        origin = "measured" if s.voltage is not None else "taken (judgement)"
        steps = (
            *step("loaded voltage", _voltage(s), "V", "Q2 = Q1 (V2/V1)^1.13", origin),
            *step("pressure that the pump works against", _pump_pressure(s, part, i), "Pa gauge"),
            *step("largest fuel flow of the demand's fuel", use.value[i] / s.fuel.factor, "kg/s"),
            *chain_of_fuel(s, use.value[i] / s.fuel.factor, i),
        )
        text = "fuel pump's flow over the engine's need at the plan"
        names = ("pump_margin_min",)
        yield from judged(
            s,
            "fuel_pump_margin",
            names,
            part,
            use,
            "fuel_flow",
            text,
            PUMP_TEST,
            PUMP,
            s.fuel.factor,
            steps,
            sure=s.set_pressure() is not None,
        )


def _curve(row: Mapping[str, Any], loaded: float) -> tuple[tuple[float, float], ...]:
    """Return a pump's flow over pressure at the loaded voltage; a point without a voltage is none.

    Per pressure the point whose voltage is nearest, but not below if there is one.
    """
    best: dict[float, tuple[tuple[bool, float], float]] = {}
    for point in row.get("flow_points") or ():
        p, v, q = (number(point.get(key)) for key in ("pressure", "voltage", "flow"))
        if p is None or v is None or q is None:
            continue
        rank = (v < loaded, abs(v - loaded))
        flow = supply.at_voltage(q, v, loaded)
        if p not in best or (rank, flow) < best[p]:
            best[p] = (rank, flow)
    return tuple((p, flow) for p, (_, flow) in sorted(best.items()))


def _need(s: Setting, i: int) -> tuple[float, float] | None:
    """Return the volume of fuel that the engine needs at the plan, m3/s, and its relative u."""
    fuel = s.at_plan("fuel_flow", i)
    if fuel is None or fuel.value <= 0.0:
        return None
    return fuel.value * s.fuel.factor / s.fuel.density, fuel.u / fuel.value


def _bypass(s: Setting, part: Part) -> float:
    told = number(part.row.get("bypass_flow"))
    return BYPASS if told is None else told


def _pump_pressure(s: Setting, part: Part, i: int) -> float | None:
    base, need = s.set_pressure(), _need(s, i)
    if need is None:
        return None
    if base is None:
        base = None if s.direct else BASE_PRESSURE
    boost = s.boost(i) if s.referenced and not s.direct else 0.0
    if base is None or boost is None:
        return None
    return base + boost + _loss(s, need[0] + _bypass(s, part))


def _loss(s: Setting, flow: float) -> float:
    """Return the loss of line and filter at a flow: the largest that is told, else what is taken."""
    told = []
    viscosity = supply.DIESEL_VISCOSITY if s.fuel.diesel else supply.PETROL_VISCOSITY
    for part in s.found.of("fuel_line_and_filter"):
        loss, at = number(part.row.get("line_loss")), number(part.row.get("line_loss_flow"))
        bore, length = number(part.row.get("line_bore")), number(part.row.get("line_length"))
        if loss is not None and at is not None:
            told.append(supply.scaled_loss(loss, at, flow))
        elif bore is not None and length is not None:
            told.append(supply.line_loss(flow, bore, length, s.fuel.density, viscosity))
    return max(told, default=LINE_LOSS)


def _pump_at(
    s: Setting, part: Part, points: tuple[tuple[float, float], ...], i: int
) -> tuple[float, float, float, float] | None:
    pressure, need = _pump_pressure(s, part, i), _need(s, i)
    given = supply.pump_flow(points, pressure) if pressure is not None else None
    if need is None or given is None or pressure is None:
        return None
    left = max(0.0, given - _bypass(s, part))
    u_given = given * U_PUMP
    margin = left / need[0]
    u_margin = hypot(u_given / need[0], margin * need[1])
    scale = s.fuel.density / s.limit("pump_margin_min")
    return left * scale, u_given * scale, margin, u_margin


def _top_speed(s: Setting) -> float:
    """Return the highest speed that the engine makes torque at today, rev/s; 0 where nobody knows.

    Not that of the plan: a plan that revs higher makes no pump more efficient.
    """
    demand = s.demand
    if demand is None or demand.base is None:
        return 0.0
    return max((n for n, torque in zip(demand.speeds, demand.base, strict=True) if torque > 0.0), default=0.0)


def _high_pressure_pump(s: Setting) -> Iterator[Result]:
    if s.demand is None:
        return
    rule = "high_pressure_pump_use"
    for part in s.found.of("high_pressure_pump"):
        if part.answer == "unknown":
            continue
        bore, stroke = value(part.row, "plunger_bore"), value(part.row, "plunger_stroke")
        lobes = part.row.get("pump_lobes")
        needs = [_need(s, i) for i in range(len(s.speeds))]
        if bore is None or stroke is None or not lobes or any(n is None for n in needs):
            what = "high-pressure pump at the plan: bore, lift, lobes or the fuel flow are not known"
            yield from _no_figures(s, part, rule, PUMP, what, RAIL_TEST)
            continue
        rows = []
        share = s.limit("hp_pump_use_max")
        u_given = relative(2.0 * bore[1] / bore[0], stroke[1] / stroke[0], U_EFFICIENCY)
        top = _top_speed(s)
        for speed, need in zip(s.speeds, needs, strict=True):
            assert need is not None
            efficiency = supply.pump_efficiency(speed, top)
            given = supply.pump_delivery(bore[0], stroke[0], int(lobes), speed, efficiency)
            most, taken = share * given * s.fuel.density, need[0] / given
            rows.append((most, most * u_given, taken, taken * relative(u_given, need[1])))
        use = over_speed(rows)
        i = max(range(len(rows)), key=lambda k: use.used[k])
        steps = (
            *step("speed with the least room", s.speeds[i], "rev/s"),
            *step("volumetric efficiency", supply.pump_efficiency(s.speeds[i], top), "1", "", "judgement"),
            *chain_of_fuel(s, use.value[i] / s.fuel.factor, i),
        )
        text = "share of the high-pressure pump's delivery at the plan"
        shown = _readings(part, "plunger_bore", "plunger_stroke")
        names = ("hp_pump_use_max",)
        yield from judged(s, rule, names, part, use, "fuel_flow", text, RAIL_TEST, PUMP, s.fuel.factor, steps, shown)
