"""The oil film at the planned load, and what brings fuel into the oil by the way that a vehicle is used."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Ceiling, Gap
from loadworthy_plugins.oil_system.film_load import shear_of
from loadworthy_plugins.oil_system.results import ID, at_speed, finding, verdicts
from loadworthy_plugins.shared_fields import DIESEL_FUELS
from loadworthy_plugins.shared_results import seen, step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Demand, Finding, Limits, Result

CHANGE = "oil-change-and-repeat"


def film_rules(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    """Judge the film at every planned point; the worst is mostly low speed at peak torque."""
    if demand is None:
        return
    band = demand.quantities.get("film_load")
    if band is None:
        yield Gap(
            ID + "film_unknown",
            "oil film at the planned load: needs the standard torque and the oil's grade",
            section="oil_sample",
            test="oil-sample",
            write='vehicle.oil_grade_spec = "5W-30"',
        )
        return
    found = []
    for i, plan in enumerate(demand.plan):
        if plan <= 0.0 or plan not in demand.torque[i]:
            continue
        j = demand.torque[i].index(plan)
        load = band.nominal[i][j]
        ratio = 1.0 / load
        found.append((ratio, demand.speeds[i], ratio * (band.high[i][j] - band.low[i][j]) / (4.0 * load)))
    if not found:
        return
    ratio, speed, u = min(found)
    shear = shear_of(case)
    names = ("film_ratio_min_watch", "film_ratio_min_fix")
    yield finding(
        "film",
        None,
        verdicts=verdicts(limits, names, ratio, u),
        text=f"oil film at the plan is {ratio:.2f} of the least of the standard engine, {at_speed(speed)}",
        # What nobody knows of the oil is taken as right: that may clear nothing.
        clears=shear is not None and not shear.words,
        steps=(
            *step("film index over the reference", ratio, "1", "mu_hs N / T over the least of the standard engine"),
            *step("engine speed", speed, "rev/s"),
        ),
    )
    limit = limits[ID + names[0]].number
    yield Ceiling(
        "film",
        "film_load",
        1.0 / limit,
        "oil film too thin at low speed and high torque: the top end is free",
        until=CHANGE,
        finding=(ID + "film", None, ""),
        steps=step("least film index", limit, "1"),
    )


def history_rules(case: Case) -> Iterator[Finding]:
    """Cold short trips with direct injection, and interrupted regenerations, bring fuel into the oil."""
    vehicle = case.vehicle
    diesel = vehicle.get("fuel") in DIESEL_FUELS
    direct = not diesel and vehicle.get("fuel_system") == "direct" and vehicle.get("short_trips") is True
    burns = diesel and vehicle.get("interrupted_regenerations") is True
    if direct or burns:
        yield finding(
            "dilution_history",
            None,
            verdicts=seen(True, "note"),
            text="direct injection on short trips" if direct else "regenerations often interrupted",
            bands={"so": 1.0},
        )
