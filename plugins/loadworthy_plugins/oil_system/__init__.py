"""Oil system: oil pressure over speed and viscosity, used oil, level, turbocharger feed and drain, temperature, film.

Whether the bearings get enough oil at every speed that the calibration allows, whether a low figure is real or the oil
only hot, thin or diluted, what is failing, and how much film is left at the planned load. Pressure-lubricated
four-stroke engines, petrol and diesel, with fixed, two-stage and variable pumps. Every oil pressure is gauge.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import Case, Declaration, Demand, Limits, Result


@hookimpl
def declare() -> Iterable[Declaration]:
    """Declare sheets, facts of the engine, limits, rules, causes, symptoms, tests and the film load."""
    from loadworthy_plugins.oil_system.causes import BROADER, CAUSES
    from loadworthy_plugins.oil_system.limits import LIMITS
    from loadworthy_plugins.oil_system.limits_sample import SAMPLE_LIMITS
    from loadworthy_plugins.oil_system.quantities import QUANTITIES
    from loadworthy_plugins.oil_system.rule_table import GROUPS, RULES
    from loadworthy_plugins.oil_system.sheet import OIL_PRESSURE
    from loadworthy_plugins.oil_system.sheet_look import OIL_HEAT, OIL_LOOK, TURBO_OIL
    from loadworthy_plugins.oil_system.sheet_sample import OIL_SAMPLE
    from loadworthy_plugins.oil_system.symptoms import SYMPTOMS
    from loadworthy_plugins.oil_system.vehicle import PLAN, VEHICLE
    from loadworthy_plugins.oil_system.workshop import TESTS

    sections = (OIL_PRESSURE, OIL_SAMPLE, OIL_LOOK, TURBO_OIL, OIL_HEAT)
    limits = (*LIMITS, *SAMPLE_LIMITS)
    return (
        *(VEHICLE, PLAN),
        *sections,
        *limits,
        *GROUPS,
        *RULES,
        *CAUSES,
        *BROADER,
        *SYMPTOMS,
        *TESTS,
        *QUANTITIES,
    )


@hookimpl
def extend_demand(case: Case, demand: Demand) -> Demand | None:
    """Add what the plan asks of the oil film."""
    from loadworthy_plugins.oil_system.film_load import extended

    return extended(case, demand)


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterable[Result]:
    """Judge every sheet of oil pressure, oil samples, looks, turbocharger oil and oil temperature."""
    from loadworthy_plugins.oil_system.judging import judge_case

    return judge_case(case, demand, limits)
