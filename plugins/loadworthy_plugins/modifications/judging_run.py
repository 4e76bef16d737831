"""All that mixture runs and records of the calibration say, in the order in which one false constant fires the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Finding
from loadworthy_plugins.modifications.rules_calibration import calibration_rules, inference

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Limits, Result


def judge_runs(case: Case, limits: Limits) -> Iterator[Result]:
    """Judge every mixture run and every record of the calibration; runs of four-stroke engines alone."""
    yield from calibration_rules(case)
    if case.vehicle.get("engine_cycle") not in (None, "four_stroke"):
        return
    sheets = tuple(case.of("mixture_run"))
    if not sheets:
        return
    from loadworthy_plugins.modifications.rules_boost_gear import boost_gear_rules
    from loadworthy_plugins.modifications.rules_key_on import key_on_rules, scaled
    from loadworthy_plugins.modifications.rules_mixture import mixture_rules
    from loadworthy_plugins.modifications.run import Run, ambient_of

    for sheet in sheets:
        run = Run(sheet, case, limits, ambient_of(sheet))
        run = run._replace(scaled=scaled(run))
        found = [*key_on_rules(run), *boost_gear_rules(run), *mixture_rules(run)]
        found += inference(sheet, found, limits)
        # What to do next is said of the latest run alone; findings of older ones are history that the core weighs.
        yield from (one for one in found if sheet is sheets[-1] or isinstance(one, Finding))
