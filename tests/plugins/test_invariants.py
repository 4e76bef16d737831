"""The invariants over generated cases of the bundled checks, all of them together.

Worsened are single readings: a cylinder's dry compression, the pressure behind the jet, what is heard. Deficits are
relative, so that lowering the reading that is the reference can soften another's grade; such a change is not worse in
the sense of the method, and the suite leaves it out. So is a deeper piston that the reading no longer agrees with, or
a wet reading: what they say depends on another figure.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

import loadworthy_plugins.compression
import loadworthy_plugins.house_rules
import loadworthy_plugins.load_demand
from loadworthy.testing import Invariants, Scenario, case_tables

CYLINDERS = ("1", "2", "3", "4")
PLUGINS = {
    "compression": loadworthy_plugins.compression,
    "house_rules": loadworthy_plugins.house_rules,
    "load_demand": loadworthy_plugins.load_demand,
}
ENGINE = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "displacement": "1998 cm3",
    "cylinder_count": 4,
    "cylinder_banks": [[1, 2, 3, 4]],
    "cylinder_arrangement": "inline",
    "engine_cycle": "four_stroke",
    "compression_ratio": 10.0,
    "bore": "86 mm",
    "stroke": "86 mm",
    "rod_length": "143 mm",
    "intake_closing": "43 deg",
    "intake_closing_basis": "1mm",
    "engine_speed_limit": "6500 rpm",
    "highest_logged_speed": "6480 rpm",
    "compression_spec_min": "10 bar",
    "compression_spec_nominal": "13 bar",
    "base_torque_measured": {"2000 rpm": "280 N m", "3500 rpm": "300 N m", "5500 rpm": "260 N m"},
}
PLAN = {"torque": {"2000 rpm": "330 N m", "3500 rpm": "380 N m", "5500 rpm": "320 N m"}}
# Not knock or hydrolock: they accuse every cylinder alike, and a tie is then ordered by the last bit of a unit.
EVENTS = ("overheating", "over_speed", "rebuild")
CONDITIONS = {"ambient_pressure": "1013 hPa", "ambient_pressure_kind": "station"}


def _each(low: float, high: float, unit: str) -> st.SearchStrategy[dict[str, str]]:
    return st.fixed_dictionaries(dict.fromkeys(CYLINDERS, st.floats(low, high).map(lambda v: f"{v:.2f} {unit}")))


def _dry(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    good = {
        "throttle_state": "wide_open",
        "plugs_removed": "all",
        "compression_strokes": 6,
        "cranking_speed": "230 rpm",
    }
    readings = _each(12.9, 13.1, "bar")
    beside = {"piston_height": _each(0.4, 2.0, "mm"), "wet_reading": _each(9.0, 16.0, "bar")}
    return st.tuples(
        readings if sound else st.one_of(readings, _each(8.0, 13.5, "bar")),
        st.just({}) if sound else st.fixed_dictionaries({}, optional=beside),
    ).map(lambda pair: {"dry_reading": pair[0], **pair[1], **good, "coolant_temp": "82 degC", **CONDITIONS})


def _leak(sound: bool) -> st.SearchStrategy[dict[str, Any]]:
    held = {"leak_supply": "80 psi", "leak_orifice_diameter": "1.016 mm", "leak_orifice_cd": 0.85}
    places = [["none_heard"], ["exhaust"], ["oil_filler"], ["intake"], ["outside"]]
    heard = st.sampled_from(places[:1] if sound else places)
    pressures = _each(76.0 if sound else 50.0, 78.0, "psi")
    return st.tuples(pressures, st.fixed_dictionaries(dict.fromkeys(CYLINDERS, heard))).map(
        lambda pair: {
            "leak_cylinder": pair[0],
            "leak_escape": pair[1],
            **held,
            "leak_tdc_held": True,
            "leak_engine_warm": True,
            **CONDITIONS,
        }
    )


def _tables() -> st.SearchStrategy[dict[str, Any]]:
    def of(sound: bool, **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        sections = {"compression": _dry(sound), "leak_down": _leak(sound)}
        return case_tables(sections, vehicle=ENGINE, plan=PLAN, events=EVENTS, most_sheets=2, **more)

    treats = (
        "exhaust-valve-seal@cylinder 2",
        "ring-seal",
        "bent-connecting-rod",
        "over-speed-event",
        "head-gasket",
        "compression.balance@cylinder 3",
    )
    return st.one_of(of(True, least_sheets=1), of(False, treats=treats))


def _worsen(data: st.DataObject, tables: dict[str, Any]) -> dict[str, Any] | None:
    """Lower a dry reading or the pressure behind the jet, or let air be heard where none was."""
    readings = [row["dry_reading"] for row in tables.get("compression", ())]
    leaks = tables.get("leak_down", ())
    readings += [row["leak_cylinder"] for row in leaks]
    if not readings:
        return None
    cylinder = data.draw(st.sampled_from(CYLINDERS))
    silent = [row["leak_escape"] for row in leaks if row["leak_escape"][cylinder] == ["none_heard"]]
    if silent and data.draw(st.booleans()):
        data.draw(st.sampled_from(silent))[cylinder] = [
            data.draw(st.sampled_from(["exhaust", "intake", "oil_filler", "outside"]))
        ]
        return tables
    chosen = data.draw(st.sampled_from(readings))
    number, unit = chosen[cylinder].split()
    chosen[cylinder] = f"{float(number) * data.draw(st.floats(0.6, 1.0)):.3f} {unit}"
    return tables


class TestBundledChecks(Invariants):
    scenario = Scenario(PLUGINS, _tables(), _worsen)
