"""What the plugin declares: fields that can be read, limits with a source, quantities of the vocabulary."""

from __future__ import annotations

from typing import Any

import pytest
from load_demand_cases import ASPIRATED, DIESEL_TURBO, PETROL_TURBO, PLAN, case, limits, q

from loadworthy.declarations import MARKS, Field, Fields, Limit, Quantity, Rule
from loadworthy.findings import Finding
from loadworthy.units import KINDS
from loadworthy_plugins import load_demand

DECLARED: Any = tuple(load_demand.declare())


def test_quantities_are_those_that_demand_supplies() -> None:
    declared = {d.id for d in DECLARED if isinstance(d, Quantity)}
    vehicle = {
        **PETROL_TURBO,
        "baseline_log_point": (
            {
                "speed": q(4000 / 60),
                "torque": q(300.0),
                "manifold_pressure": q(190e3),
                "charge_temperature": q(318.0),
            },
        ),
    }
    demand = load_demand.demand(case(vehicle, {"torque": PLAN}))
    assert demand is not None
    assert set(demand.quantities) == declared
    assert all(d.kind in KINDS for d in DECLARED if isinstance(d, Quantity))
    assert [d.id for d in DECLARED if isinstance(d, Quantity) and d.role == "speed"] == ["engine_speed"]
    assert [d.id for d in DECLARED if isinstance(d, Quantity) and d.role == "load"] == ["torque"]


def fields(table: str) -> dict[str, Field]:
    """Return the fields of a table by name."""
    return {f.name: f for d in DECLARED if isinstance(d, Fields) and d.table == table for f in d.fields}


def test_every_quantity_field_names_a_unit_kind() -> None:
    nested = fields("vehicle")["baseline_log_point"].fields
    for f in (*fields("vehicle").values(), *fields("plan").values(), *nested):
        assert f.text
        if f.type in ("quantity", "curve"):
            assert f.kind in KINDS, f.name
        else:
            assert f.kind == "", f.name
        if f.type == "choice":
            assert f.choices


def test_usual_lies_within_possible() -> None:
    for f in (*fields("vehicle").values(), *fields("plan").values()):
        if f.usual is None or f.possible is None:
            continue
        for wide, narrow, sign in zip(f.possible, f.usual, (1, -1), strict=True):
            assert wide is None or narrow is None or sign * (narrow - wide) >= 0, f.name


def test_every_fuel_of_the_list_is_known_to_the_physics() -> None:
    from loadworthy_plugins.physics.fuels import FUELS

    assert set(fields("vehicle")["fuel"].choices) == set(FUELS)


def test_no_field_is_declared_twice_and_none_belongs_to_the_core() -> None:
    from loadworthy.core_fields import PLAN as CORE_PLAN
    from loadworthy.core_fields import VEHICLE as CORE_VEHICLE

    for table, core in (("vehicle", CORE_VEHICLE), ("plan", CORE_PLAN)):
        names = [f.name for d in DECLARED if isinstance(d, Fields) and d.table == table for f in d.fields]
        assert len(names) == len(set(names))
        assert not set(names) & {f.name for f in core}


def test_every_limit_has_a_source_and_a_grade_up_to_watch() -> None:
    found = [d for d in DECLARED if isinstance(d, Limit)]
    assert len({d.name for d in found}) == len(found)
    for limit in found:
        assert limit.source
        assert limit.mark in MARKS
        assert limit.kind in KINDS or limit.kind == "number"
        assert limit.grade in ("note", "watch")


@pytest.mark.parametrize("vehicle", [PETROL_TURBO, ASPIRATED, DIESEL_TURBO])
def test_findings_name_declared_rules_and_limits(vehicle: dict[str, Any]) -> None:
    rules = {f"load_demand.{d.name}" for d in DECLARED if isinstance(d, Rule)}
    ids = {f"load_demand.{d.name}" for d in DECLARED if isinstance(d, Limit)}
    plan = {"gain": 0.3} if vehicle is ASPIRATED else {"gain": 0.3, "boost": q(100e3)}
    results = load_demand.examine(case(vehicle, plan), limits())
    found = [r for r in results if isinstance(r, Finding)]
    assert found
    for finding in found:
        assert finding.rule in rules
        assert finding.text
        assert {v.limit for v in finding.verdicts} <= ids | {""}
