"""All that the sheets of oil pressure say: findings, ceilings, gaps, and the rows of required evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Advice, Coverage, Gap
from loadworthy_plugins.oil_system.ceilings import SWEEP, ceilings
from loadworthy_plugins.oil_system.points import ID
from loadworthy_plugins.oil_system.rules_leak import leak_rules
from loadworthy_plugins.oil_system.rules_pattern import pattern_rules
from loadworthy_plugins.oil_system.rules_pressure import pressure_rules
from loadworthy_plugins.oil_system.rules_sender import sender_rules
from loadworthy_plugins.oil_system.sweeps import hold

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Demand, Limits, Result
    from loadworthy_plugins.oil_system.held import Held


def judge_pressure(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    """Judge every sheet of oil pressure."""
    sheets = hold(case, demand, limits)
    for held in sheets:
        yield from pressure_rules(held)
        yield from leak_rules(held)
        yield from pattern_rules(held)
        yield from sender_rules(held)
        yield from ceilings(held, latest=held is sheets[-1])
    yield from _gaps(sheets[-1])
    yield from _coverage(sheets)


def _gaps(held: Held) -> Iterator[Result]:
    """Say what the latest sheet lacks."""
    sweep = held.sweep
    if not held.pump:
        yield Gap(
            ID + "pump_kind",
            "kind of oil pump not known: rules for fixed pumps give no more than watch, and none of another kind",
            section="oil_pressure",
            write='vehicle.oil_pump_kind = "fixed"',
        )
    if sweep.struck and not sweep.points:
        yield Gap(
            ID + "gauge",
            "the sender failed its test: oil pressure is unknown until a mechanical gauge is on",
            section="oil_pressure",
            test=SWEEP,
        )
    for word in sweep.lacks:
        yield Gap(ID + "point." + word.replace(" ", "_"), f"oil pressure at {word}", section="oil_pressure", test=SWEEP)
    if sweep.points and not sweep.hot(held.limits):
        yield Gap(
            ID + "oil_temperature",
            "oil not hot, or its temperature not written beside every point: measure again at 90 to 105 degC",
            section="oil_pressure",
            test=SWEEP,
            write='oil_temp = "98 degC"',
        )
    if sweep.oil is None:
        yield Gap(
            ID + "viscosity",
            "viscosity of the oil in the sump: without it pressure says little about wear",
            section="oil_sample",
            test="oil-sample",
            write='oil_grade_filled = "5W-30"',
        )
    elif not sweep.known:
        yield Advice(
            "viscosity from label or data sheet, or temperature assumed: measured ones, or fresh oil of the right "
            "grade and the sweep again, would decide",
            test="oil-change-and-repeat",
            sheet=held.sheet.id,
        )
    if any(row.get("temp") is None for row in held.case.vehicle.get("oil_pressure_spec") or ()):
        yield Advice(
            "maker's oil pressures without their temperature are taken for 100 degC", test=SWEEP, sheet=held.sheet.id
        )
    if not held.minimum and not held.record:
        yield Gap(
            ID + "reference",
            "maker's oil pressures, or an earlier record of this engine: nothing to compare with",
            section="oil_pressure",
            write='[[vehicle.oil_pressure_spec]] with rpm = "2000 rpm", min = "2.0 bar", temp = "100 degC"',
        )
    if not any(p.flutter is not None for p in sweep.points) and sweep.points:
        yield Advice(
            "write the scatter of the pressure over 5 s (std) beside the points", test=SWEEP, sheet=held.sheet.id
        )
    for point in sweep.unjudged:
        yield Advice(
            f"{point} has no engine speed or no known uncertainty: not judged", test=SWEEP, sheet=held.sheet.id
        )


def _coverage(sheets: tuple[Held, ...]) -> Iterator[Coverage]:
    good = tuple(held.sheet.id for held in sheets if not held.why_not_clear())
    known = tuple(held.sheet.id for held in sheets if not held.why_not_clear() and held.sweep.known)
    last = sheets[-1]
    if good:
        yield Coverage("oil_pressure", "met", "", good)
    else:
        yield Coverage("oil_pressure", "unknown", last.why_not_clear(), (last.sheet.id,))
    if known:
        yield Coverage("oil_viscosity", "met", "", known)
    else:
        why = last.why_not_clear() or "viscosity of the oil in the sump was not measured"
        yield Coverage("oil_viscosity", "unknown", why, (last.sheet.id,))
