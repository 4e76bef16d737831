"""Fault memory: trouble codes, readiness, freeze frames and on-board test results of one recorded reading.

Which faults the vehicle has found in itself and how sure they are, whether an empty memory is a sound car or a wiped
one, at what load a fault occurred, and whether the vehicle still reports at all. The check reads what was recorded; it
never talks to a vehicle and never erases anything. Road vehicles with on-board diagnosis, petrol and diesel.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.sdk import Case, Declaration, Demand, Limits, Result


@hookimpl
def declare() -> Iterable[Declaration]:
    """Declare the sheet, facts of the vehicle, limits, rules, causes and workshop tests."""
    from loadworthy_plugins.fault_memory.causes import BROADER, CAUSES
    from loadworthy_plugins.fault_memory.causes_sensing import SENSING
    from loadworthy_plugins.fault_memory.limits import LIMITS
    from loadworthy_plugins.fault_memory.rule_table import GROUPS, RULES
    from loadworthy_plugins.fault_memory.sheet import FAULT_MEMORY
    from loadworthy_plugins.fault_memory.vehicle import VEHICLE
    from loadworthy_plugins.fault_memory.workshop import TESTS

    return (VEHICLE, FAULT_MEMORY, *LIMITS, *GROUPS, *RULES, *CAUSES, *SENSING, *BROADER, *TESTS)


@hookimpl
def subjects(case: Case) -> Mapping[str, Sequence[str]]:
    """List the cylinders and banks that codes can name."""
    from loadworthy_plugins.shared_layout import layout_subjects

    return layout_subjects(case.vehicle)


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterable[Result]:
    """Judge every reading of the fault memory."""
    if not any(True for _ in case.of("fault_memory")):
        from loadworthy_plugins.fault_memory.unread import unread

        return unread(case)
    from loadworthy_plugins.fault_memory.judging import judge_case

    return judge_case(case, demand, limits)
