"""The invariants over generated cases of the fault memory, with demand and required evidence beside it.

Worsened are single readings: a code more, a pending code that is stored too, the lamp, a test result nearer to its
limit, counters of a memory that was erased later. Codes that also speak against a cause are drawn, and dropped where
they do: such a code is not worse in every respect. Left out: which side of full load misfires were counted on, and what
only chooses among causes.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

import loadworthy_plugins.fault_memory
import loadworthy_plugins.house_rules
import loadworthy_plugins.load_demand
from loadworthy.testing import Invariants, Scenario, case_tables

PLUGINS = {
    "fault_memory": loadworthy_plugins.fault_memory,
    "house_rules": loadworthy_plugins.house_rules,
    "load_demand": loadworthy_plugins.load_demand,
}
ENGINE: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "displacement": "1998 cm3",
    "cylinder_count": 4,
    "cylinder_banks": [[1, 2, 3, 4]],
    "engine_cycle": "four_stroke",
    "built_for_ethanol": False,
    "air_metering": "air_meter",
    "base_torque_measured": {"2000 rpm": "280 N m", "3500 rpm": "300 N m", "5500 rpm": "260 N m"},
    "standard_torque": {"2000 rpm": "280 N m", "3500 rpm": "300 N m", "5500 rpm": "260 N m"},
}
PLAN = {"torque": {"2000 rpm": "320 N m", "3500 rpm": "350 N m", "5500 rpm": "300 N m"}}
EVENTS = ("overheating", "over_speed", "misfuelling")
#: Families of every severity and ceiling, codes of cylinders, a maker's own, a network code, a pointer.
CODES = ("P0303", "P0171", "P2177", "P0299", "P0128", "P0420", "P0219", "P0353", "P0340", "P1234", "U0100", "P0113",
         "P0524", "P2106", "P0087-11", "P0603")  # fmt: skip
SETTLED = {
    "warm_ups_since_clear": 60,
    "distance_since_clear": "1500 km",
    "time_since_clear": "2000 min",
    "monitor_status": [{"since_clear": "00 07 65 00"}],
    "full_load_since_clear": "yes",
}


def _sound() -> st.SearchStrategy[dict[str, Any]]:
    optional = {"lamp": st.just("off"), "lamp_at_key_on": st.just("lit")}
    return st.fixed_dictionaries({}, optional=optional).map(
        lambda drawn: {
            "read_before_clear": "yes",
            "answers": [{"stored": "empty", "pending": "empty", "permanent": "empty"}],
            **SETTLED,
            **drawn,
        }
    )


def _any() -> st.SearchStrategy[dict[str, Any]]:
    answer = st.sampled_from(["empty", "empty", "refused", "not_asked", "damaged"])
    codes = st.lists(st.sampled_from(CODES), max_size=2, unique=True).map(lambda found: [{"code": c} for c in found])
    frame = st.sampled_from(["0C 51 40, 43 01 7A", "0C 2E E0, 04 C8", "42 26 48, 0C 51 40, 43 00 C8"])
    optional = {
        "warm_ups_since_clear": st.integers(0, 60),
        "distance_since_clear": st.integers(0, 1500).map(lambda km: f"{km} km"),
        "time_since_clear": st.integers(1, 2000).map(lambda minutes: f"{minutes} min"),
        "monitor_status": st.sampled_from(["00 07 65 00", "00 07 65 05", "82 07 65 45"]).map(
            lambda status: [{"since_clear": status}]
        ),
        "freeze_frames": st.tuples(st.sampled_from(CODES[:4]), frame).map(
            lambda pair: [{"code": pair[0], "bytes": pair[1]}]
        ),
        "test_results": st.integers(0, 0x1000).map(
            lambda value: [
                {"monitor": "21", "test": "01", "scaling": "01", "value": f"{value:04X}", "min": "0000", "max": "0FA0"}
            ]
        ),
        "trims": st.integers(-30, 30).map(
            lambda trim: [{"region": "cruise", "long": f"{trim} %", "coolant": "90 degC", "closed_loop": True}]
        ),
        "lamp": st.sampled_from(["off", "on", "flashing", "unknown"]),
        "lamp_at_key_on": st.sampled_from(["lit", "dark", "unknown"]),
        "full_load_since_clear": st.sampled_from(["yes", "no", "unknown"]),
        "provocation": st.sampled_from(["code_set", "no_code", "not_done"]),
    }
    lists = st.tuples(codes, codes, codes, answer, answer, answer).map(_lists)
    fields = st.fixed_dictionaries(
        {"read_before_clear": st.sampled_from(["yes", "yes", "no", "unknown"])}, optional=optional
    )
    return st.tuples(lists, fields).map(lambda pair: {**pair[0], **pair[1]})


def _lists(drawn: tuple[Any, ...]) -> dict[str, Any]:
    names = ("stored", "pending", "permanent")
    rows = {name: found for name, found in zip(names, drawn[:3], strict=True) if found}
    answers = {name: "codes" if name in rows else drawn[3 + at] for at, name in enumerate(names)}
    return {**rows, "answers": [answers]}


TREATS = ("fault_memory.p0303", "ignition-weak", "low-pressure-fuel-supply-weak", "fault_memory.p0171")


def _tables() -> st.SearchStrategy[dict[str, Any]]:
    def of(build: Any, **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        return case_tables({"fault_memory": build()}, vehicle=ENGINE, plan=PLAN, events=EVENTS, most_sheets=2, **more)

    return st.one_of(of(_sound, least_sheets=1), of(_any, treats=TREATS))


def _worsen(data: st.DataObject, tables: dict[str, Any]) -> dict[str, Any] | None:
    sheets = tables.get("fault_memory", ())
    if not sheets:
        return None
    sheet = data.draw(st.sampled_from(sheets))
    way = data.draw(st.sampled_from(["code", "stored too", "lamp", "result", "permanent"]))
    if way == "lamp":
        worse = {"off": "on", "on": "flashing"}.get(sheet.get("lamp", ""))
        if worse is None:
            return None
        sheet["lamp"] = worse
    elif way == "result":
        if "test_results" not in sheet:
            return None
        row = sheet["test_results"][0]
        value = int(row["value"], 16)
        row["value"] = f"{data.draw(st.integers(max(value, 0x07D0), 0x1400)):04X}" if value >= 0x07D0 else row["value"]
    else:
        names = {"code": "pending", "permanent": "permanent", "stored too": "stored"}
        code = {"code": data.draw(st.sampled_from(CODES))}
        if way == "stored too":
            if not sheet.get("pending"):
                return None
            code = dict(sheet["pending"][0])
        name = names[way]
        if code not in sheet.get(name, ()):
            sheet[name] = [*sheet.get(name, ()), code]
            sheet["answers"][0][name] = "codes"
    return tables


class TestFaultMemory(Invariants):
    scenario = Scenario(PLUGINS, _tables(), _worsen)
