"""The invariants over generated readings of the fault memory, with demand and required evidence beside it.

Worsened is what the memory holds: a further code, one that was pending stored too, a lamp that lights, less of a result
left to its limit. Left out, because one code excuses a cause that another accuses, is everything by which some weight
falls; the suite leaves such a change out by itself.
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
CURVE = {"2000 rpm": "280 N m", "3500 rpm": "300 N m", "5500 rpm": "260 N m"}
ENGINE: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "displacement": "2996 cm3",
    "cylinder_count": 6,
    "cylinder_banks": [[1, 3, 5], [2, 4, 6]],
    "engine_cycle": "four_stroke",
    "air_metering": "air_meter",
    "built_for_ethanol": False,
    "base_torque_measured": CURVE,
    "standard_torque": CURVE,
}
PLAN = {"torque": {"2000 rpm": "320 N m", "3500 rpm": "350 N m", "5500 rpm": "300 N m"}}
EVENTS = ("overheating", "misfuelling", "over_speed")
#: Of every severity, ceiling, kind and place, with and without a family.
CODES = (
    "P0171", "P0174", "P2187", "P2177", "P0172", "P0300", "P0303", "P0304", "P0352", "P0203", "P0087", "P0087-11",
    "P0299", "P0234", "P0420", "P0442", "P0107", "P0122", "P0641", "P0562", "P0128", "P0219", "P0524", "P0011",
    "P0603", "P0700", "P0731", "U0100", "P1234", "P0999", "U0999", "B0123", "P2463",
)  # fmt: skip
TREATS = (
    "intake-leak-after-throttle",
    "low-pressure-fuel-supply-weak",
    "ignition-coil-or-lead-weak@cylinder 3",
    "catalyst-aged",
    "fault_memory.p0171",
    "fault_memory.unlisted",
)
LISTS = ("stored", "pending", "permanent")


def _codes(most: int) -> st.SearchStrategy[list[dict[str, str]]]:
    unit = st.sampled_from([{}, {}, {}, {"unit": "gearbox"}, {"unit": "brakes"}])
    status = st.sampled_from([{}, {}, {}, {"status": "2F"}, {"status": "64"}, {"status": "20"}, {"status": "50"}])
    row = st.tuples(st.sampled_from(CODES), unit, status).map(lambda drawn: {"code": drawn[0], **drawn[1], **drawn[2]})
    return st.lists(row, max_size=most)


def _answers(sound: bool) -> st.SearchStrategy[list[dict[str, str]]]:
    state = st.just("empty") if sound else st.sampled_from(["empty", "empty", "empty", "refused", "silent", "damaged"])
    return st.fixed_dictionaries(dict.fromkeys(LISTS, state)).map(lambda row: [row])


def _results(sound: bool) -> st.SearchStrategy[list[dict[str, str]]]:
    row = st.tuples(st.sampled_from(["21", "22", "3A", "A4", "05"]), st.integers(1, 600 if sound else 1100))
    return st.lists(
        row.map(
            lambda drawn: {
                "monitor": drawn[0],
                "test": "01",
                "scaling": "24",
                "value": f"{drawn[1]:04X}",
                "min": "00 00",
                "max": "03 E8",
            }
        ),
        max_size=2,
    )


def _memory(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    needed = {
        "read_before_clear": st.just("yes") if sound else st.sampled_from(["yes", "yes", "yes", "no", "unknown"]),
        "answers": _answers(sound),
        "warm_ups_since_clear": st.just(60) if sound else st.sampled_from([0, 1, 5, 12, 60]),
        "distance_since_clear": st.sampled_from(["1500 km", "2500 km"] if sound else ["8 km", "150 km", "1500 km"]),
        "monitor_status": st.sampled_from(
            ["00 07 65 00"] if sound else ["00 07 65 00", "81 07 65 05", "82 07 65 00"]
        ).map(lambda status: [{"since_clear": status}]),
        "lamp": st.just("off") if sound else st.sampled_from(["off", "on", "unknown"]),
        "test_results": _results(sound),
    }
    optional = {
        "full_load_since_clear": st.sampled_from(["yes", "no", "unknown"]),
        "lamp_at_key_on": st.just("lit") if sound else st.sampled_from(["lit", "dark", "unknown"]),
        "provocation": st.just("code_set") if sound else st.sampled_from(["code_set", "no_code"]),
    }
    if not sound:
        needed |= {"stored": _codes(3), "pending": _codes(2)}
        optional |= {
            "permanent": _codes(1),
            "trims": st.integers(-30, 30).map(
                lambda trim: [{"region": "cruise", "long": f"{trim} %", "coolant": "90 degC", "closed_loop": True}]
            ),
            "loads_at_misfire": st.sampled_from(["load_only", "idle_only", "both"]),
            "freeze_frames": st.sampled_from(CODES[:5]).map(
                lambda code: [{"code": code, "bytes": "0C 51 40, 43 01 7A"}]
            ),
        }
    return st.fixed_dictionaries(needed, optional=optional)


def _tables() -> st.SearchStrategy[dict[str, Any]]:
    def of(sound: bool, **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        made = {"fault_memory": _memory(sound)}
        return case_tables(made, vehicle=ENGINE, plan=PLAN, events=EVENTS, most_sheets=3, **more)

    return st.one_of(of(True, least_sheets=1), of(False, treats=TREATS))


def _worsen(data: st.DataObject, tables: dict[str, Any]) -> dict[str, Any] | None:
    """Add a code, store a pending one, let the lamp light, or leave less of a result to its limit."""
    if not tables.get("fault_memory"):
        return None
    sheet = data.draw(st.sampled_from(tables["fault_memory"]))
    ways = [
        "code",
        "lamp",
        *(["stored"] if sheet.get("pending") else []),
        *(["result"] if sheet["test_results"] else []),
    ]
    way = data.draw(st.sampled_from(ways))
    if way == "code":
        row = {"code": data.draw(st.sampled_from(CODES))}
        sheet.setdefault(data.draw(st.sampled_from(LISTS[:2])), []).append(row)
    elif way == "stored":
        sheet.setdefault("stored", []).append(data.draw(st.sampled_from(sheet["pending"])))
    elif way == "lamp":
        sheet["lamp"] = data.draw(st.sampled_from(["on", "flashing"]))
    else:
        row = data.draw(st.sampled_from(sheet["test_results"]))
        row["value"] = f"{data.draw(st.integers(int(row['value'], 16), 1100)):04X}"
    return tables


class TestFaultMemory(Invariants):
    scenario = Scenario(PLUGINS, _tables(), _worsen)
