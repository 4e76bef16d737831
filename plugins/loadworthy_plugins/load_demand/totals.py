"""What the plan takes at its greatest power, beyond the quantities of the demand table: shown, never judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Finding, Step, Verdict, format_value
from loadworthy_plugins.load_demand.uncertainty import Range, gauge_u

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy_plugins.load_demand.model import Model
    from loadworthy_plugins.load_demand.point import Demanded

_RATIOS = (
    ("torque", "torque"),
    ("air flow", "air_flow"),
    ("fuel flow", "fuel_flow"),
    ("manifold pressure", "manifold_pressure"),
    ("heat released", "heat"),
)


def fuel_volume_flow(fuel: Range, density: float | None) -> Range | None:
    """Volume of liquid fuel per second, m3/s, from its mass flow (kg/s) and density at 15 degC; None for a gas.

    >>> flow = fuel_volume_flow(Range(0.0150, 0.0168, 0.0180), 750.0)
    >>> round(flow.nominal * 3.6e6, 1) if flow else None
    80.6
    """
    return None if density is None else Range(*(flow / density for flow in fuel))


def totals(model: Model, points: tuple[Demanded, ...]) -> Finding:
    """Volume flow of the fuel, boost above ambient, compressor power, corrected flow, and ratios to today."""
    i = max(range(len(points)), key=lambda k: points[k].power.nominal)
    point, speed = points[i], model.speeds[i]
    return Finding(
        "load_demand.totals",
        verdicts=(Verdict("note", 0.0),),
        text=f"greatest planned power {format_value(point.power.nominal, 'power')} at {60.0 * speed:.0f} rpm",
        steps=tuple(_steps(model, point, None if model.base is None else (i, model.base[i]))),
    )


def _steps(model: Model, point: Demanded, today: tuple[int, float] | None) -> Iterator[Step]:
    yield from _range("power", point.power, "W")
    yield from _range("air flow", point.air_flow, "kg/s")
    yield from _range("fuel flow", point.fuel_flow, "kg/s")
    volume = fuel_volume_flow(point.fuel_flow, model.engine.fuel_density)
    if volume is not None:
        yield from _range("fuel volume flow", volume, "m3/s", "m_f / density at 15 degC")
    yield from _range("exhaust flow", point.exhaust_flow, "kg/s", "m_a + m_f")
    if model.engine.charged:
        yield from _boost(point.manifold_pressure, model.breathing.ambient_pressure, point.pressure_u)
    if point.compressor_power is not None:
        yield from _range("compressor power", point.compressor_power, "W", "m_a c_p (T2 - T1)")
    if point.corrected_flow is not None:
        warmth = format_value(model.breathing.map_temperature, "temperature", digits=4)
        at = f"{warmth}, {format_value(model.breathing.map_pressure, 'pressure_abs', digits=5)}"
        yield from _range("corrected compressor flow", point.corrected_flow, "kg/s", f"at {at}")
    if today is None or today[1] <= 0.0:
        return
    base = model.at(*today)
    for label, name in _RATIOS:
        ours, theirs = getattr(point, name).nominal, getattr(base, name).nominal
        if theirs > 0.0:
            yield Step(f"{label}, plan over today", ours / theirs, "1")


def _boost(pressure: Range, ambient: float, relative: float) -> Iterator[Step]:
    """Yield boost above ambient; its relative uncertainty is that of the absolute pressure times p/(p - p_a)."""
    boost = pressure.nominal - ambient
    yield Step("boost above ambient", boost, "Pa gauge", "p_m - p_a")
    if boost > 0.0:
        u = gauge_u(relative, pressure.nominal, ambient) * boost
        yield Step("its standard uncertainty", u, "Pa", "u(p_m) p_m / (p_m - p_a)")


def _range(label: str, found: Range, unit: str, formula: str = "") -> Iterator[Step]:
    yield Step(label, found.nominal, unit, formula)
    yield Step(f"{label}, low", found.low, unit, "2 standard uncertainties below")
    yield Step(f"{label}, high", found.high, unit, "2 standard uncertainties above")
