"""Builders of cases with an inventory of parts, and a view on what follows from it."""

from __future__ import annotations

import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import loadworthy_plugins.load_demand as load_demand
import loadworthy_plugins.modifications as modifications
from loadworthy.assessing import assess
from loadworthy.case import Case
from loadworthy.findings import Advice, AtLeast, Capacity, Ceiling, Coverage, Finding, Gap
from loadworthy.host import Host
from loadworthy.house import House
from loadworthy.standing import judge
from loadworthy_plugins.load_demand.table import demand_of
from loadworthy_plugins.modifications.entry import inventory_results
from loadworthy_plugins.modifications.inventory import Inventory, Part, inventory
from loadworthy_plugins.modifications.sheet import KINDS

if TYPE_CHECKING:
    from loadworthy.findings import Demand, Result
    from loadworthy.limits import Limits
    from loadworthy.register import Register

DAY = datetime.date(2026, 5, 4)
BASE = {"1500 rpm": "240 N m", "2000 rpm": "300 N m", "4000 rpm": "300 N m", "5500 rpm": "250 N m"}
PLAN = {"1500 rpm": "260 N m", "2000 rpm": "360 N m", "4000 rpm": "360 N m", "5500 rpm": "310 N m"}
#: A port-injected petrol engine with a turbocharger.
PETROL: dict[str, Any] = {
    "fuel": "petrol_e10",
    "fuel_system": "return_referenced",
    "induction": "turbo",
    "displacement": "1998 cm3",
    "cylinder_count": 4,
    "valves_per_cylinder": 4,
    "charge_cooler": "air_air",
    "base_torque_measured": BASE,
    "standard_torque": BASE,
    "power_basis": "crank_measured",
    "power_correction": "none",
}
DIRECT = {**PETROL, "fuel_system": "direct"}
INJECTOR: dict[str, Any] = {
    "part_kind": "injector",
    "answer": "modified",
    "status": "seen",
    "static_flow": "630 mL/min",
    "flow_pressure": "300 kPa",
    "test_fluid": "n_heptane",
    "dead_time_points": [{"voltage": "12 V", "pressure": "300 kPa", "time": "1.1 ms"}],
    "calibration_aware": "yes",
    "calibration_record": "invoice 12",
}
PUMP: dict[str, Any] = {
    "part_kind": "fuel_pump",
    "answer": "standard",
    "set_pressure": "3 bar",
    "referenced": True,
    "flow_points": [
        {"pressure": f"{p} bar", "voltage": "13.5 V", "flow": f"{q} L/h"}
        for p, q in ((3, 220), (4, 200), (5, 175), (6, 140))
    ],
}


@lru_cache
def host() -> Host:
    # Without a table of required evidence: nothing else than the parts holds the plan.
    plugins = {"load_demand": load_demand, "modifications": modifications}
    return Host(plugins, entry_points=False)


@lru_cache
def limits() -> Limits:
    return House().resolve(host().catalogue)


def sheet(*parts: dict[str, Any], day: int = 0, **fields: Any) -> dict[str, Any]:
    """Return a sheet of the inventory with these parts."""
    found = {"date": DAY + datetime.timedelta(days=day), **fields}
    if parts:
        found["part"] = list(parts)
    return {key: value for key, value in found.items() if value is not None}


def answered(*parts: dict[str, Any], day: int = 0, **fields: Any) -> dict[str, Any]:
    """Return a sheet on which every kind is answered: these parts, and all others as made."""
    named = {part["part_kind"] for part in parts}
    return sheet(*parts, day=day, standard_kinds=[kind for kind in KINDS if kind not in named], **fields)


def part(kind: str, answer: str | None = "modified", **more: Any) -> dict[str, Any]:
    found = {"part_kind": kind, "answer": answer, **more}
    return {key: value for key, value in found.items() if value is not None}


def case(
    *sheets: dict[str, Any], vehicle: dict[str, Any] | None = None, plan: dict[str, Any] | None = None, **tables: Any
) -> Case:
    data: dict[str, Any] = {
        "name": "test",
        "as_of": DAY + datetime.timedelta(days=200),
        "vehicle": {k: v for k, v in (PETROL if vehicle is None else vehicle).items() if v is not None},
        "plan": {"torque": PLAN} if plan is None else plan,
        **tables,
    }
    if sheets:
        data["modification"] = list(sheets)
    return Case.from_dict(data, catalogue=host().catalogue)


class View(NamedTuple):
    """What follows from the inventory of a case."""

    case: Case
    demand: Demand | None
    results: tuple[Result, ...]

    def all(self, rule: str) -> list[Finding]:
        return [r for r in self.results if isinstance(r, Finding) and r.rule == f"modifications.{rule}"]

    def finding(self, rule: str, subject: str | None = None) -> Finding:
        found = [f for f in self.all(rule) if subject is None or f.subject == subject]
        assert found, f"no finding of {rule}"
        return found[0]

    def has(self, rule: str) -> bool:
        return bool(self.all(rule))

    def grade(self, rule: str, subject: str | None = None) -> str:
        return judge("modifications", self.finding(rule, subject)).grade or "unknown"

    def used(self, rule: str) -> Any:
        """Return what was held to the limits, from the text of the finding."""
        return float(self.finding(rule).text.split(": ")[-1].split(" ")[0])

    def gaps(self) -> set[str]:
        return {r.id.removeprefix("modifications.") for r in self.results if isinstance(r, Gap)}

    def advice(self) -> str:
        return " | ".join(r.text for r in self.results if isinstance(r, Advice))

    def ceilings(self) -> dict[str, Ceiling]:
        return {r.name: r for r in self.results if isinstance(r, Ceiling)}

    def capacity(self, cause: str) -> Capacity:
        return next(r for r in self.results if isinstance(r, Capacity) and r.cause == cause)

    def capacities(self) -> set[str]:
        return {r.cause for r in self.results if isinstance(r, Capacity)}

    def classes(self) -> set[str]:
        return {r.plan_class for r in self.results if isinstance(r, AtLeast)}

    def covered(self) -> Coverage:
        return next(r for r in self.results if isinstance(r, Coverage))

    def step(self, rule: str, label: str) -> Any:
        return next(s.value for s in self.finding(rule).steps if s.label == label)


def look(
    *sheets: dict[str, Any],
    vehicle: dict[str, Any] | None = None,
    plan: dict[str, Any] | None = None,
    inferred: dict[str, float] | None = None,
) -> View:
    made = case(*sheets, vehicle=vehicle, plan=plan)
    demand = demand_of(made)
    return View(made, demand, tuple(inventory_results(made, demand, limits(), inferred)))


def merged(*sheets: dict[str, Any], inferred: dict[str, float] | None = None) -> Inventory:
    return inventory(case(*sheets), inferred)


def only(found: Inventory, kind: str) -> Part:
    (one,) = found.of(kind)
    return one


def register(*sheets: dict[str, Any], vehicle: dict[str, Any] | None = None, **tables: Any) -> Register:
    """Return the core's register of a case; no result may be refused."""
    found = assess(case(*sheets, vehicle=vehicle, **tables), host=host(), as_of=DAY + datetime.timedelta(days=30))
    assert not found.failures, found.failures
    return found
