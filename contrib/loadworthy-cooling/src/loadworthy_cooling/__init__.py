"""Cooling: whether coolant stays below its limit, and below boiling, at the planned heat on a hot day.

From one steady run under load the rise of the coolant over the ambient air is carried to the heat of the plan. Liquid
cooled engines with a thermostat; air-cooled ones are not covered. Short bursts are not covered either: the forecast is
the temperature at which a sustained load would settle.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import Case, Declaration, Demand, Limits, Result


@hookimpl
def declare() -> Iterable[Declaration]:
    """Declare the sheet, its limits, rules, causes, the symptom and the workshop tests."""
    from loadworthy_cooling.causes import CAUSES, SYMPTOMS
    from loadworthy_cooling.limits import LIMITS
    from loadworthy_cooling.rule_table import RULES
    from loadworthy_cooling.sheet import COOLING
    from loadworthy_cooling.workshop import TESTS

    return (COOLING, *LIMITS, *RULES, *CAUSES, *SYMPTOMS, *TESTS)


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterable[Result]:
    """Judge every ``[[cooling]]`` sheet; without one, say what the case lacks."""
    if not any(case.of("cooling")):
        from loadworthy_cooling.workshop import NOT_SHOWN

        return (NOT_SHOWN,)
    # The rules are imported only by a case that has such a sheet: every start of the program would pay for them.
    from loadworthy_cooling.rules import judge

    return tuple(judge(case, demand, limits))
