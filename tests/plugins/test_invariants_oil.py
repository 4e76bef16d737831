"""The invariants over generated cases of the oil check, with demand and required evidence beside it.

Worsened are single readings: a pressure, a metal, fuel in the oil, the level, the temperature that the oil settles at,
what the cut filter holds. Left out, because what they say depends on another figure: viscosities (thin oil excuses wear
and accuses itself), pressures above this engine's own record, and an earlier sample with less metal, which is what the
next one is compared with. Steady runs are drawn for an engine whose oil grade nobody knows: a run also says how thin
the film gets at the plan, and where none was made the temperatures are taken as equal, which is optimistic and said so.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

import loadworthy_plugins.house_rules
import loadworthy_plugins.load_demand
import loadworthy_plugins.oil_system
from loadworthy.testing import Invariants, Scenario, case_tables

PLUGINS = {
    "house_rules": loadworthy_plugins.house_rules,
    "load_demand": loadworthy_plugins.load_demand,
    "oil_system": loadworthy_plugins.oil_system,
}
SPEEDS = (800, 2000, 3000, 5500)
#: This engine's own record, bar at 100 degC: no sheet below holds as much.
RECORD = {800: 2.2, 2000: 3.9, 3000: 4.7}
MINIMUM = {800: 0.9, 2000: 1.9, 5500: 3.4}
ENGINE: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "displacement": "1998 cm3",
    "cylinder_count": 4,
    "cylinder_banks": [[1, 2, 3, 4]],
    "engine_cycle": "four_stroke",
    "oil_pump_kind": "fixed",
    "relief_pressure": "4.8 bar",
    "oil_grade_spec": "5W-40",
    "turbo_bearing_kind": "plain",
    "oil_cooler": "water_oil",
    "oil_pressure_spec": [
        {"rpm": f"{n} rpm", "min": f"{p} bar", "temp": "100 degC", "oil_grade": "5W-40"} for n, p in MINIMUM.items()
    ],
    "oil_pressure_history": [
        {"rpm": f"{n} rpm", "pressure": f"{p} bar", "oil_temp": "100 degC", "kv40": "84 mm2/s", "kv100": "13.9 mm2/s"}
        for n, p in RECORD.items()
    ],
    "base_torque_measured": {"2000 rpm": "280 N m", "3500 rpm": "300 N m", "5500 rpm": "260 N m"},
    "standard_torque": {"2000 rpm": "280 N m", "3500 rpm": "300 N m", "5500 rpm": "260 N m"},
}
PLAN = {"torque": {"2000 rpm": "320 N m", "3500 rpm": "350 N m", "5500 rpm": "300 N m"}}
EVENTS = ("overheating", "over_speed", "rebuild", "misfuelling")
SOUND = {800: (1.9, 2.15), 2000: (3.5, 3.85), 3000: (4.3, 4.5), 5500: (4.6, 4.8)}
ANY = {800: (0.2, 2.15), 2000: (0.8, 3.85), 3000: (1.2, 4.5), 5500: (1.5, 4.8)}
OIL = {"oil_grade_filled": "5W-40", "used_kv40": "83 mm2/s", "used_kv100": "13.7 mm2/s"}
METALS = ("fe", "cr", "al", "cu", "pb", "sn", "si", "na", "k")


def _number(low: float, high: float, unit: str, digits: int = 2) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda value: f"{value:.{digits}f} {unit}")


def _points(ranges: dict[int, tuple[float, float]]) -> st.SearchStrategy[list[dict[str, str]]]:
    rows = [
        st.fixed_dictionaries(
            {
                "rpm": st.just(f"{speed} rpm"),
                "pressure": _number(*ranges[speed], "bar"),
                "oil_temp": _number(92, 108, "degC", 1),
                "std": st.just("2 kPa"),
                "source": st.just("mechanical_gauge"),
            }
        )
        for speed in SPEEDS
    ]
    return st.tuples(*rows).map(list)


def _pressure(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    cold = st.lists(
        st.fixed_dictionaries(
            {
                "rpm": st.just("2000 rpm"),
                "pressure": _number(4.5 if sound else 1.0, 5.0, "bar"),
                "oil_temp": st.just("22 degC"),
            }
        ),
        max_size=1,
    )
    needed = {"oil_pressure_points": _points(SOUND if sound else ANY), "cold_start_points": cold}
    beside = {
        "time_to_pressure": _number(1, 4 if sound else 12, "s", 1),
        "pressure_surge": st.sampled_from(["none"] if sound else ["none", "cornering_or_braking", "unknown"]),
    }
    return st.fixed_dictionaries(needed, optional=beside).map(lambda drawn: {**OIL, "oil_temp_source": "sump", **drawn})


def _sample(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    metals = st.fixed_dictionaries({symbol: _number(0, 6 if sound else 120, "mg/kg", 1) for symbol in METALS})
    fresh = dict.fromkeys(METALS, "0 mg/kg")
    optional = {
        "fuel_dilution": _number(0.1, 0.9 if sound else 7, "%", 2),
        "water": _number(0, 0.02 if sound else 0.8, "%", 3),
        "glycol": st.just(False) if sound else st.booleans(),
        "soot": _number(0, 0.3 if sound else 4, "%", 2),
    }
    return st.tuples(metals, st.fixed_dictionaries({}, optional=optional)).map(
        lambda pair: {
            **OIL,
            "metals": pair[0],
            "fresh_metals": fresh,
            "oil_distance": "9000 km",
            "sump_oil_volume": "5 L",
            "oil_topup": "0.4 L",
            "sample_taken": "hot_mid_stream",
            "fuel_method": "gas_chromatography",
            **pair[1],
        }
    )


def _look(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    optional = {
        "oil_level": st.sampled_from([0.4, 0.9] if sound else [-0.2, 0.0, 0.5, 1.0, 1.4]),
        "filter_cut_open": st.sampled_from(["clean"] if sound else ["clean", "glitter", "flakes", "not_done"]),
        "bearing_noise": st.sampled_from(["none"] if sound else ["none", "cold_rumble", "load_knock", "unknown"]),
        "bearing_shells": st.sampled_from(["in_limits"] if sound else ["in_limits", "over", "not_checked"]),
    }
    return st.fixed_dictionaries({}, optional=optional)


def _heat(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    return _number(100, 108 if sound else 152, "degC", 1).map(
        lambda hot: {
            "oil_temp_sustained": hot,
            "oil_temp_rate": "0.2 K",
            "power_at_oil_temp": "150 kW",
            "coolant_temp": "92 degC",
        }
    )


def _turbo(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(
        {
            "turbo_feed_pressure": _number(2.6 if sound else 0.8, 4, "bar"),
            "turbo_feed_idle": _number(1.2 if sound else 0.3, 2, "bar"),
            "gallery_pressure": st.just("4 bar"),
        }
    )


SECTIONS = {"oil_pressure": _pressure, "oil_look": _look, "turbo_oil": _turbo}
#: Without any grade of oil there is no film load.
UNNAMED = {key: value for key, value in ENGINE.items() if not key.startswith("oil_") or key == "oil_cooler"}
TREATS = (
    "crankshaft-bearing-clearance",
    "oil-pump-wear",
    "oil-pick-up-restricted",
    "oil_system.maker_min",
    "fuel-dilution",
)


def _tables(sections: dict[str, Any], most: int, vehicle: dict[str, Any] = ENGINE) -> st.SearchStrategy[dict[str, Any]]:
    def of(sound: bool, **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        made = {name: build(sound) for name, build in sections.items()}
        return case_tables(made, vehicle=vehicle, plan=PLAN, events=EVENTS, most_sheets=most, **more)

    return st.one_of(of(True, least_sheets=1), of(False, treats=TREATS))


def _scaled(data: st.DataObject, holder: dict[str, Any], key: str, low: float, high: float) -> None:
    value, unit = holder[key].split()
    holder[key] = f"{float(value) * data.draw(st.floats(low, high)):.3f} {unit}"


def _worsen(data: st.DataObject, tables: dict[str, Any]) -> dict[str, Any] | None:
    """Make one reading worse: what is low lower, what is high higher."""
    lower = [(row, "pressure") for sheet in tables.get("oil_pressure", ()) for row in sheet["oil_pressure_points"]]
    lower += [(sheet, "turbo_feed_pressure") for sheet in tables.get("turbo_oil", ())]
    higher = [
        (sheet["metals"], symbol) for sheet in tables.get("oil_sample", ()) for symbol in ("fe", "pb", "cu", "sn")
    ]
    for section, key in (("oil_sample", "fuel_dilution"), ("oil_sample", "water"), ("oil_heat", "oil_temp_sustained")):
        higher += [(sheet, key) for sheet in tables.get(section, ()) if key in sheet]
    clean = [sheet for sheet in tables.get("oil_look", ()) if sheet.get("filter_cut_open") == "clean"]
    ways = [name for name, found in (("lower", lower), ("higher", higher), ("flakes", clean)) if found]
    if not ways:
        return None
    way = data.draw(st.sampled_from(ways))
    if way == "flakes":
        data.draw(st.sampled_from(clean))["filter_cut_open"] = "flakes"
    elif way == "lower":
        _scaled(data, *data.draw(st.sampled_from(lower)), 0.5, 1.0)
    else:
        holder, key = data.draw(st.sampled_from(higher))
        most = 1.1 if key == "oil_temp_sustained" else 2.0
        _scaled(data, holder, key, 1.0, most)
    return tables


class TestOilPressure(Invariants):
    scenario = Scenario(PLUGINS, _tables(SECTIONS, 2), _worsen)


class TestOilHeat(Invariants):
    scenario = Scenario(PLUGINS, _tables({"oil_heat": _heat, "oil_look": _look}, 2, UNNAMED), _worsen)


class TestOilSample(Invariants):
    scenario = Scenario(PLUGINS, _tables({"oil_sample": _sample, "oil_look": _look}, 1), _worsen)
