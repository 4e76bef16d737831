"""Builders of cases for the tests of this check, and a view on what it makes of them."""

from __future__ import annotations

import datetime
from functools import lru_cache
from math import prod
from typing import TYPE_CHECKING, Any, NamedTuple

import loadworthy_plugins.fault_memory as fault_memory
import loadworthy_plugins.house_rules as house_rules
import loadworthy_plugins.load_demand as load_demand
from loadworthy.assessing import assess
from loadworthy.case import Case
from loadworthy.findings import Advice, Ceiling, Coverage, Finding, Gap
from loadworthy.host import Host
from loadworthy.house import House
from loadworthy.standing import judge
from loadworthy_plugins.fault_memory.judging import judge_case
from loadworthy_plugins.fault_memory.memory import Memory, read_memory

if TYPE_CHECKING:
    from loadworthy.findings import Demand, Result
    from loadworthy.limits import Limits
    from loadworthy.register import Register

DAY = datetime.date(2026, 5, 4)
#: A charged petrol engine of four cylinders in line.
ENGINE: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "cylinder_count": 4,
    "cylinder_banks": [[1, 2, 3, 4]],
    "displacement": "1998 cm3",
}
SIX: dict[str, Any] = {**ENGINE, "induction": "none", "cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4, 6]]}
EMPTY = [{"stored": "empty", "pending": "empty", "permanent": "empty"}]
#: Counters of a memory that has seen enough, and monitors of a petrol engine that are all complete.
OLD: dict[str, Any] = {
    "warm_ups_since_clear": 60,
    "distance_since_clear": "1500 km",
    "time_since_clear": "2000 min",
    "monitor_status": [{"since_clear": "00 07 65 00"}],
}


@lru_cache
def host() -> Host:
    plugins = {"house_rules": house_rules, "load_demand": load_demand, "fault_memory": fault_memory}
    return Host(plugins, entry_points=False)


@lru_cache
def limits() -> Limits:
    return House().resolve(host().catalogue)


def engine(**changed: Any) -> dict[str, Any]:
    found = {**ENGINE, **changed}
    return {key: value for key, value in found.items() if value is not None}


def sheet(*, day: datetime.date = DAY, **fields: Any) -> dict[str, Any]:
    found = {"date": day, "read_before_clear": "yes", **fields}
    return {key: value for key, value in found.items() if value is not None}


def clean(**fields: Any) -> dict[str, Any]:
    """Return a settled sheet without any code."""
    return sheet(**{"answers": EMPTY, "full_load_since_clear": "yes", "lamp": "off", **OLD, **fields})


def with_codes(
    stored: tuple[str, ...] = (), pending: tuple[str, ...] = (), permanent: tuple[str, ...] = (), **fields: Any
) -> dict[str, Any]:
    """Return a sheet with typed codes; a list without any is empty."""
    lists = {"stored": stored, "pending": pending, "permanent": permanent}
    rows = {name: [{"code": code} for code in codes] for name, codes in lists.items() if codes}
    answers = [{name: "codes" if codes else "empty" for name, codes in lists.items()}]
    return sheet(**{"answers": answers, **rows, **fields})


def case_of(*sheets: dict[str, Any], vehicle: dict[str, Any] | None = None, plan: Any = None, **more: Any) -> Case:
    data = {
        "as_of": DAY + datetime.timedelta(days=1),
        "vehicle": ENGINE if vehicle is None else vehicle,
        "fault_memory": list(sheets),
        **more,
    }
    if plan is not None:
        data["plan"] = plan
    return Case.from_dict(data, catalogue=host().catalogue)


def memory(*sheets: dict[str, Any], vehicle: dict[str, Any] | None = None) -> Memory:
    """Return what the last sheet says."""
    case = case_of(*sheets, vehicle=vehicle)
    return read_memory(case, list(case.of("fault_memory"))[-1])


def register(*sheets: dict[str, Any], **more: Any) -> Register:
    return assess(case_of(*sheets, **more), host=host())


class View(NamedTuple):
    """What the check returned for one case."""

    case: Case
    results: tuple[Result, ...]

    def all(self, rule: str, subject: str | None = None) -> list[Finding]:
        return [
            one
            for one in self.results
            if isinstance(one, Finding) and one.rule == f"fault_memory.{rule}" and one.subject == subject
        ]

    def one(self, rule: str, subject: str | None = None) -> Finding:
        (found,) = self.all(rule, subject)
        return found

    def has(self, rule: str, subject: str | None = None) -> bool:
        return bool(self.all(rule, subject))

    def grade(self, rule: str, subject: str | None = None) -> str | None:
        return judge("fault_memory", self.one(rule, subject)).grade

    def ratio(self, cause: str, subject: str | None = None) -> float:
        """Return the likelihood ratio of a cause: in each group the largest above 1 and the least below, all groups."""
        rules = host().catalogue.rules
        best: dict[tuple[str, bool], float] = {}
        for one in self.results:
            if not isinstance(one, Finding):
                continue
            pairs = [(w.cause, w.subject, w.db, w.group) for w in one.weights]
            for name, subject_, db, group in pairs:
                if name == cause and subject_ in (None, subject) and db != 0.0:
                    key = (group or rules[one.rule].group, db > 0.0)
                    best[key] = max(best.get(key, 0.0), abs(db))
        return prod(10 ** ((db if up else -db) / 10) for (_, up), db in best.items())

    def ceilings(self, name: str) -> list[Ceiling]:
        return [one for one in self.results if isinstance(one, Ceiling) and one.name == name]

    @property
    def ceiling_names(self) -> set[str]:
        return {one.name for one in self.results if isinstance(one, Ceiling)}

    @property
    def gaps(self) -> dict[str, Gap]:
        return {one.id: one for one in self.results if isinstance(one, Gap)}

    @property
    def row(self) -> Coverage:
        (found,) = (one for one in self.results if isinstance(one, Coverage))
        return found

    @property
    def advice(self) -> str:
        """What is to be done or written, and what the record itself shows."""
        told = [one.text for one in self.results if isinstance(one, Advice)]
        shown = [one.text for one in self.results if isinstance(one, Finding) and one.rule == "fault_memory.record"]
        return "\n".join((*told, *shown))


def view(
    *sheets: dict[str, Any], vehicle: dict[str, Any] | None = None, demand: Demand | None = None, **more: Any
) -> View:
    case = case_of(*sheets, vehicle=vehicle, **more)
    return View(case, judge_case(case, demand, limits()))
