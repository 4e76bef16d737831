"""The invariants over generated mixture runs and calibration records, with demand and required evidence beside them.

Worsened are readings whose every consequence is for the worse: a trim that is the same everywhere, road speed in all
gears, boost on the spring, numbers of the calibration, connectors. Left out, because what they say moves evidence from
one cause to another: a trim in one region (it ends uniformity), air flow (it excuses one meter fault by another), a
key-on ratio (a typical one weighs more than a larger one).
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import run_cases
from hypothesis import strategies as st
from run_cases import rows, run, vehicle

import loadworthy_plugins.house_rules
import loadworthy_plugins.load_demand
from loadworthy.sdk import Broader, Cause, hookimpl
from loadworthy.testing import Invariants, Scenario, case_tables
from loadworthy_plugins.modifications.rule_table import RULES

#: Causes of other checks, and those of this one, as the one list of ids has them.
VOCABULARY = tomllib.loads((Path(__file__).parents[1] / "vocabulary.toml").read_text(encoding="utf-8"))["cause"]
SPOKEN = {cause for rule in RULES for band in rule.bands.values() for cause in band}
SPOKEN |= {part for one in VOCABULARY if one["id"] in SPOKEN for part in one.get("covers", ())}
KEYS = ("text", "prior", "severity", "hazard", "driver", "located", "repair_hours", "cost_class")


def _causes() -> list[Any]:
    out: list[Any] = []
    for one in VOCABULARY:
        if one["id"] in SPOKEN and "covers" in one:
            out.append(Broader(one["id"], one["text"], tuple(one["covers"])))
        elif one["id"] in SPOKEN:
            flags = {key: one.get(key, False) for key in ("person", "capacity", "not_physical")}
            out.append(Cause(id=one["id"], retest=tuple(one["retest"]), **{key: one[key] for key in KEYS}, **flags))
    return out


@hookimpl
def declare() -> list[Any]:
    return [*run_cases.declare(), *_causes()]


PLUGINS = {
    "house_rules": loadworthy_plugins.house_rules,
    "load_demand": loadworthy_plugins.load_demand,
    "modifications": SimpleNamespace(declare=declare, examine=run_cases.examine),
}
TORQUE = {"2000 rpm": "280 N m", "3500 rpm": "300 N m", "5500 rpm": "260 N m"}
CAR = vehicle(base_torque_measured=TORQUE, standard_torque=TORQUE)
PLAN = {"torque": {"2000 rpm": "320 N m", "3500 rpm": "350 N m", "5500 rpm": "300 N m"}}
TREATS = ("injector-size-changed", "tyre-or-final-drive-data-wrong", "modifications.trim", "air-meter-scaling-wrong")


def _road(off: float) -> list[dict[str, Any]]:
    ratios = CAR["gear_ratios"]
    return [
        {
            "region": "cruise",
            "engine_speed": "3000 rpm",
            "gear": gear,
            "vehicle_speed": f"{351.0 / (ratios[gear - 1] * 3.45) / (1.0 + off):.4f} km/h",
        }
        for gear in (3, 4, 5)
    ]


def _made(drawn: dict[str, Any]) -> dict[str, Any]:
    """Return the sheet, with what it was made of in its note, so that it can be made again a little worse."""
    fuel = 1.0 + drawn["trim"] / 100.0
    sheet = run(
        drawn["trim"],
        points=[*rows(drawn["trim"], fuel=fuel), *_road(drawn["gearing"])],
        vehicle_speed_source="gps",
        base_pressure_points=[{"engine_speed": f"{n} rpm", "boost": f"{drawn['boost']:.3f} kPa"} for n in (3000, 5000)],
        sensor_connectors=drawn["connectors"],
        note=json.dumps(drawn),
    )
    del sheet["date"]
    return {key: value for key, value in {**sheet, **drawn["more"]}.items() if value is not None}


def _run(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    small = 3.0 if sound else 30.0
    return st.fixed_dictionaries(
        {
            "trim": st.floats(-small, small),
            "gearing": st.floats(0.0, 0.002 if sound else 0.08),
            "boost": st.floats(49.0, 51.0 if sound else 90.0),
            "connectors": st.sampled_from(["original"] if sound else ["original", "added", "not_checked"]),
            "more": st.sampled_from(
                [{}]
                if sound
                else [{}, {"warm": None}, {"misfire_seen": True}, {"map_key_on": None}, {"ethanol_measured": None}]
            ),
        }
    ).map(_made)


def _calibration(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    number = st.just("AA") if sound else st.sampled_from(["AA", "BB"])
    return number.map(
        lambda read: {
            "present_calibration": "standard",
            "verification_number": read,
            "maker_verification_number": "AA",
        }
    )


def _tables() -> st.SearchStrategy[dict[str, Any]]:
    def of(sound: bool, **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        made = {"mixture_run": _run(sound), "calibration": _calibration(sound)}
        return case_tables(made, vehicle=CAR, plan=PLAN, most_sheets=1, **more)

    return st.one_of(of(True, least_sheets=1), of(False, treats=TREATS))


def _worsen(data: st.DataObject, tables: dict[str, Any]) -> dict[str, Any] | None:
    runs = tables.get("mixture_run", ())
    numbers = [one for one in tables.get("calibration", ()) if one["verification_number"] == "AA"]
    if not runs and not numbers:
        return None
    if not runs or (numbers and data.draw(st.booleans())):
        data.draw(st.sampled_from(numbers))["verification_number"] = "BB"
        return tables
    sheet = data.draw(st.sampled_from(runs))
    drawn: dict[str, Any] = json.loads(sheet["note"])
    way = data.draw(st.sampled_from(("trim", "gearing", "boost", "connectors")))
    if way == "connectors":
        drawn[way] = "added"
    elif way == "trim":
        drawn[way] += data.draw(st.floats(0.0, 15.0)) * (1.0 if drawn[way] >= 0.0 else -1.0)
    else:
        drawn[way] += data.draw(st.floats(0.0, 0.05 if way == "gearing" else 30.0))
    again = _made(drawn)
    sheet.update({key: value for key, value in again.items() if key != "note"})
    return tables


class TestMixtureRun(Invariants):
    scenario = Scenario(PLUGINS, _tables(), _worsen)
