"""Parallel and doubtful meters and compressors, use of the map, and ratings gear by gear."""

from __future__ import annotations

from typing import Any

import pytest
from inventory_cases import PETROL, PLAN, View, answered, case, limits, look, part, sheet

from loadworthy.record import evolve
from loadworthy_plugins.load_demand.table import demand_of
from loadworthy_plugins.modifications.capacity_compressor import _first_crossing, compressor_capacities
from loadworthy_plugins.modifications.inventory import inventory
from loadworthy_plugins.modifications.setting import Setting, agreed_fuel

MAP = {"map_temperature": "25 degC", "map_pressure": "100 kPa"}


def meter(full_scale: str | None, position: str | None = None, answer: str = "standard") -> dict[str, Any]:
    return part("air_meter", answer, **_given(full_scale=full_scale, position=position))


def turbo(choke: str | None, position: str | None = None) -> dict[str, Any]:
    return part("turbocharger", **_given(choke_flow=choke, position=position), **MAP)


def _given(**fields: Any) -> dict[str, Any]:
    return {key: value for key, value in fields.items() if value is not None}


def test_one_meter_or_turbocharger_is_not_counted_twice() -> None:
    # Said of all of them, and once more with a place: one part.
    one, twice = (
        look(answered(*parts)) for parts in ([meter("180 g/s")], [meter("180 g/s"), meter("180 g/s", "pipe")])
    )
    named = look(answered(meter("180 g/s", "pipe"), meter(None, None, "modified")))
    assert one.grade("meter_use") == twice.grade("meter_use") == named.grade("meter_use") == "watch"
    assert twice.used("meter_use") == pytest.approx(one.used("meter_use"))
    single, both = (look(answered(*parts)) for parts in ([turbo("190 g/s")], [turbo("190 g/s"), turbo("190 g/s", "a")]))
    assert both.step("compressor_flow", "largest air flow") == single.step("compressor_flow", "largest air flow")


def test_stages_in_series_add_no_flow() -> None:
    stages = answered(turbo("250 g/s", "low pressure"), turbo("190 g/s", "high pressure"))
    side_by_side, in_series = (look(stages, vehicle={**PETROL, "induction": kind}) for kind in ("turbo", "twin"))
    label = ("compressor_flow", "largest air flow")
    assert in_series.step(*label) == pytest.approx(0.5 * side_by_side.step(*label))


@pytest.mark.parametrize("other", [meter(None, "bank 2"), meter("130 g/s", "bank 2", "unknown")])
def test_a_known_meter_counts_though_another_is_unknown_and_clears_nothing(other: dict[str, Any]) -> None:
    small = look(answered(meter("80 g/s", "bank 1"), other))
    assert small.grade("meter_use") == "watch"
    assert small.ceilings()["meter_use"].value.values[0] == pytest.approx(0.9 * 0.16)
    large = look(answered(meter("300 g/s", "bank 1"), other))
    assert large.grade("meter_use") == "unknown"


def test_a_known_turbocharger_counts_though_another_has_no_map() -> None:
    small = look(answered(turbo("60 g/s", "bank 1"), turbo(None, "bank 2")))
    assert small.grade("compressor_flow") == "watch"
    assert "compressor_flow" in small.ceilings()
    assert look(answered(turbo("300 g/s", "bank 1"), turbo(None, "bank 2"))).grade("compressor_flow") == "unknown"


def test_a_word_of_another_turbocharger_clears_nothing() -> None:
    quarrel = (sheet(turbo("300 g/s"), id="a"), sheet(turbo("340 g/s"), id="b"))
    assert look(*quarrel).grade("compressor_flow") == "unknown"


# Place and fuel of the plan ------------------------------------------------------------------------------------------


def test_the_compressor_is_compared_at_the_highest_place_and_hottest_day_of_use() -> None:
    def most(**plan: str) -> tuple[float, bool]:
        found = look(answered(turbo("250 g/s")), plan={"torque": PLAN, **plan})
        return found.step("compressor_flow", "largest air flow"), "use_altitude" in found.gaps()

    unstated, gap = most()
    assert gap
    assert most(use_altitude_max="0 m") == (pytest.approx(unstated), False)
    # 84.6 kPa at 1 500 m, less 3 kPa of inlet loss, over 98.3 kPa.
    assert most(use_altitude_max="1500 m")[0] == pytest.approx(unstated * 81.56 / 98.325, rel=1e-3)


def test_the_agreed_fuel_is_that_of_its_name_unless_a_share_is_agreed_on() -> None:
    def factor(plan: str | None = None, **vehicle: Any) -> float:
        agreed = {"ethanol_max": plan} if plan is not None else {}
        return agreed_fuel(case(vehicle={**PETROL, **vehicle}, plan={"torque": PLAN, **agreed})).factor

    assert factor() == factor("10 %") == factor("0 %") == 1.0
    # The tank of the log held 5 %; its name permits ten.
    lean = factor(ethanol_fraction=0.05)
    assert lean == pytest.approx(factor("10 %", ethanol_fraction=0.05))
    assert lean > factor("5 %", ethanol_fraction=0.05) == 1.0


# Surge line, shaft, gears --------------------------------------------------------------------------------------------


def _surging(*flows: str, **more: Any) -> Any:
    points = [{"pressure_ratio": ratio, "flow": flow} for ratio, flow in zip((1.5, 4.0), flows, strict=True)]
    return look(answered({**turbo("400 g/s"), "surge_points": points, **more}))


def test_the_plan_keeps_its_distance_from_the_surge_line() -> None:
    far, near = _surging("1 g/s", "10 g/s"), _surging("40 g/s", "200 g/s")
    assert far.grade("compressor_surge") == "clean"
    assert near.grade("compressor_surge") == "watch"
    ceiling = near.ceilings()["compressor_surge"]
    assert ceiling.quantity == "manifold_pressure"
    assert near.demand is not None
    top = [row[-1] for row in near.demand.quantities["manifold_pressure"].high]
    # Low speeds surge first; at high ones there is flow enough.
    assert ceiling.value.values[0] < top[0]
    assert ceiling.value.values[-1] == top[-1]
    assert far.ceilings()["compressor_surge"].value.values == tuple(top)


def test_at_the_surge_ceiling_flow_is_a_tenth_above_the_line() -> None:

    assert _first_crossing((100.0, 200.0, 300.0), (1.5, 1.2, 1.0), 1.1) == pytest.approx(250.0)
    assert _first_crossing((100.0, 200.0), (1.0, 1.2), 1.1) == 0.0
    assert _first_crossing((100.0, 200.0), (1.5, 1.2), 1.1) == 200.0


def test_above_the_published_surge_line_nothing_is_known() -> None:
    points = [{"pressure_ratio": 1.2, "flow": "1 g/s"}]
    assert look(answered({**turbo("400 g/s"), "surge_points": points})).grade("compressor_surge") == "watch"


def test_the_shaft_may_take_95_per_cent_of_its_limit() -> None:

    shaft = {**turbo("400 g/s"), "shaft_speed_limit": "200000 rpm", "shaft_speed_demonstrated": "160000 rpm"}
    assert "shaft_speed@turbocharger" in look(answered(shaft)).gaps()
    made = case(answered(shaft))
    demand = demand_of(made)
    assert demand is not None
    flat = tuple(tuple(1.15 for _ in row) for row in demand.torque)
    ratio = demand.quantities["air_flow"]._replace(low=flat, nominal=flat, high=flat)
    known = evolve(demand, quantities={**demand.quantities, "compressor_speed": ratio})
    s = Setting(made, known, limits(), inventory(made), agreed_fuel(made))
    found = View(made, known, tuple(compressor_capacities(s)))
    # 1.15 x 160 000 of 200 000 is 0.92; the ceiling is 0.95 x 200/160.
    assert found.used("shaft_speed") == pytest.approx(0.92)
    assert found.ceilings()["shaft_speed"].value.values[0] == pytest.approx(1.1875)
    assert "shaft_speed@turbocharger" not in found.gaps()


def test_the_weakest_gear_holds_the_plan() -> None:
    def gearbox(*torques: str, **more: Any) -> Any:
        gears = [{"gear": n, "torque": t} for n, t in enumerate(torques, 1)]
        return look(answered(part("gearbox_differential_tyres", **more, gear_ratings=gears)))

    strong, weak = gearbox("500 N m", "450 N m"), gearbox("500 N m", "300 N m", torque_rating="480 N m")
    assert strong.grade("rating_use") == "clean"
    assert "unrated" not in strong.ceilings()
    assert weak.grade("rating_use") == "watch"
    assert weak.ceilings()["rating_use"].value == pytest.approx(300.0)
    assert "gear 1 500, gear 2 300" in weak.finding("rating_use").text
    # As a peak the documented tenth is on the weakest gear.
    papers = gearbox("500 N m", "300 N m", torque_peak_rating="600 N m", documents=["data_sheet"])
    assert papers.ceilings()["rating_use"].value == pytest.approx(330.0)
