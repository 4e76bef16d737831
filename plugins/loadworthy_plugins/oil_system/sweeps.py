"""All sheets of oil pressure of a case, each with what it is held to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy_plugins.oil_system.held import Held
from loadworthy_plugins.oil_system.points import ID, Sweep, read_sweep
from loadworthy_plugins.oil_system.reference import Figure, maker_figures, orifice_share, record_figures
from loadworthy_plugins.oil_system.results import most
from loadworthy_plugins.oil_system.rules_leak import worst_ratio
from loadworthy_plugins.oil_system.rules_pressure import pressure_findings
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from loadworthy.sdk import Case, Demand, Limits, Sheet

#: Repairs after which an older record is another engine's.
_REBUILT = ("crankshaft-bearing-clearance", "oil-pump-wear", "oil-pump-or-bearing-wear")


def hold(case: Case, demand: Demand | None, limits: Limits) -> tuple[Held, ...]:
    """Work out every sheet of oil pressure, in order of date."""
    vehicle = case.vehicle
    planned = number(case.plan.get("engine_speed_limit"))
    top = planned or (demand.speeds[-1] if demand is not None else None)
    minimum, maximum = maker_figures(vehicle, "min"), maker_figures(vehicle, "max")
    written = record_figures(vehicle)
    pump = str(vehicle.get("oil_pump_kind") or "")
    out: list[Held] = []
    sound: list[Held] = []
    for sheet in case.of("oil_pressure"):
        record = (*written, *(f for one in sound if _same_engine(one, sheet) for f in _figures(one.sweep)))
        held = Held(
            read_sweep(sheet, case, limits, top),
            case,
            limits,
            minimum,
            maximum,
            tuple(sorted(record, key=lambda f: (f.speed, f.pressure, f.mu or 0.0))),
            orifice_share(vehicle),
            "" if pump == "unknown" else pump,
            top,
        )
        out.append(held)
        if held.sweep.known and not held.why_not_clear() and not _low_against_anything(held):
            sound.append(held)
    return tuple(out)


def _figures(sweep: Sweep) -> tuple[Figure, ...]:
    return tuple(
        Figure(p.speed, p.pressure, p.mu, p.temperature, p.stage, "record")
        for p in sweep.points
        if p.mu is not None and p.temperature is not None
    )


def _same_engine(one: Held, later: Sheet) -> bool:
    """Tell whether a sheet is an earlier record of the same engine: nothing was renewed in between."""
    if not one.sheet.date < later.date:
        return False
    renewed = (r for r in one.case.repairs if any(t.what in _REBUILT for t in r.treats))
    return not any(one.sheet.date <= r.date <= later.date for r in renewed)


def _low_against_anything(one: Held) -> bool:
    """Tell whether any point lies below what the maker, the trade or the record asks for."""
    if any(most(f.verdicts) >= 0.5 for f in pressure_findings(one)):
        return True
    ratio = worst_ratio(one)
    least = one.limits[ID + "leak_index_ratio_low_watch"].number
    return ratio is not None and ratio.value < least
