"""What fuel pump and high-pressure pump can deliver against what the plan asks for, over speed."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any, Final

from loadworthy_plugins.modifications import supply
from loadworthy_plugins.modifications.capacity import (
    BASE_PRESSURE,
    PUMP_TEST,
    RAIL_TEST,
    chain_of_fuel,
    figures_used,
    no_figures,
    pump_voltage,
)
from loadworthy_plugins.modifications.setting import judged, over_speed, relative, value
from loadworthy_plugins.shared_results import number, step

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.sdk import Result
    from loadworthy_plugins.modifications.inventory import Part
    from loadworthy_plugins.modifications.setting import Setting

PUMP: Final = "fuel-pump-too-small"
#: Flow of jet pumps and bypass where nobody knows it, m3/s: 30 L/h, the upper end (common practice, no source).
BYPASS: Final = 30e-3 / 3600
#: Loss of line and filter where nobody knows it, Pa (judgement).
LINE_LOSS: Final = 30e3
#: The filter's part of it, where only the line is known, Pa (judgement).
FILTER_LOSS: Final = 15e3
#: Relative standard uncertainties (judgement) of what a high-pressure pump delivers, and of what a fuel pump does with
#: its voltage and the loss of line and filter.
U_EFFICIENCY, U_PUMP = 0.04, 0.05


def pump_capacities(s: Setting) -> Iterator[Result]:
    """Return what the fuel pump and, with direct injection, the high-pressure pump can do."""
    yield from _pump(s)
    if s.direct:
        yield from _high_pressure_pump(s)


def _pump(s: Setting) -> Iterator[Result]:
    if s.demand is None:
        return
    for part in s.found.of("fuel_pump"):
        if part.answer == "unknown":
            continue
        points = _curve(part.row, pump_voltage(s)) if s.fuel.kind != "gas" else ()
        rows, lack = [], "" if points else "no flow of it at a pressure and voltage"
        for i in range(len(s.speeds)) if points else ():
            row = _pump_at(s, part, points, i)
            if row is None:
                lack = "its flow is not published at the pressure that the plan needs, or that pressure is not known"
                break
            rows.append(row)
        if lack or not rows:
            yield from no_figures(s, part, "fuel_pump_margin", PUMP, f"fuel pump at the plan: {lack}", PUMP_TEST)
            continue
        use = over_speed(rows)
        i = min(range(len(rows)), key=lambda k: use.used[k])
        origin = "measured" if s.voltage is not None else "taken (judgement)"
        steps = (
            *step("loaded voltage", pump_voltage(s), "V", "Q2 = Q1 (V2/V1)^1.13", origin),
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
    """Return the loss of line and filter at a flow: the largest that is told, else what is taken.

    A bore tells of the line alone: what the filter takes comes on top.
    """
    told = []
    viscosity = supply.DIESEL_VISCOSITY if s.fuel.diesel else supply.PETROL_VISCOSITY
    for part in s.found.of("fuel_line_and_filter"):
        loss, at = number(part.row.get("line_loss")), number(part.row.get("line_loss_flow"))
        bore, length = number(part.row.get("line_bore")), number(part.row.get("line_length"))
        if loss is not None and at is not None:
            told.append(supply.scaled_loss(loss, at, flow))
        elif bore is not None and length is not None:
            told.append(FILTER_LOSS + supply.line_loss(flow, bore, length, s.fuel.density, viscosity))
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
            yield from no_figures(s, part, rule, PUMP, what, RAIL_TEST)
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
        shown = figures_used(part, "plunger_bore", "plunger_stroke")
        names = ("hp_pump_use_max",)
        yield from judged(s, rule, names, part, use, "fuel_flow", text, RAIL_TEST, PUMP, s.fuel.factor, steps, shown)
