"""Cases for the tests of the demand model, built from plain values."""

from __future__ import annotations

from typing import Any

import pytest

from loadworthy.case import Case, Curve, Reading
from loadworthy.findings import Demand
from loadworthy.limits import Limits, ResolvedLimit
from loadworthy_plugins import load_demand
from loadworthy_plugins.load_demand.limits import LIMITS


def q(value: float, u: float | None = None, refused: str = "") -> Reading:
    """Return a reading in SI."""
    return Reading(value, u, refused=refused)


def curve(points: dict[int, float]) -> Curve:
    """Return a torque curve from rpm and N m."""
    return Curve(tuple(n / 60 for n in points), tuple(float(t) for t in points.values()))


BASE = curve({1500: 240, 2000: 300, 4000: 300, 5500: 250})
PLAN = curve({1500: 260, 2000: 360, 4000: 370, 5500: 312.52})

PETROL_TURBO: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "displacement": q(1.998e-3),
    "cylinder_count": 4,
    "valves_per_cylinder": 4,
    "charge_cooler": "air_air",
    "base_torque_measured": BASE,
    "power_basis": "crank_measured",
    "power_correction": "none",
}
DIESEL_TURBO: dict[str, Any] = {
    **PETROL_TURBO,
    "fuel": "diesel_b7",
    "displacement": q(1.968e-3),
    "base_torque_measured": curve({1500: 280, 1900: 340, 4000: 250}),
}
ASPIRATED: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "none",
    "displacement": q(1.598e-3),
    "valves_per_cylinder": 4,
    "cam_phasing": True,
    "base_torque_measured": curve({1500: 125, 4500: 150, 6000: 130}),
    "power_basis": "crank_measured",
    "power_correction": "none",
}
LOG_POINT: dict[str, Any] = {
    "speed": q(4000 / 60),
    "torque": q(300.0),
    "manifold_pressure": q(190e3),
    "charge_temperature": q(318.0),
    "lambda": 0.85,
}


def case(vehicle: dict[str, Any], plan: dict[str, Any], **more: Any) -> Case:
    """Return a case; further vehicle fields by keyword, None takes a field away."""
    fields = {k: v for k, v in {**vehicle, **more}.items() if v is not None}
    return Case(vehicle=fields, plan=plan)


def limits(**changed: float) -> Limits:
    """Return the plugin's limits as the host resolves them, with house values by local name."""
    resolved = {}
    for limit in LIMITS:
        id = f"load_demand.{limit.name}"
        value = changed.get(limit.name, limit.value)
        resolved[id] = ResolvedLimit(id, value, limit.kind, limit.worse, limit.grade, default=limit.value)
    return Limits(resolved)


def demand(vehicle: dict[str, Any], plan: dict[str, Any], **more: Any) -> Demand:
    """Return the demand, which must exist."""
    result = load_demand.demand(case(vehicle, plan, **more))
    assert result is not None
    return result


def at(result: Demand, quantity: str, rpm: float, torque: float | None = None) -> tuple[float, float, float]:
    """Return (low, nominal, high) at a speed of the table and a load step, by default the plan."""
    i = min(range(len(result.speeds)), key=lambda k: abs(result.speeds[k] * 60 - rpm))
    assert result.speeds[i] * 60 == pytest.approx(rpm)
    wanted = result.plan[i] if torque is None else torque
    j = min(range(len(result.torque[i])), key=lambda k: abs(result.torque[i][k] - wanted))
    assert result.torque[i][j] == pytest.approx(wanted)
    band = result.quantities[quantity]
    return band.low[i][j], band.nominal[i][j], band.high[i][j]


def assumed(result: Demand) -> set[str]:
    """Return what was assumed."""
    return {a.what for a in result.assumptions}
