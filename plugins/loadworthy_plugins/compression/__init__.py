"""Compression: cranking compression, leak-down, starter current, blow-by and crankcase pressure.

Whether every cylinder seals, whether they are equal enough for one calibration, whether compression ratio and cam
timing are what the plan assumes, and whether the head gasket is already weak. Four-stroke reciprocating engines of 3
to 12 cylinders; one and two cylinders are compared with maker and record alone; rotary and two-stroke are not covered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.sdk import Case, Declaration, Demand, Limits, Result


@hookimpl
def declare() -> Iterable[Declaration]:
    """Declare sheets, facts of the engine, limits, rules, causes, symptoms and workshop tests."""
    from loadworthy_plugins.compression.causes import BROADER, CAUSES
    from loadworthy_plugins.compression.limits import LIMITS
    from loadworthy_plugins.compression.rule_table import RULES
    from loadworthy_plugins.compression.sheet import SECTIONS
    from loadworthy_plugins.compression.symptoms import SYMPTOMS
    from loadworthy_plugins.compression.vehicle import VEHICLE
    from loadworthy_plugins.compression.workshop import TESTS

    return (VEHICLE, *SECTIONS, *LIMITS, *RULES, *CAUSES, *BROADER, *SYMPTOMS, *TESTS)


@hookimpl
def subjects(case: Case) -> Mapping[str, Sequence[str]]:
    """List the cylinders, the banks and the pairs of cylinders that share a wall."""
    from loadworthy_plugins.compression.patterns import neighbours
    from loadworthy_plugins.compression.results import pair_subject
    from loadworthy_plugins.shared_layout import banks, layout_subjects

    found: dict[str, Sequence[str]] = dict(layout_subjects(case.vehicle))
    known = banks(case.vehicle)
    if known:
        found["pair of cylinders"] = tuple(pair_subject(a, b) for a, b in sorted(neighbours(known)))
    return found


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterable[Result]:
    """Judge every sheet of compression, leak-down, starter current and crankcase."""
    from loadworthy_plugins.compression.judging import judge_case

    return judge_case(case, demand, limits)


@hookimpl
def review(case: Case, results: Sequence[Result]) -> Iterable[Result]:
    """Point at contradictions with other checks."""
    from loadworthy_plugins.compression.contradictions import contradictions

    return contradictions(case, results)
