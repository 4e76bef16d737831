"""Everything that this check concludes from a case, in one order that depends on nothing but the case."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy_plugins.fault_memory.memory import read_memory
from loadworthy_plugins.fault_memory.rules_codes import Reading, code_rules
from loadworthy_plugins.fault_memory.rules_reading import coverage, reading_rules

if TYPE_CHECKING:
    from loadworthy.sdk import Case, Demand, Limits, Result


def judge_case(case: Case, demand: Demand | None, limits: Limits) -> tuple[Result, ...]:
    """Judge every reading of the fault memory and answer the row of required evidence."""
    readings = [Reading(case, read_memory(case, sheet, limits), limits) for sheet in case.of("fault_memory")]
    return (
        *coverage(case, limits, readings),
        *code_rules(case, demand, limits, readings),
        *reading_rules(case, limits, readings),
    )
