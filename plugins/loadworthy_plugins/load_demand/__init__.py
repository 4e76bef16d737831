"""Load demand: what the plan asks of the engine in torque, air, fuel, boost and heat, over speed and load.

The only bundled supplier of demand; the other checks compare their capacities with it. Four-stroke reciprocating
engines on petrol, diesel, gas and alcohol, with or without charging. Two-stroke and rotary engines are not covered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import Case, Declaration, Demand, Limits, Result


@hookimpl
def declare() -> Iterable[Declaration]:
    """Declare the fields of vehicle and plan, the limits, the rules and the demanded quantities."""
    from loadworthy_plugins.load_demand.fields import PLAN, VEHICLE
    from loadworthy_plugins.load_demand.limits import LIMITS, RULES
    from loadworthy_plugins.load_demand.quantities import QUANTITIES

    return (VEHICLE, PLAN, *LIMITS, *RULES, *QUANTITIES)


@hookimpl
def demand(case: Case) -> Demand | None:
    """Turn the plan into demanded quantities; None where the case does not say enough."""
    from loadworthy_plugins.load_demand.table import demand_of

    return demand_of(case)


@hookimpl
def examine(case: Case, limits: Limits) -> Iterable[Result]:
    """Judge whether the plan can be believed, and say what the case lacks for it."""
    from loadworthy_plugins.load_demand.rules import examine_plan

    return tuple(examine_plan(case, limits))
