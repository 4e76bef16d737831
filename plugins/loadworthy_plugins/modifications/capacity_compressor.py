"""What the compressor's map allows: flow at its choke line, distance from its surge line, speed of the shaft."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Gap
from loadworthy_plugins.modifications import flow_limits
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.parallel import chain_of_air, parallel_count, together
from loadworthy_plugins.modifications.setting import judged, over_speed, relative, unknown_capacity, value
from loadworthy_plugins.physics.atmosphere import standard_air
from loadworthy_plugins.shared_results import number, step

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Result
    from loadworthy_plugins.modifications.inventory import Part
    from loadworthy_plugins.modifications.setting import Setting

INTERVIEW: Final = "inventory-interview"
COMPRESSOR: Final = "turbocharger-at-its-limit"
#: Outside air of a hot day where nobody says how hot it gets, and what the inlet of the compressor adds, K (judgement).
HOT_DAY, INLET_RISE = 308.15, 5.0
#: Pressure lost before the compressor and between it and the manifold where nobody measured it, Pa (judgement).
INLET_LOSS, COOLER_LOSS = 3e3, 10e3
#: Margins that stand for a pressure ratio above the published surge line, and for one at which nothing can surge.
BEYOND, FAR = 0.0, 100.0


def _inlet_pressure(s: Setting) -> tuple[float, bool]:
    """Return the pressure at the compressor inlet at the highest place of use, Pa, and whether that place is told."""
    told = number(s.case.plan.get("use_altitude_max"))
    ambient = s.ambient if told is None else min(s.ambient, standard_air(told).pressure)
    return ambient - INLET_LOSS, told is not None


def _inlet_temperature(s: Setting) -> float:
    """Return the temperature at the compressor inlet on the hottest day of use, K."""
    return (number(s.case.plan.get("ambient_temp_plan")) or HOT_DAY) + INLET_RISE


def compressor_capacities(s: Setting) -> Iterator[Result]:
    """Return what the compressor can do: flow at choke, distance from surge, speed of its shaft."""
    parts = s.found.of("turbocharger")
    yield from _flow(s, parts)
    if s.demand is not None:
        for part in parts:
            yield from _surge(s, part, parallel_count(s, parts))
            yield from _shaft(s, part)


def _flow(s: Setting, parts: Sequence[Part]) -> Iterator[Result]:
    known = []
    inlet, told = _inlet_pressure(s)
    for one in parts:
        keys = ("choke_flow", "map_temperature", "map_pressure")
        choke, temperature, pressure = (value(one.row, key) for key in keys)
        if choke is None or temperature is None or pressure is None:
            if one.answer == "modified":
                what = "turbocharger: no flow of its map with the reference state of the map"
                yield unknown_capacity(s, COMPRESSOR, "air_flow", what, INTERVIEW)
            continue
        here = flow_limits.flow_of_corrected(choke[0], _inlet_temperature(s), inlet, temperature[0], pressure[0])
        known.append((one, (here, here * relative(choke[1] / choke[0], 0.5 * temperature[1] / temperature[0], 0.02))))
    if not known or s.demand is None:
        return
    if not told:
        yield Gap(
            ID + "use_altitude",
            "highest place of use not stated: the compressor is compared at the place of the figures",
            section="modification",
            write="use_altitude_max under [plan]",
        )
    part, total, u, sure = together(s, parts, known)
    rows = []
    for i in range(len(s.speeds)):
        air = s.at_plan("air_flow", i)
        if air is None:
            return
        used = air.value / total
        rows.append((total, total * u, used, used * relative(u, air.u / air.value)))
    i = max(range(len(rows)), key=lambda k: rows[k][2])
    steps = (
        *step("inlet pressure", inlet, "Pa", "ambient at the highest place of use less inlet loss"),
        *step("inlet temperature", _inlet_temperature(s), "K", "outside air and 5 K", "judgement"),
        *step("largest air flow", total, "kg/s", "m_corr (p1/p_ref)/sqrt(T1/T_ref)"),
        *chain_of_air(s, total, i),
    )
    yield from judged(
        s,
        "compressor_flow",
        ("compressor_flow_use_max",),
        part,
        over_speed(rows),
        "air_flow",
        "planned air flow over that of the compressor map's choke or 60 % line, hot, at the highest place of use",
        INTERVIEW,
        COMPRESSOR,
        steps=steps,
        sure=sure,
    )


def surge_flow(points: Sequence[tuple[float, float]], ratio: float) -> float | None:
    """Return the corrected flow of a surge line at a pressure ratio: linear, from no flow at 1; None above the line.

    >>> line = ((2.0, 0.05), (3.0, 0.10))
    >>> [surge_flow(line, ratio) for ratio in (0.9, 1.5, 2.5, 3.1)]
    [0.0, 0.025, 0.07500000000000001, None]
    """
    line = [(1.0, 0.0), *sorted(point for point in points if point[0] > 1.0)]
    if ratio <= 1.0:
        return 0.0
    for (r0, q0), (r1, q1) in pairwise(line):
        if ratio <= r1:
            return q0 + (q1 - q0) * (ratio - r0) / (r1 - r0)
    return None


def _surge(s: Setting, part: Part, count: int) -> Iterator[Result]:
    """Hold the plan to the surge line: the ceiling is the pressure at which the margin is used up at each speed."""
    given = [(number(row.get("pressure_ratio")), value(row, "flow")) for row in part.row.get("surge_points") or ()]
    points = [(ratio, flow[0]) for ratio, flow in given if ratio is not None and flow is not None]
    reference = (value(part.row, "map_temperature"), value(part.row, "map_pressure"))
    if not points or s.demand is None or reference[0] is None or reference[1] is None:
        return
    air, pressure = s.demand.quantities.get("air_flow"), s.demand.quantities.get("manifold_pressure")
    if air is None or pressure is None:
        text = "air flow or manifold pressure of the plan is not known: nothing is held to the surge line"
        yield Gap(f"{ID}compressor_surge@{part.name}", text, section="modification", write="complete the plan")
        return
    inlet, _ = _inlet_pressure(s)
    state = (_inlet_temperature(s), inlet, reference[0][0], reference[1][0])
    rows = []
    for i in range(len(s.speeds)):
        margins = []
        for q, p in zip(air.nominal[i], pressure.high[i], strict=True):
            line = surge_flow(points, (p + COOLER_LOSS) / inlet)
            least = flow_limits.flow_of_corrected(line, *state) if line is not None else None
            margins.append(FAR if least == 0.0 else BEYOND if least is None else min(FAR, q / count / least))
        plan, at = s.at_plan("air_flow", i), _plan_step(s, i)
        u = margins[at] * relative(0.03, plan.u / plan.value if plan is not None and plan.value > 0.0 else 0.0)
        most = _first_crossing(pressure.high[i], margins, s.limit("compressor_surge_margin"))
        rows.append((most, 0.0, margins[at], u))
    yield from judged(
        s,
        "compressor_surge",
        ("compressor_surge_margin",),
        part,
        over_speed(rows),
        "manifold_pressure",
        "planned air flow over that of the surge line at the planned pressure ratio",
        INTERVIEW,
        steps=step("inlet pressure", inlet, "Pa", "ambient at the highest place of use less inlet loss"),
    )


def _plan_step(s: Setting, i: int) -> int:
    assert s.demand is not None
    plan = s.demand.plan[i]
    return min(range(len(s.demand.torque[i])), key=lambda k: abs(s.demand.torque[i][k] - plan) if s.demand else 0.0)


def _first_crossing(pressures: Sequence[float], margins: Sequence[float], least: float) -> float:
    """Return the pressure at which the margin first falls below the least; the highest step where it never does."""
    if margins[0] < least:
        return 0.0
    for (p0, m0), (p1, m1) in pairwise(zip(pressures, margins, strict=True)):
        if m1 < least:
            return p0 + (p1 - p0) * (m0 - least) / (m0 - m1)
    return pressures[-1]


def _shaft(s: Setting, part: Part) -> Iterator[Result]:
    """Hold the plan to the shaft's speed limit, by its speed in the log of today and the demand's ratio to that."""
    limit, today = value(part.row, "shaft_speed_limit"), value(part.row, "shaft_speed_demonstrated")
    if limit is None:
        return
    speeds = [s.at_plan("compressor_speed", i) for i in range(len(s.speeds))]
    if today is None or any(one is None for one in speeds):
        text = "speed of the shaft at today's full load, or at the plan against it, is not known: not judged"
        write = "log the shaft's speed at full load: shaft_speed_demonstrated, and a full-load point of this car"
        yield Gap(f"{ID}shaft_speed@{part.name}", text, section="modification", write=write)
        return
    u_ratio = relative(limit[1] / limit[0], today[1] / today[0])
    most = s.limit("shaft_speed_use_max") * limit[0] / today[0]
    rows = []
    for one in speeds:
        assert one is not None
        used = one.value * today[0] / limit[0]
        rows.append((most, most * u_ratio, used, used * relative(u_ratio, one.u / one.value)))
    yield from judged(
        s,
        "shaft_speed",
        ("shaft_speed_use_max",),
        part,
        over_speed(rows),
        "compressor_speed",
        "planned speed of the charger's shaft over its limit",
        INTERVIEW,
    )
