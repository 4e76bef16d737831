"""The table of demand over speed and load, for the hook ``demand``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Band, Demand
from loadworthy_plugins.load_demand.model import build

if TYPE_CHECKING:
    from loadworthy.sdk import Case
    from loadworthy_plugins.load_demand.model import Model
    from loadworthy_plugins.load_demand.point import Demanded
    from loadworthy_plugins.load_demand.uncertainty import Range

#: Load steps as shares of the planned torque; the plan itself is one of them.
SHARES = (0.4, 0.6, 0.8, 0.9, 1.0, 1.1, 1.2)
#: Taken instead of the step that falls on today's torque, so that every speed has as many steps.
SPARE_SHARE = 0.7

#: Quantity id -> attribute of a demanded point.
_ATTRIBUTES = (
    ("torque", "torque"),
    ("power", "power"),
    ("manifold_pressure", "manifold_pressure"),
    ("air_flow", "air_flow"),
    ("fuel_flow", "fuel_flow"),
    ("exhaust_flow", "exhaust_flow"),
    ("charge_temperature", "charge_temperature"),
    ("compressor_outlet_temperature", "outlet_temperature"),
    ("compressor_pressure_ratio", "pressure_ratio"),
    ("compressor_speed", "tip_speed"),
    ("mean_pressure", "mean_pressure"),
    ("heat_load", "heat"),
)


def load_steps(plan: float, base: float | None) -> tuple[float, ...]:
    """Torques from 0.4 to 1.2 of plan, rising, holding plan and base themselves.

    >>> [round(t) for t in load_steps(100.0, 80.0)], len(load_steps(100.0, 77.0)), len(load_steps(100.0, None))
    ([40, 60, 70, 80, 90, 100, 110, 120], 8, 7)
    """
    steps = {share * plan for share in SHARES}
    steps.add(plan)
    if base is not None:
        steps.add(base)
        if len(steps) == len(SHARES):
            steps.add(SPARE_SHARE * plan)
    return tuple(sorted(steps))


def demand_of(case: Case) -> Demand | None:
    """Demand of the plan, or None where the case does not say enough (the rules then say what lacks)."""
    built = build(case)
    model = built.model
    if model is None:
        return None
    torques = tuple(load_steps(t, None if model.base is None else model.base[i]) for i, t in enumerate(model.plan))
    points = tuple([model.row(i, row) for i, row in enumerate(torques)])
    quantities = {"engine_speed": _speeds(model, torques)}
    for id, attribute in _ATTRIBUTES:
        band = _band(points, attribute)
        if band is not None:
            quantities[id] = band
    standard = case.vehicle.get("standard_torque")
    return Demand(
        speeds=model.speeds,
        torque=torques,
        plan=model.plan,
        base=model.base,
        standard=None if standard is None else tuple(standard.at(n, 0.0) for n in model.speeds),
        quantities=quantities,
        base_source=model.base_source,
        basis=model.basis,
        assumptions=built.assumptions,
    )


def _speeds(model: Model, torques: tuple[tuple[float, ...], ...]) -> Band:
    rows = tuple((n,) * len(row) for n, row in zip(model.speeds, torques, strict=True))
    return Band(rows, rows, rows)


def _band(points: tuple[tuple[Demanded, ...], ...], attribute: str) -> Band | None:
    rows: list[list[Range]] = [[getattr(p, attribute) for p in row] for row in points]
    if any(r is None for row in rows for r in row):
        return None
    return Band(
        tuple(tuple(r.low for r in row) for row in rows),
        tuple(tuple(r.nominal for r in row) for row in rows),
        tuple(tuple(r.high for r in row) for row in rows),
    )
