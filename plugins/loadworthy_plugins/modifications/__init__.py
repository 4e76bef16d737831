"""Modifications: inventory of parts, what they can carry, which readings they falsify, and what nobody declared.

What on this vehicle is not as made and whether the calibration knows it; which part sets the lowest ceiling for the
plan; which readings of other checks may not be taken at face value; and whether readings speak for a part or a figure
that was never declared. Four-stroke petrol and diesel cars. Emission control that is absent stops every road plan: the
check never counts a gain from it and says only "restore".
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import Case, Declaration, Demand, Distortion, Limits, Result


@hookimpl
def declare() -> Iterable[Declaration]:
    """Declare sheets, facts of the vehicle, limits, rules, causes, symptoms and workshop tests."""
    from loadworthy_plugins.modifications.causes import BROADER, CAUSES
    from loadworthy_plugins.modifications.limits import INVENTORY_LIMITS, INVENTORY_RULES
    from loadworthy_plugins.modifications.limits_run import LIMITS
    from loadworthy_plugins.modifications.rule_table import GROUPS, RULES
    from loadworthy_plugins.modifications.sheet import SECTIONS
    from loadworthy_plugins.modifications.sheet_run import MIXTURE_RUN
    from loadworthy_plugins.modifications.symptoms import SYMPTOMS
    from loadworthy_plugins.modifications.vehicle import PLAN, VEHICLE
    from loadworthy_plugins.modifications.workshop import TESTS

    return (
        *(VEHICLE, PLAN, *SECTIONS, MIXTURE_RUN),
        *(*INVENTORY_LIMITS, *LIMITS),
        *(*GROUPS, *INVENTORY_RULES, *RULES),
        *(*CAUSES, *BROADER, *SYMPTOMS, *TESTS),
    )


@hookimpl
def distort(case: Case) -> Iterable[Distortion]:
    """Name the readings that parts falsify which the calibration is not proven to know."""
    from loadworthy_plugins.modifications.falsified import distortions

    return distortions(case)


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterable[Result]:
    """Judge mixture runs, records of the calibration and the inventory of parts."""
    from loadworthy_plugins.modifications.judging import judge_case

    return judge_case(case, demand, limits)
