"""The model of one case: engine, air, planned and present torque over speed, and what was assumed for it."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.load_demand import envelope
from loadworthy_plugins.load_demand.anchors import anchor_at, demonstrated_rise, read_known
from loadworthy_plugins.load_demand.defaults import Choice, compressor_efficiency, curve_shape
from loadworthy_plugins.load_demand.formulas import KWH, OutsideModelError
from loadworthy_plugins.load_demand.inputs import (
    Lack,
    Notes,
    Trust,
    make_engine,
    number,
    read_breathing,
    read_engine,
    read_surroundings,
    read_trust,
)
from loadworthy_plugins.load_demand.plan import Base, base_from_gain, read_base, read_plan
from loadworthy_plugins.load_demand.point import demand_at, figures_at, flows_at, torque_at_pressure
from loadworthy_plugins.load_demand.uncertainty import BOOST_ONLY_U

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import Assumption, Case, Curve
    from loadworthy_plugins.load_demand.defaults import Shape
    from loadworthy_plugins.load_demand.envelope import Points
    from loadworthy_plugins.load_demand.plan import Planned
    from loadworthy_plugins.load_demand.point import Anchor, Breathing, Demanded, Engine, Figures


class Model(NamedTuple):
    """Everything that is needed to ask for the demand at any torque of any speed in ``speeds``."""

    engine: Engine
    breathing: Breathing
    speeds: tuple[float, ...]
    plan: tuple[float, ...]
    base: tuple[float, ...] | None
    base_source: str
    power_u: tuple[float, ...]
    anchors: tuple[Anchor | None, ...]
    rise: float | None
    basis: str
    boost_stated: bool
    trust: Trust

    def row(self, i: int, torques: Iterable[float]) -> tuple[Demanded, ...]:
        """Demand at the i-th speed and several torques (N m)."""
        figures = figures_at(self.engine, self.speeds[i])
        return tuple([self.at(i, torque, figures) for torque in torques])

    def at(self, i: int, torque: float, figures: Figures | None = None) -> Demanded:
        """Demand at the i-th speed and a torque (N m); ``figures`` are those of the speed, if known already."""
        anchor = self.anchors[i]
        breathing = self.breathing
        stated = breathing.charge_temperature
        if stated is not None and anchor is not None:
            breathing = breathing._replace(charge_temperature=self._charge(anchor, stated, self.plan[i], torque))
        return demand_at(
            self.engine,
            breathing,
            self.speeds[i],
            torque,
            self.power_u[i],
            anchor,
            self.rise,
            self.plan[i]
            if self.boost_stated and anchor is None and self.speeds[i] >= self.engine.torque_speed
            else None,
            figures,
        )

    @staticmethod
    def _charge(anchor: Anchor, stated: float, plan: float, torque: float) -> float:
        """Charge temperature between the logged one at the logged torque and the stated one at the plan."""
        if plan <= anchor.torque:
            return stated
        share = min(1.0, max(0.0, (torque - anchor.torque) / (plan - anchor.torque)))
        return anchor.temperature + share * (stated - anchor.temperature)


class Built(NamedTuple):
    """The model, or None with a required lack that says why, and what was assumed on the way."""

    model: Model | None
    assumptions: tuple[Assumption, ...]
    lacks: tuple[Lack, ...]


def build(case: Case) -> Built:
    """Read the case and build its model."""
    notes = Notes()
    model = _build(case, notes)
    return Built(model, tuple(notes.assumptions), tuple(notes.lacks))


def _build(case: Case, notes: Notes) -> Model | None:
    read = read_engine(case, notes)
    air = read_surroundings(case, notes)
    if read is None:
        return None
    _, induction, _, choice = read
    family = choice.row.family
    today = read_trust(case, "vehicle", induction != "none" and family == "spark", air, notes)
    base = read_base(case, today)
    planned = read_plan(case, base, family, air, notes)
    if planned is None:
        return None
    breathing = read_breathing(case, induction, air, notes)
    _say_defaults(choice, induction, notes)
    mixture = number(case.plan, "lambda")
    if mixture is None:
        pair = choice.row.mixture
        notes.assume("full-load lambda", f"{pair[0]:g} to {pair[1]:g}", "1", "usual for the engine type", 0.03)
    torque_speed, power_speed = _peak_speeds(case, planned, base, curve_shape(family, induction))
    engine = make_engine(read, mixture, torque_speed, power_speed)
    problem = _mixture_problem(engine)
    if problem:
        notes.lack("load_demand.lambda", f"{problem}; no demand", "plan.lambda = 0.85", required=True)
        return None
    return _over_speed(case, engine, breathing, planned, base, today, notes)


def _mixture_problem(engine: Engine) -> str:
    """Say why a planned full-load mixture has no demand; empty where it has one."""
    if engine.choice.row.family == "diesel" and engine.mixture is not None and engine.mixture < 1.0:
        return f"planned lambda {engine.mixture:g} is impossible for a diesel"
    try:
        figures_at(engine, engine.power_speed)
    except OutsideModelError as outside:
        return f"planned mixture: {outside}"
    return ""


def _say_defaults(choice: Choice, induction: str, notes: Notes) -> None:
    """Write down the figures of the engine type at rated power."""
    row = choice.row
    what = "fuel per work" if row.family == "diesel" else "air per work"
    specific = row.specific[1] / KWH
    notes.assume(f"{what} at rated power", specific, "kg/J", choice.why, choice.u_specific * specific)
    notes.assume(
        "volumetric efficiency at rated power", row.filling[1], "1", choice.why, choice.u_filling * row.filling[1]
    )
    if induction != "none":
        efficiency = compressor_efficiency(row.family, induction, 1.0, 0.0, 1.0)
        notes.assume("compressor efficiency at rated power", efficiency, "1", "usual (judgement)", 0.05)


def _peak_speeds(case: Case, planned: Planned, base: Base | None, shape: Shape) -> tuple[float, float]:
    """Speeds of peak torque and peak power: stated, else of today's or the maker's curve, else of the plan.

    Today's curve goes before the plan's own, so that raising the plan at one speed leaves the others alone.
    """
    if planned.peaks is not None:
        return planned.peaks.torque_speed, planned.peaks.power_speed
    standard: Curve | None = case.vehicle.get("standard_torque")
    if base is not None:
        points: Points = base.points
    elif standard is not None and standard.speeds:
        points = tuple(zip(standard.speeds, standard.values, strict=True))
    elif planned.points is not None:
        points = planned.points
    else:
        return shape.speed_ratio * shape.power_speed, shape.power_speed
    peaks = envelope.peaks_of(points)
    torque_speed = number(case.plan, "peak_torque_speed") or peaks.torque_speed
    power_speed = number(case.plan, "peak_power_speed") or peaks.power_speed
    return torque_speed, power_speed


def _over_speed(
    case: Case,
    engine: Engine,
    breathing: Breathing,
    planned: Planned,
    base: Base | None,
    today: Trust,
    notes: Notes,
) -> Model | None:
    power_u = planned.trust.u
    marks: tuple[float, ...] = (engine.torque_speed, engine.power_speed)
    base_marks = tuple(n for n, _ in base.points) if base is not None else ()
    points, peaks = planned.points, planned.peaks
    basis = "default"
    if planned.boost is not None:
        points, breathing = _boost_points(engine, breathing, planned.boost, base, notes)
        power_u, basis = BOOST_ONLY_U, "envelope"
    if points is not None:
        marks += tuple(n for n, _ in points)
        speeds = envelope.grid(points[0][0], points[-1][0], marks + base_marks)
        plan = tuple(envelope.curve_torque(points, n) for n in speeds)
        us = (power_u,) * len(speeds)
        if planned.boost is not None:
            us = _early_us(engine.torque_speed, max(plan), speeds, plan, power_u)
    else:
        assert peaks is not None
        basis = "envelope"
        low = envelope.LOWEST_SPEED if base is None else max(envelope.LOWEST_SPEED, base.points[0][0])
        speeds = envelope.grid(min(low, peaks.torque_speed), peaks.power_speed, marks + base_marks)
        plan = tuple(envelope.envelope_torque(peaks, n) for n in speeds)
        us = _early_us(peaks.torque_speed, peaks.torque, speeds, plan, power_u)
    if base is None:
        base = base_from_gain(case, tuple(zip(speeds, plan, strict=True)), planned.trust.scale)
    kept = [i for i, (n, t) in enumerate(zip(speeds, plan, strict=True)) if n > 0.0 and t > 0.0]
    if not kept:
        notes.lack("load_demand.plan", "the planned torque is zero everywhere: no demand", "plan.torque", required=True)
        return None
    speeds, plan, us = (tuple(v[i] for i in kept) for v in (speeds, plan, us))
    rated = max(flows_at(engine, n, t).air for n, t in zip(speeds, plan, strict=True))
    breathing = breathing._replace(rated_flow=rated)
    known = read_known(case, engine, breathing, today.scale, notes)
    anchors = tuple(anchor_at(known, n) for n in speeds)
    if any(a is not None for a in anchors):
        basis = "anchored"
    return Model(
        engine,
        breathing,
        speeds,
        plan,
        None if base is None else tuple(base.at(n) for n in speeds),
        "" if base is None else base.source,
        us,
        anchors,
        demonstrated_rise(known) if engine.charged else None,
        basis,
        planned.boost is not None,
        planned.trust,
    )


def _early_us(
    torque_speed: float, peak: float, speeds: tuple[float, ...], plan: tuple[float, ...], power_u: float
) -> tuple[float, ...]:
    """Uncertainty of an envelope: below peak torque an early plateau may lie above the estimate."""
    return tuple(
        hypot(power_u, envelope.early_plateau_u(t, peak)) if n < torque_speed else power_u
        for n, t in zip(speeds, plan, strict=True)
    )


def _boost_points(
    engine: Engine, breathing: Breathing, boost: float, base: Base | None, notes: Notes
) -> tuple[Points, Breathing]:
    """Torque over speed that a planned boost makes: full from the speed of peak torque, rising to it below."""
    pressure = breathing.ambient_pressure + boost
    # The drops hold at rated flow, which the boost itself decides.
    for _ in range(30):
        torque = torque_at_pressure(engine, breathing, engine.power_speed, pressure)
        flow = flows_at(engine, engine.power_speed, torque).air
        if abs(flow - breathing.rated_flow) <= 1e-12:
            break
        breathing = breathing._replace(rated_flow=flow)
    low = envelope.LOWEST_SPEED if base is None else max(envelope.LOWEST_SPEED, base.points[0][0])
    speeds = envelope.grid(min(low, engine.torque_speed), engine.power_speed, (engine.torque_speed,))
    full = torque_at_pressure(engine, breathing, engine.torque_speed, pressure)
    points = tuple(
        (
            n,
            torque_at_pressure(engine, breathing, n, pressure)
            if n >= engine.torque_speed
            else full * (0.55 + 0.45 * n / engine.torque_speed),
        )
        for n in speeds
    )
    notes.assume(
        "torque at the planned boost", points[-1][1], "N m", "from the boost alone", BOOST_ONLY_U * points[-1][1]
    )
    return points, breathing
