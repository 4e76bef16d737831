"""Rules on oil temperature: as it settles today, and as it would at the planned power."""

from __future__ import annotations

from math import pi, sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import Ceiling, NamedTuple, format_value
from loadworthy.sdk import bands as shares_of
from loadworthy_plugins.oil_system.heat import allowed_power, planned_temperature
from loadworthy_plugins.oil_system.results import ID, finding, verdicts
from loadworthy_plugins.shared_results import bands, number, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Demand, Limits, Result, Sheet

#: A run is steady after this long (s) and below this rise over the last minute (K): judgement.
_HELD, _RISE = 180.0, 1.0
#: Outside air on a hot day where the plan says nothing, K (judgement).
HOT_DAY = 313.15


class Steady(NamedTuple):
    """A steady run: oil, what it gives its heat to then and at the plan (hotter first), power (W); K.

    ``why_not`` says why it is not steady, ``doubted`` why its temperature may not be relied on; empty: it is, it may.
    """

    sheet: Sheet
    oil: float
    u: float
    sinks: tuple[tuple[float, float], ...]
    power: float | None
    why_not: str
    doubted: str = ""


def read_steady(sheet: Sheet, case: Case) -> Steady | None:
    """Work out one sheet; None where the oil temperature or its uncertainty is missing."""
    reading = sheet.reading("oil_temp_sustained")
    if reading is None or reading.u is None:
        return None
    coolant, ambient = number(sheet.get("coolant_temp")), number(sheet.get("ambient_temp"))
    coolant_plan = number(case.plan.get("coolant_temp_plan")) or coolant
    ambient_plan = number(case.plan.get("ambient_temp_plan")) or HOT_DAY
    cooler = case.vehicle.get("oil_cooler") or "unknown"
    sinks = []
    if cooler != "air_oil" and coolant is not None and coolant_plan is not None:
        sinks.append((coolant, coolant_plan))
    if cooler in ("air_oil", "unknown") and ambient is not None:
        sinks.append((ambient, max(ambient, ambient_plan)))
    held, rise = number(sheet.get("held")), number(sheet.get("oil_temp_rate"))
    why = ""
    if rise is None and held is None:
        why = "nobody says that it had settled"
    elif (rise is not None and rise >= _RISE) or (rise is None and (held or 0.0) < _HELD):
        why = "not settled"
    power = number(sheet.get("power_at_oil_temp"))
    return Steady(sheet, reading.value, reading.u, tuple(sinks), power, why, reading.refused)


def heat_rules(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    """Judge every steady run."""
    for sheet in case.of("oil_heat"):
        run = read_steady(sheet, case)
        if run is None:
            yield finding("heat", sheet, unknown="oil temperature or its uncertainty not known")
            continue
        names = ("oil_temp_sustained_watch", "oil_temp_sustained_fix", "oil_temp_sustained_stop")
        found = verdicts(limits, names, run.oil, run.u)
        edges = [limits[ID + name].number for name in names[:2]]
        below, watch, fix = shares_of(run.oil, run.u, edges) if edges[0] < edges[1] else (0.0, 0.0, 1.0)
        unsure = run.why_not or run.doubted
        yield finding(
            "heat",
            sheet,
            verdicts=found,
            text=f"oil settles at {format_value(run.oil, 'temperature')}" + (f" ({unsure})" if unsure else ""),
            bands=bands(below=0.0 if unsure else below, watch=watch, fix=fix),
            clears=not unsure,
            readings=(used(sheet, "oil_temp_sustained", run.oil, run.u, "temperature"),),
        )
        yield from _plan(run, demand, limits)


def planned_power(demand: Demand | None) -> float | None:
    """Return the greatest planned power, W; None without a demand."""
    if demand is None:
        return None
    return max((2.0 * pi * n * t for n, t in zip(demand.speeds, demand.plan, strict=True)), default=None)


def _plan(run: Steady, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    power = planned_power(demand)
    if run.why_not or run.power is None or power is None or not run.sinks:
        lacks = run.why_not or (
            "power held not known" if run.power is None else "no planned power" if power is None else "sink not known"
        )
        yield finding("heat_plan", run.sheet, unknown=lacks)
        return
    if any(run.oil <= sink for sink, _ in run.sinks):
        yield finding("heat_plan", run.sheet, unknown="oil no hotter than what it gives its heat to: not settled")
        return
    both = [planned_temperature(run.oil, now, later, run.power, power) for now, later in run.sinks]
    low, high = max(both, key=lambda pair: (pair[1], pair[0]))
    u = sqrt(run.u**2 + ((high - low) / (2.0 * sqrt(3.0))) ** 2)
    names = ("oil_temp_sustained_watch", "oil_temp_sustained_fix")
    yield finding(
        "heat_plan",
        run.sheet,
        verdicts=verdicts(limits, names, high, u),
        text=f"oil would settle at up to {format_value(high, 'temperature')} at the planned power"
        + (f" ({run.doubted})" if run.doubted else ""),
        clears=not run.doubted,
        readings=(used(run.sheet, "oil_temp_sustained", run.oil, run.u, "temperature"),),
        steps=(
            *step("planned power", power, "W"),
            *step("expected, with exponent 0.6 or 1", low, "temperature", "T_sink + (T_oil - T_sink) (P / P_0)^n"),
            *step("expected, the other end", high, "temperature"),
        ),
    )
    limit = limits[ID + names[0]].number
    allowed = min(allowed_power(run.oil, now, later, run.power, limit) for now, later in run.sinks)
    yield Ceiling(
        "oil_heat",
        "power" if allowed > 0.0 else "torque",
        allowed if allowed > 0.0 else "as_received",
        "oil would get too hot at sustained load",
        until="steady-load-log",
        finding=(ID + "heat_plan", None, run.sheet.id),
        steps=(*step("limit of the oil temperature", limit, "temperature"), *step("power held", run.power, "W")),
    )
