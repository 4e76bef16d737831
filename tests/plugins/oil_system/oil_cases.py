"""Builders of cases for the tests of this check, and a view on what it makes of them."""

from __future__ import annotations

import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import loadworthy_plugins.house_rules as house_rules
import loadworthy_plugins.load_demand as load_demand
import loadworthy_plugins.oil_system as oil_system
from loadworthy.assessing import assess
from loadworthy.case import Case
from loadworthy.findings import Advice, Ceiling, Coverage, Finding, Gap, Symptom
from loadworthy.host import Host
from loadworthy.house import House
from loadworthy.standing import judge
from loadworthy_plugins.oil_system.judging import judge_case

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.findings import Demand, Result
    from loadworthy.limits import Limits
    from loadworthy.register import Register

DAY = datetime.date(2026, 5, 4)
#: A petrol engine with a fixed pump, 5W-30 asked for, relief valve at 4.5 bar.
ENGINE: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "oil_pump_kind": "fixed",
    "relief_pressure": "4.5 bar",
    "oil_grade_spec": "5W-30",
}
#: Sound pressures of that engine at 100 degC with 63.0 and 10.8 mm2/s, bar by rpm.
RECORD = {800: 1.6, 2000: 3.2, 3000: 3.9}
OIL = {"used_kv40": "63.0 mm2/s", "used_kv100": "10.8 mm2/s", "oil_grade_filled": "5W-30"}
MINIMUM = {800: 0.8, 2000: 1.8, 6000: 3.4}


@lru_cache
def host() -> Host:
    plugins = {"house_rules": house_rules, "load_demand": load_demand, "oil_system": oil_system}
    return Host(plugins, entry_points=False)


@lru_cache
def limits() -> Limits:
    return House().resolve(host().catalogue)


def history(figures: dict[int, float] | None = None) -> list[dict[str, str]]:
    return [
        {"rpm": f"{n} rpm", "pressure": f"{p} bar", "oil_temp": "100 degC", "kv40": "63.0 mm2/s", "kv100": "10.8 mm2/s"}
        for n, p in (figures or RECORD).items()
    ]


def spec(figures: dict[int, float] | None = None, **more: str) -> list[dict[str, str]]:
    row = {"temp": "100 degC", "oil_grade": "5W-30", **more}
    return [{"rpm": f"{n} rpm", "min": f"{p} bar", **row} for n, p in (figures or MINIMUM).items()]


def engine(*, record: bool = True, minimum: bool = False, **changed: Any) -> dict[str, Any]:
    found = {**ENGINE, **changed}
    if record:
        found.setdefault("oil_pressure_history", history())
    if minimum:
        found.setdefault("oil_pressure_spec", spec())
    return {key: value for key, value in found.items() if value is not None}


def points(pressures: dict[int, Any], temperature: float | None = 100.0, **more: Any) -> list[dict[str, Any]]:
    row = {"source": "mechanical_gauge", "std": "2 kPa", **more}
    if temperature is not None:
        row["oil_temp"] = f"{temperature} degC"
    return [
        {"rpm": f"{n} rpm", **row, **(p if isinstance(p, dict) else {"pressure": f"{p} bar"})}
        for n, p in pressures.items()
    ]


#: Sound: like the record, at its relief setting at the top.
SOUND = {800: 1.6, 2000: 3.2, 3000: 3.9, 5500: 4.5}


def sweep(
    pressures: dict[int, Any] | None = None, temperature: float | None = 100.0, *, day: int = 0, **more: Any
) -> dict[str, Any]:
    """Return a sheet of oil pressure; ``None`` in ``more`` takes a field away."""
    rows = more.pop("rows", None) or points(pressures or SOUND, temperature)
    values = {
        "date": DAY + datetime.timedelta(days=day),
        "oil_pressure_points": rows,
        "oil_temp_source": "sump",
        **OIL,
        **more,
    }
    return {key: value for key, value in values.items() if value is not None}


def sheet(day: int = 0, **fields: Any) -> dict[str, Any]:
    return {"date": DAY + datetime.timedelta(days=day), **{k: v for k, v in fields.items() if v is not None}}


def case(vehicle: dict[str, Any] | None = None, plan: dict[str, Any] | None = None, **tables: Any) -> Case:
    data = {
        "name": "test",
        "as_of": DAY + datetime.timedelta(days=400),
        "vehicle": engine() if vehicle is None else vehicle,
        "plan": plan or {},
        **tables,
    }
    return Case.from_dict(data, catalogue=host().catalogue)


class View(NamedTuple):
    """What the check returns for a case."""

    case: Case
    results: tuple[Result, ...]

    def all(self, rule: str) -> list[Finding]:
        return [r for r in self.results if isinstance(r, Finding) and r.rule == f"oil_system.{rule}"]

    def finding(self, rule: str, number: int = -1) -> Finding:
        found = self.all(rule)
        assert found, f"no finding of {rule}"
        return found[number]

    def has(self, rule: str) -> bool:
        return bool(self.all(rule))

    def grade(self, rule: str, number: int = -1) -> str:
        """Return the grade as the core makes it, ``unknown`` where the rule could not run or may not clear."""
        return judge("oil_system", self.finding(rule, number)).grade or "unknown"

    def bands(self, rule: str, number: int = -1) -> dict[str, float]:
        return dict(self.finding(rule, number).bands)

    def band(self, rule: str, number: int = -1) -> str:
        """Return the likeliest band, empty where there is none of any weight."""
        found = {name: p for name, p in self.bands(rule, number).items() if p >= 0.05}
        return max(found, key=found.__getitem__) if found else ""

    def symptoms(self) -> set[str]:
        return {r.id for r in self.results if isinstance(r, Symptom) and r.p_beyond >= 0.5}

    def gaps(self) -> set[str]:
        return {r.id.removeprefix("oil_system.") for r in self.results if isinstance(r, Gap)}

    def advice(self) -> str:
        return " | ".join(r.text for r in self.results if isinstance(r, Advice))

    def ceilings(self) -> dict[str, Ceiling]:
        return {r.name: r for r in self.results if isinstance(r, Ceiling)}

    def covered(self, row: str = "oil_pressure") -> Coverage:
        return next(r for r in self.results if isinstance(r, Coverage) and r.row == row)

    def step(self, rule: str, label: str) -> Any:
        return next(s.value for s in self.finding(rule).steps if s.label == label)


def look(
    vehicle: dict[str, Any] | None = None,
    demand: Demand | None = None,
    plan: dict[str, Any] | None = None,
    **tables: Any,
) -> View:
    made = case(vehicle, plan, **tables)
    return View(made, judge_case(made, demand, limits()))


def pressures(found: dict[int, float] | None = None, vehicle: dict[str, Any] | None = None, **more: Any) -> View:
    return look(vehicle, oil_pressure=[sweep(found, **more)])


def register(vehicle: dict[str, Any] | None = None, **tables: Any) -> Register:
    """Return the core's register of a case; no result may be refused."""
    found = assess(case(vehicle, **tables), host=host(), as_of=DAY + datetime.timedelta(days=30))
    assert not found.failures, found.failures
    return found


def scaled(factor: float, only: Sequence[int] = ()) -> dict[int, float]:
    """Return the sound pressures times a factor, at some speeds only if named."""
    return {n: round(p * factor, 4) if not only or n in only else p for n, p in SOUND.items()}
