"""The power up to which the margin holds."""

from __future__ import annotations

from itertools import pairwise
from math import inf, pi
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from vehicle import Registers, Sheets

    from loadworthy import Register

OUTCOMES = ("clear", "limited", "incomplete", "hold")


def ceilings(register: Register) -> dict[str, Any]:
    return {view.id: view for view in register.ceilings if view.plugin == "cooling"}


def nothing_improved(before: Register, after: Register) -> bool:
    p = {b.cause: b.p for b in after.beliefs}
    torques = zip(before.allowed.torque, after.allowed.torque, strict=True)
    return (
        OUTCOMES.index(after.outcome) >= OUTCOMES.index(before.outcome)
        and all(b <= a * (1 + 1e-9) for a, b in torques)
        and all(p[b.cause] >= b.p * (1 - 1e-9) for b in before.beliefs)
    )


def test_its_value_is_the_power_that_settles_at_the_limit(register: Registers, sheet: Sheets) -> None:
    view = ceilings(register(sheet(coolant_temperature="96 degC")))["cooling.plan.sustained_power"]
    # 72 K of room over 66 K of rise at 140 kW, by hand; this plan is no richer than today.
    assert view.ceiling.value == pytest.approx(140e3 * 72 / 66)
    assert view.ceiling.quantity == "power"
    assert view.ceiling.until == "cooling-steady-load-run"


def test_torque_under_it_never_needs_more_power(register: Registers, sheet: Sheets) -> None:
    found = register(sheet(coolant_temperature="103 degC"))
    view = ceilings(found)["cooling.plan.sustained_power"]
    cut = [(n, torque) for n, torque in zip(found.demand.speeds, view.torque, strict=True) if torque != inf]
    assert cut
    assert all(2 * pi * n * torque <= view.ceiling.value * (1 + 1e-9) for n, torque in cut)


def test_a_fired_one_allows_no_more_than_today(register: Registers, sheet: Sheets) -> None:
    found = register(sheet(coolant_temperature="96 degC"))
    assert ceilings(found)["cooling.plan.as_received"].ceiling.value == "as_received"
    assert all(t <= base * (1 + 1e-9) for t, base in zip(found.allowed.torque, found.demand.base, strict=True))


def test_a_doubtful_run_takes_nothing_away_that_the_car_does_today(register: Registers, sheet: Sheets) -> None:
    found = register(sheet(coolant_temperature="106 degC", air="rollers_without_fan"))
    assert list(ceilings(found)) == ["cooling.plan.sustained_power"]
    assert all(t >= base * (1 - 1e-9) for t, base in zip(found.allowed.torque, found.demand.base, strict=True))
    assert any(t < plan for t, plan in zip(found.allowed.torque, found.demand.plan, strict=True))


def test_a_clean_run_sets_none(register: Registers, sheet: Sheets) -> None:
    assert ceilings(register(sheet())) == {}


@pytest.mark.parametrize("opening", ["82 degC", "95 degC", None])
def test_a_hotter_run_never_improves_anything(register: Registers, sheet: Sheets, opening: str | None) -> None:
    temperatures = (76, 84, 88, 91, 93, 94.9, 95, 97, 100, 104, 112, 125)
    found = [
        register(sheet(coolant_temperature=f"{t} degC", thermostat_open_temperature=opening)) for t in temperatures
    ]
    assert all(nothing_improved(milder, worse) for milder, worse in pairwise(found))
    assert (found[0].outcome, found[-1].outcome) == ("clear", "hold")


@pytest.mark.parametrize("field", ["steady_time", "air", "road_speed", "thermostat_open_temperature"])
@pytest.mark.parametrize("temperature", ["86 degC", "106 degC"])
def test_an_empty_field_is_never_worth_more_than_a_filled_one(
    register: Registers, sheet: Sheets, field: str, temperature: str
) -> None:
    filled = register(sheet(coolant_temperature=temperature))
    empty = register(sheet(coolant_temperature=temperature, **{field: None}))
    assert nothing_improved(filled, empty)
