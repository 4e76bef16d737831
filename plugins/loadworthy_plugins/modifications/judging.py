"""Everything that this check concludes from a case: readings first, then the inventory in view of what they infer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Finding, evolve
from loadworthy_plugins.modifications.entry import ID, inventory_results

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
        changed = changed_kinds(case, read)
    yield from read
    yield from inventory_results(case, demand, limits, changed)


def changed_kinds(case: Case, read: Sequence[Result]) -> dict[str, float]:
    """Return the probability of an undeclared change by kind of part, by what stands of all runs and records."""
    from loadworthy_plugins.modifications.rules_calibration import inferred, recorded_change

    found: dict[str, float] = {}
    for cause, p in inferred(_standing(case, read)).items():
        kind = KIND_OF[cause]
        found[kind] = max(p, found.get(kind, 0.0))
    if recorded_change(case) == 1.0:
        # Who changed it stands in the record: against that no word holds that the software is as made.
        found["software"] = 1.0
    return found


def _standing(case: Case, read: Sequence[Result]) -> Iterator[Finding]:
    """Return per rule what the latest sheet says on which it ran, and what fired before and was not healed since.

    A later run on which a rule could not be tried supersedes nothing (method, section 2).
    """
    order = {sheet.id: i for i, sheet in enumerate(case.of("mixture_run", "calibration"))}
    runs: dict[tuple[str, str | None], list[Finding]] = {}
    for one in read:
        if isinstance(one, Finding) and one.bands and (one.clears or _fired(one)):
            runs.setdefault((one.rule, one.subject), []).append(one)
    for found in runs.values():
        found.sort(key=lambda one: order[one.sheet])
        yield found[-1]
        for i, one in enumerate(found[:-1]):
            if _fired(one) and not _healed(case, one, found[i + 1 :]):
                # Superseded, it clears nothing more.
                yield evolve(one, clears=False)


def _fired(one: Finding) -> bool:
    return any(verdict.p_beyond >= 0.5 for verdict in one.verdicts)


def _healed(case: Case, old: Finding, later: Sequence[Finding]) -> bool:
    """Tell whether a fault is gone: clean on two later days, or clean after a repair of what it speaks for."""
    dates = {sheet.id: sheet.date for sheet in case.of("mixture_run", "calibration")}
    clean = {dates[one.sheet] for one in later if all(verdict.p_beyond < 0.05 for verdict in one.verdicts)}
    clean.discard(dates[old.sheet])
    if len(clean) >= 2 or not clean or not case.repairs:
        return len(clean) >= 2
    from loadworthy_plugins.modifications.causes import BROADER
    from loadworthy_plugins.modifications.rule_table import RULES

    bands = next(rule.bands for rule in RULES if ID + rule.name == old.rule)
    meant = {old.rule, *(cause for ratios in bands.values() for cause, ratio in ratios.items() if ratio > 1.0)}
    meant |= {part for broader in BROADER if broader.id in meant for part in broader.covers}
    return any(
        not repair.unfinished
        and dates[old.sheet] <= repair.date <= max(clean)
        and any(treated.what in meant for treated in repair.treats)
        for repair in case.repairs
    )
