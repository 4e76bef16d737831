"""Everything that this check concludes from a case, in one order that depends on nothing but the case."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Coverage

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Demand, Limits, Result

ROWS = ("oil_pressure", "oil_viscosity")


def judge_case(case: Case, demand: Demand | None, limits: Limits) -> tuple[Result, ...]:
    """Judge every sheet of this check's sections and answer its rows of required evidence."""
    if case.vehicle.get("engine_cycle") not in (None, "four_stroke"):
        why = "this check is for four-stroke engines with pressure lubrication"
        return tuple(Coverage(row, "not_applicable", why) for row in ROWS)
    return tuple(_results(case, demand, limits))


def _results(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    # A section that the case does not use costs nothing.
    if any(True for _ in case.of("oil_pressure")):
        from loadworthy_plugins.oil_system.judging_pressure import judge_pressure

        yield from judge_pressure(case, demand, limits)
    else:
        yield from (Coverage(row, "absent", "no sheet with readings") for row in ROWS)
    if any(True for _ in case.of("oil_sample")):
        from loadworthy_plugins.oil_system.rules_sample import sample_rules
        from loadworthy_plugins.oil_system.rules_viscosity import viscosity_rules
        from loadworthy_plugins.oil_system.rules_wear import wear_rules

        yield from viscosity_rules(case, limits)
        yield from sample_rules(case, limits)
        yield from wear_rules(case, limits)
    if any(True for _ in case.of("oil_look")):
        from loadworthy_plugins.oil_system.rules_look import look_rules

        yield from look_rules(case, limits)
    if any(True for _ in case.of("turbo_oil")):
        from loadworthy_plugins.oil_system.rules_turbo import turbo_rules

        yield from turbo_rules(case, limits)
    if any(True for _ in case.of("oil_heat")):
        from loadworthy_plugins.oil_system.rules_heat import heat_rules

        yield from heat_rules(case, demand, limits)
    from loadworthy_plugins.oil_system.rules_film import film_rules, history_rules

    yield from film_rules(case, demand, limits)
    yield from history_rules(case)
