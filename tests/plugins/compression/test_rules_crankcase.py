"""Blow-by and crankcase pressure."""

from __future__ import annotations

from typing import Any

import pytest
from compression_cases import PETROL, belief, dry, look, ratio, register

SPEC = {**PETROL, "compression_spec_min": "9 bar"}


FLOW_SPEC = {"flow": "60 L/min", "pressure": "1.37 kPa", "speed": "3000 rpm", "load": "full", "restrictor": "r5"}


def crankcase(flow: str | None = None, pressure: str | None = None, *, day: int = 0, **more: Any) -> dict[str, Any]:
    values = {
        "date": dry([], day=day)["date"],
        "blowby_flow": flow,
        "crankcase_pressure": pressure,
        "blowby_engine_speed": "3000 rpm",
        "blowby_load": "full",
        "breather_restriction": "r5",
        **more,
    }
    return {key: value for key, value in values.items() if value is not None}


def test_blow_by_against_the_maker() -> None:
    vehicle = {**SPEC, "blowby_spec": FLOW_SPEC}
    assert look(vehicle, crankcase=[crankcase("40 L/min")]).grade("blowby") == "clean"
    high = look(vehicle, crankcase=[crankcase("90 L/min")])
    assert high.grade("blowby") == "fix_first"
    assert ("crankcase-pressure-high", None) in high.symptoms()
    made = register(vehicle, crankcase=[crankcase("90 L/min")])
    assert ratio(made, "ring-seal", "cylinder 2", "blowby") == pytest.approx(4.0, rel=0.01)


@pytest.mark.parametrize(
    "change", [{"blowby_engine_speed": "4500 rpm"}, {"blowby_load": "idle"}, {"blowby_load": None}]
)
def test_other_conditions_are_not_compared(change: dict[str, Any]) -> None:
    vehicle = {**SPEC, "blowby_spec": FLOW_SPEC}
    assert look(vehicle, crankcase=[crankcase("90 L/min", **change)]).grade("blowby") == "unknown"


def test_blow_by_against_own_record() -> None:
    first = crankcase("30 L/min")
    assert look(SPEC, crankcase=[first]).grade("blowby") == "unknown"
    assert look(SPEC, crankcase=[first, crankcase("40 L/min", day=60)]).grade("blowby") == "clean"
    assert look(SPEC, crankcase=[first, crankcase("55 L/min", day=60)]).grade("blowby") == "fix_first"


def test_pressure_with_normal_flow_is_the_breather() -> None:
    vehicle = {**SPEC, "blowby_spec": FLOW_SPEC}
    made = register(vehicle, crankcase=[crankcase("40 L/min", "3 kPa")])
    assert ratio(made, "crankcase-ventilation-fault", None, "crankcase_pressure") == pytest.approx(8.0, rel=0.01)
    both = register(vehicle, crankcase=[crankcase("90 L/min", "3 kPa")])
    assert not any("crankcase_pressure" in w.finding for w in belief(both, "crankcase-ventilation-fault").weights)
    quiet = crankcase("40 L/min", "0.5 kPa", crankcase_pressure_in_boost="0.6 kPa")
    assert ratio(register(vehicle, crankcase=[quiet]), "crankcase-ventilation-fault", None, "crankcase_pressure") == (
        pytest.approx(0.1, rel=0.01)
    )
    other = look(vehicle, crankcase=[crankcase(None, "3 kPa", breather_restriction="open")])
    assert other.grade("crankcase_pressure") == "unknown"
