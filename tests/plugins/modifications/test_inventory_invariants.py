"""The invariants over generated inventories, with demand and one row of required evidence beside them.

Worsened are figures of which the smaller one is the weaker part, answers that become unknown, proofs that the
calibration knows a part.
"""

from __future__ import annotations

from typing import Any

import inventory_row
from hypothesis import strategies as st
from inventory_cases import INJECTOR, PETROL, PLAN, PUMP

import loadworthy_plugins.load_demand
import loadworthy_plugins.modifications
from loadworthy.testing import Invariants, Scenario, case_tables
from loadworthy_plugins.modifications.sheet import KINDS

PLUGINS = {
    "house": inventory_row,
    "load_demand": loadworthy_plugins.load_demand,
    "modifications": loadworthy_plugins.modifications,
}
STANDARD = {"1500 rpm": "250 N m", "2000 rpm": "310 N m", "4000 rpm": "310 N m", "5500 rpm": "260 N m"}
ENGINE = {**PETROL, "standard_torque": STANDARD}


def _figure(low: float, high: float, unit: str) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda value: f"{value:.2f} {unit}")


def _part(kind: str, figures: dict[str, Any], sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    answers = ["standard"] if sound else ["standard", "modified", "modified", "unknown"]
    drawn = st.fixed_dictionaries(
        {"answer": st.sampled_from(answers), "status": st.sampled_from(["declared", "seen"])},
        optional={
            "calibration_aware": st.sampled_from(["yes", "no", "unknown"]),
            "calibration_record": st.just("file 3"),
        },
    )
    return st.tuples(drawn, st.fixed_dictionaries(figures)).map(lambda two: {"part_kind": kind, **two[0], **two[1]})


def _inventory(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    fixed = {k: v for k, v in INJECTOR.items() if k in ("flow_pressure", "test_fluid", "dead_time_points")}
    least = 700.0 if sound else 250.0
    parts = st.tuples(
        _part("injector", {"static_flow": _figure(least, 900.0, "mL/min")}, sound).map(lambda row: {**row, **fixed}),
        _part("gearbox_differential_tyres", {"torque_rating": _figure(500 if sound else 200, 600, "N m")}, sound),
        _part("air_meter", {"full_scale": _figure(300 if sound else 120, 400, "g/s")}, sound),
        _part("camshaft", {"speed_rating": _figure(6500 if sound else 4000, 7500, "rpm")}, sound),
    )
    named = {"injector", "gearbox_differential_tyres", "air_meter", "camshaft", "fuel_pump"}
    rest = [kind for kind in KINDS if kind not in named]
    few = st.sets(st.sampled_from(rest), max_size=0 if sound else 4)
    return st.tuples(parts, few).map(
        lambda two: {
            "part": [*two[0], PUMP],
            "standard_kinds": [kind for kind in rest if kind not in two[1]],
            "loaded_voltage": "13 V",
        }
    )


FIGURES = ("static_flow", "torque_rating", "full_scale", "speed_rating")


def _worsen(data: st.DataObject, tables: dict[str, Any]) -> dict[str, Any] | None:
    """Make one figure weaker, one answer unknown, or one proof disappear."""
    sheets = tables.get("modification", ())
    weaker = [(row, key) for sheet in sheets for row in sheet["part"] for key in FIGURES if key in row]
    proofs = [row for sheet in sheets for row in sheet["part"] if row.get("calibration_record")]
    asked = [sheet for sheet in sheets if sheet["standard_kinds"]]
    ways = [name for name, found in (("weaker", weaker), ("proof", proofs), ("unasked", asked)) if found]
    if not ways:
        return None
    way = data.draw(st.sampled_from(ways))
    if way == "weaker":
        row, key = data.draw(st.sampled_from(weaker))
        value, unit = row[key].split(" ", 1)
        row[key] = f"{float(value) * data.draw(st.floats(0.5, 1.0)):.2f} {unit}"
    elif way == "proof":
        del data.draw(st.sampled_from(proofs))["calibration_record"]
    else:
        kinds = data.draw(st.sampled_from(asked))["standard_kinds"]
        kinds.remove(data.draw(st.sampled_from(kinds)))
    return tables


def _tables(most: int) -> st.SearchStrategy[dict[str, Any]]:
    def of(sound: bool, **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        made = {"modification": _inventory(sound)}
        return case_tables(made, vehicle=ENGINE, plan={"torque": PLAN}, most_sheets=most, **more)

    return st.one_of(of(True, least_sheets=1), of(False, treats=("injector-too-small", "part-changed-undeclared")))


class TestInventory(Invariants):
    scenario = Scenario(PLUGINS, _tables(2), _worsen)
