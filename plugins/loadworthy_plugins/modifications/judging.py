"""Everything that this check concludes from a case: readings first, then the inventory in view of what they infer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Finding
from loadworthy_plugins.modifications.entry import inventory_results

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Case, Demand, Limits, Result

#: Undeclared change that rules infer -> the kind of part whose answer it contradicts.
KIND_OF: Final = {
    "pressure-sensor-scaling-changed": "pressure_sensor",
    "signal-converter-fitted": "signal_converter",
    "displacement-data-wrong": "displacement",
    "air-meter-scaling-wrong": "air_meter",
    "air-meter-contaminated-or-housing-changed": "air_meter",
    "intake-kit-fitted": "intake_kit",
    "injector-size-changed": "injector",
    "rail-sensor-scaling-or-converter": "high_pressure_pump",
    "wastegate-spring-or-actuator-changed": "boost_control",
    "turbocharger-changed": "turbocharger",
    "camshaft-changed": "camshaft",
    "tyre-or-final-drive-data-wrong": "gearbox_differential_tyres",
    "gearbox-ratios-changed": "gearbox_differential_tyres",
    "present-calibration-changed": "software",
}


def judge_case(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    """Judge mixture runs, records of the calibration and the inventory."""
    read: tuple[Result, ...] = ()
    changed: dict[str, float] = {}
    if any(True for _ in case.of("mixture_run", "calibration")):
        from loadworthy_plugins.modifications.judging_run import judge_runs

        read = tuple(judge_runs(case, limits))
        changed = _changed(case, read)
    yield from read
    yield from inventory_results(case, demand, limits, changed)


def _changed(case: Case, read: Sequence[Result]) -> dict[str, float]:
    """Return the probability of an undeclared change by kind of part, by the latest run and record alone."""
    from loadworthy_plugins.modifications.rules_calibration import inferred

    latest = {sheet.section: sheet.id for sheet in case.of("mixture_run", "calibration")}
    found: dict[str, float] = {}
    for cause, p in inferred(one for one in read if isinstance(one, Finding) and one.sheet in latest.values()).items():
        kind = KIND_OF[cause]
        found[kind] = max(p, found.get(kind, 0.0))
    return found
