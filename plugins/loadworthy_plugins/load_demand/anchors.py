"""What this car's own full-load log says, carried to each speed of the plan."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any

from loadworthy.sdk import NamedTuple, Reading
from loadworthy_plugins.load_demand.chain import state_at
from loadworthy_plugins.load_demand.formulas import (
    OutsideModelError,
    mean_pressure,
    measured_work_density,
    power_of,
    work_per_air,
)
from loadworthy_plugins.load_demand.inputs import number, stated_u
from loadworthy_plugins.load_demand.plan import log_points
from loadworthy_plugins.load_demand.point import Anchor, chain_at, figures_at
from loadworthy_plugins.load_demand.uncertainty import ANCHORED_WORK_U, ANCHORED_WORK_U_NO_MIXTURE
from loadworthy_plugins.physics.compressor import isentropic_rise

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from loadworthy.sdk import Case
    from loadworthy_plugins.load_demand.inputs import Notes
    from loadworthy_plugins.load_demand.point import Breathing, Engine

#: A log point speaks for speeds this near: 500 rpm.
REACH = 500.0 / 60.0


class Known(NamedTuple):
    """One usable log point: its speed, the anchor it gives, and the compressor's isentropic rise there (K)."""

    speed: float
    anchor: Anchor
    rise: float


def read_known(case: Case, engine: Engine, breathing: Breathing, scale: float, notes: Notes) -> tuple[Known, ...]:
    """Usable baseline points, rising in speed. A refused reading anchors nothing."""
    known = []
    for speed, torque, point in log_points(case, scale):
        pressure, temperature = _trusted(point, "manifold_pressure"), _trusted(point, "charge_temperature")
        if pressure is None or temperature is None:
            continue
        try:
            known.append(_known(engine, breathing, speed, torque, point, pressure, temperature))
        except OutsideModelError:
            continue
    if known:
        notes.assume(
            "baseline log points", f"{len(known)}", "", "taken as steady full load with no leak or lack of boost"
        )
        if any(k.anchor.work_u > ANCHORED_WORK_U for k in known):
            notes.assume("work per charge from the log", 1.0, "1", "no lambda to carry it to the plan's", 0.05)
    return tuple(known)


def _trusted(point: Mapping[str, Any], name: str) -> float | None:
    value = point.get(name)
    if isinstance(value, Reading) and value.refused:
        return None
    return number(point, name)


def _known(
    engine: Engine,
    breathing: Breathing,
    speed: float,
    torque: float,
    point: Mapping[str, Any],
    pressure: float,
    temperature: float,
) -> Known:
    figures = figures_at(engine, speed)
    diesel = engine.choice.row.family == "diesel"
    measured, flow = number(point, "lambda"), _trusted(point, "air_flow")
    carry = _carry(measured, engine.mixture, diesel)
    work = measured_work_density(mean_pressure(torque, engine.displacement), temperature, pressure)
    work_u = ANCHORED_WORK_U if carry is not None else ANCHORED_WORK_U_NO_MIXTURE
    work_u = max(work_u, hypot(*(stated_u(point, n) for n in ("torque", "manifold_pressure", "charge_temperature"))))
    power = power_of(torque, speed)
    air = flow if flow else power * figures.specific_air
    chain = chain_at(breathing, figures.efficiency, air)
    state = state_at(pressure, chain)
    anchor = Anchor(
        torque,
        work * (carry or 1.0),
        pressure,
        temperature,
        temperature - state.charge_temperature,
        work_u,
        flow / power / (carry or 1.0) if flow else None,
    )
    return Known(speed, anchor, isentropic_rise(state.inlet_temperature, state.pressure_ratio))


def _carry(measured: float | None, planned: float | None, diesel: bool) -> float | None:
    """Work per charge at the planned mixture over that at the logged one; None where one of them is unknown."""
    if measured is None or planned is None:
        return None
    if diesel:
        return measured / planned
    try:
        return work_per_air(planned) / work_per_air(measured)
    except OutsideModelError:
        return None


def anchor_at(known: Sequence[Known], speed: float) -> Anchor | None:
    """Anchor at a speed: between the two nearest points if both are within reach, else the nearest one within it.

    None where no point lies within 500 rpm.
    """
    near = [k for k in known if abs(k.speed - speed) <= REACH * (1.0 + 1e-9)]
    below = [k for k in near if k.speed <= speed]
    above = [k for k in near if k.speed > speed]
    if not near:
        return None
    if not below or not above:
        return (below[-1] if below else above[0]).anchor
    low, high = below[-1], above[0]
    share = (speed - low.speed) / (high.speed - low.speed)
    a, b = low.anchor, high.anchor

    def between(x: float, y: float) -> float:
        return x + share * (y - x)

    air = None
    if a.specific_air is not None and b.specific_air is not None:
        air = between(a.specific_air, b.specific_air)
    return Anchor(
        between(a.torque, b.torque),
        between(a.work, b.work),
        between(a.pressure, b.pressure),
        between(a.temperature, b.temperature),
        between(a.shift, b.shift),
        max(a.work_u, b.work_u),
        air,
    )


def demonstrated_rise(known: Sequence[Known]) -> float | None:
    """Largest isentropic rise that a log showed; None where none did."""
    largest = max((k.rise for k in known), default=0.0)
    return largest if largest > 0.0 else None
