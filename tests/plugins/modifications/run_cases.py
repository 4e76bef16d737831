"""Builders of mixture runs for the tests, and a view on what the rules make of them.

The calibration section is another part of this check: a copy with the fields that the rules read stands here, so that
these rules can be tried alone.
"""

from __future__ import annotations

import datetime
import sys
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import loadworthy_plugins.load_demand as load_demand
from loadworthy.assessing import assess
from loadworthy.case import Case
from loadworthy.findings import Advice, Finding, Gap
from loadworthy.host import Host
from loadworthy.house import House
from loadworthy.sdk import Field, Fields, Section, hookimpl
from loadworthy.standing import judge
from loadworthy_plugins.modifications.judging_run import judge_runs
from loadworthy_plugins.modifications.limits_run import LIMITS
from loadworthy_plugins.modifications.rule_table import GROUPS, RULES
from loadworthy_plugins.modifications.sheet_run import MIXTURE_RUN, RUN_VEHICLE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.findings import Result
    from loadworthy.limits import Limits
    from loadworthy.register import Register

DAY = datetime.date(2026, 5, 4)
CALIBRATION = Section(
    "calibration",
    "calibration numbers",
    (
        Field("present_calibration", "choice", choices=("standard", "changed_by", "unknown")),
        *(
            Field(name, "text")
            for name in (
                "calibration_id",
                "verification_number",
                "maker_calibration_id",
                "maker_verification_number",
            )
        ),
    ),
    tests=("calibration-identifiers",),
)
#: Air of a standard two-litre engine: region, rpm, g/s, kPa, degC; fuel pressure 300 kPa above the manifold.
POINTS: dict[str, tuple[str, int, float, float]] = {
    "idle": ("idle", 800, 3.0, 33.0),
    "cruise": ("cruise", 2400, 18.0, 60.0),
    "load": ("load", 5600, 200.0, 200.0),
}
RPM = {name: row[1] for name, row in POINTS.items()}
AMBIENT, GAS, LITRES = 100.0, 313.15, 1.984


def standard_ve(name: str) -> float:
    """Return what the points above give: m/(p/(R T) V N/2)."""
    _, rpm, air, kpa = POINTS[name]
    return air * 1e-3 / (kpa * 1e3 / (287.05 * GAS) * LITRES * 1e-3 * rpm / 120.0)


VEHICLE: dict[str, Any] = {
    "fuel": "petrol_e5",
    "fuel_system": "return_referenced",
    "induction": "turbo",
    "displacement": "1984 cm3",
    "cylinder_count": 4,
    "cylinder_banks": [[1, 2, 3, 4]],
    "gearbox_type": "manual",
    "air_metering": "air_meter",
    "gear_ratios": [3.46, 1.95, 1.3, 1.03, 0.82],
    "final_drive": 3.45,
    "tyre_circumference": "1.95 m",
    "injector_flow": "6.9 g/s",
    "injector_flow_pressure": "300 kPa",
    "fuel_pressure_set": "300 kPa",
    "rated_speed": "5500 rpm",
    "ve_standard": [
        {"region": name, "engine_speed": f"{rpm} rpm", "ve": round(standard_ve(name), 4)} for name, rpm in RPM.items()
    ],
    "idle_vacuum_standard": "67 kPa",
    "wastegate_spring": "50 kPa",
    "compressor_choke_flow": "0.24 kg/s",
    "boost_onset_standard": "2200 rpm",
    "standard_peak_air_flow": "200 g/s",
}
#: What a sound run says of its conditions.
SOUND: dict[str, Any] = {
    "ambient_pressure": "100 kPa",
    "ambient_pressure_kind": "station",
    "ambient_temp": "20 degC",
    "map_key_on": "100 kPa",
    "closed_loop": True,
    "warm": True,
    "purge_active": False,
    "misfire_seen": False,
    "exhaust_leak_seen": False,
    "distance_since_clear": "400 km",
    "ethanol_measured": "5 %",
    "ethanol_source": "laboratory",
    "fuel_density": "747.4 kg/m3",
}
STANDARD = {"date": DAY, "present_calibration": "standard"}


@hookimpl
def declare() -> Iterable[Any]:
    return (Fields("vehicle", RUN_VEHICLE), MIXTURE_RUN, CALIBRATION, *LIMITS, *GROUPS, *RULES)


@hookimpl
def examine(case: Case, limits: Limits) -> Iterable[Result]:
    return tuple(judge_runs(case, limits))


@lru_cache
def host() -> Host:
    return Host({"load_demand": load_demand, "modifications": sys.modules[__name__]}, entry_points=False)


@lru_cache
def limits() -> Limits:
    return House().resolve(host().catalogue)


def vehicle(**changed: Any) -> dict[str, Any]:
    return {key: value for key, value in {**VEHICLE, **changed}.items() if value is not None}


def rows(trims: Any = None, names: Iterable[str] = POINTS, **changed: Any) -> list[dict[str, Any]]:
    """Return the standard points. ``trims``: percent for all, by region, or by region and bank.

    ``air`` and ``fuel`` scale air flow and effective pulse; anything else is a field of every row, None takes it away.
    """
    air, fuel = changed.pop("air", 1.0), changed.pop("fuel", 1.0)
    out = []
    for name in names:
        region, rpm, flow, kpa = POINTS[name]
        scale = air[name] if isinstance(air, dict) else air
        # E5 at lambda 1: fuel = air/14.279; effective time = 2 fuel/(q n N), q = 6.9 g/s at 300 kPa.
        effective = 2.0 * flow / 14.279 / (6.9 * 4 * rpm / 60.0) * (fuel[name] if isinstance(fuel, dict) else fuel)
        row = {
            "region": region,
            "engine_speed": f"{rpm} rpm",
            "air_flow": f"{flow * scale:.5f} g/s",
            "map": f"{kpa} kPa",
            "charge_temp": f"{GAS - 273.15:.2f} degC",
            "pulse_width": f"{effective * 1e3:.5f} ms",
            "pulse_includes_dead_time": False,
            "lambda_measured": 1.0,
            "rail_pressure": f"{300.0 + kpa - AMBIENT:.2f} kPa",
            "injector_voltage": "14 V",
            **changed,
        }
        found = trims.get(name) if isinstance(trims, dict) else trims
        if found is not None:
            row["trim_long"] = {k: f"{v:.6f} %" for k, v in (found if isinstance(found, dict) else {1: found}).items()}
        out.append({key: value for key, value in row.items() if value is not None})
    return out


def run(trims: Any = 0.0, *, day: int = 0, **changed: Any) -> dict[str, Any]:
    """Return a sheet of a sound run; ``points`` replaces its rows, ``row`` changes fields in all of them."""
    points = changed.pop("points", None)
    found = rows(trims, **changed.pop("row", {})) if points is None else points
    values = {"date": DAY + datetime.timedelta(days=day), **SOUND, "points": found, **changed}
    return {key: value for key, value in values.items() if value is not None}


def case(car: dict[str, Any] | None = None, **tables: Any) -> Case:
    data = {
        "name": "test",
        "as_of": DAY + datetime.timedelta(days=30),
        "vehicle": vehicle() if car is None else car,
        "plan": {},
        **tables,
    }
    return Case.from_dict(data, catalogue=host().catalogue)


class View(NamedTuple):
    """What the rules return for a case."""

    results: tuple[Result, ...]

    def all(self, rule: str) -> list[Finding]:
        return [r for r in self.results if isinstance(r, Finding) and r.rule == f"modifications.{rule}"]

    def has(self, rule: str) -> bool:
        return bool(self.all(rule))

    def finding(self, rule: str, subject: str | None = None) -> Finding:
        found = [one for one in self.all(rule) if one.subject == subject]
        assert found, f"no finding of {rule} at {subject}"
        return found[-1]

    def grade(self, rule: str, subject: str | None = None) -> str:
        """Return the grade as the core makes it, ``unknown`` where the rule could not run or may not clear."""
        return judge("modifications", self.finding(rule, subject)).grade or "unknown"

    def bands(self, rule: str) -> dict[str, float]:
        return dict(self.finding(rule).bands)

    def band(self, rule: str) -> str:
        """Return the likeliest band, empty where there is none of any weight."""
        found = {name: p for name, p in self.bands(rule).items() if p >= 0.05}
        return max(found, key=found.__getitem__) if found else ""

    def gaps(self) -> set[str]:
        return {r.id.removeprefix("modifications.") for r in self.results if isinstance(r, Gap)}

    def advice(self) -> list[Advice]:
        return [r for r in self.results if isinstance(r, Advice)]

    def step(self, rule: str, label: str) -> Any:
        return next(s.value for s in self.finding(rule).steps if s.label == label)


def look(*sheets: dict[str, Any], car: dict[str, Any] | None = None, known: bool = True, **tables: Any) -> View:
    """Return the view on runs; ``known``: a record says that the calibration is the standard one."""
    if sheets:
        tables["mixture_run"] = list(sheets)
    if known:
        tables.setdefault("calibration", [STANDARD])
    found = View(tuple(judge_runs(case(car, **tables), limits())))
    for one in found.results:
        if isinstance(one, Finding):
            assert all(0.0 < p <= 1.0 for p in one.bands.values()), one.rule
            assert sum(one.bands.values()) <= 1.0 + 1e-9, one.rule
    return found


def register(*sheets: dict[str, Any], car: dict[str, Any] | None = None, **tables: Any) -> Register:
    """Return the core's register of a case; no result may be refused."""
    found = assess(case(car, mixture_run=list(sheets), calibration=[STANDARD], **tables), host=host())
    assert not found.failures, found.failures
    return found


def well_known(limit: float) -> list[dict[str, Any]]:
    """Return the standard engine's volumetric efficiency with limits of error."""
    return [{**row, "ve": f"{row['ve']} +- {limit}"} for row in vehicle()["ve_standard"]]
