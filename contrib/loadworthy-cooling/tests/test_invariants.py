"""What the method promises of every check, on drawn cases."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st
from vehicle import PLAN, VEHICLE

import loadworthy_cooling
import loadworthy_plugins.house_rules
import loadworthy_plugins.load_demand
from loadworthy.testing import Invariants, Scenario, case_tables


def _quantity(low: float, high: float, unit: str) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda x: f"{x:.3f} {unit}")


RUN = st.fixed_dictionaries(
    {
        "coolant_temperature": _quantity(60, 130, "degC"),
        "ambient_temperature": _quantity(1, 40, "degC"),
        "power": _quantity(20, 200, "kW"),
    },
    optional={
        "steady_time": _quantity(20, 600, "s"),
        "air": st.sampled_from(["road", "rollers_with_fan", "rollers_without_fan"]),
        "road_speed": _quantity(40, 200, "km/h"),
    },
)
#: The same on every sheet of a case: what one sheet alone says of the vehicle would go with it when it is taken away.
FACTS = st.fixed_dictionaries(
    {},
    optional={
        "thermostat_open_temperature": _quantity(80, 105, "degC"),
        "glycol_share": _quantity(0, 60, "%"),
        "cap_marked": _quantity(0.9, 1.5, "bar"),
        "cap_tested": _quantity(0.1, 1.6, "bar"),
        "hold_loss": _quantity(0, 60, "kPa"),
        "hot_day": _quantity(20, 50, "degC"),
    },
)


def with_facts(tables: dict[str, Any], facts: dict[str, str]) -> dict[str, Any]:
    """Write the facts of the vehicle on every sheet."""
    for row in tables.get("cooling", ()):
        row.update(facts)
    return tables


def hotter(data: st.DataObject, tables: dict[str, Any]) -> dict[str, Any] | None:
    """Make the coolant of one sheet hotter."""
    if not tables.get("cooling"):
        return None
    row = data.draw(st.sampled_from(tables["cooling"]))
    now = float(row["coolant_temperature"].split()[0])
    row["coolant_temperature"] = f"{data.draw(st.floats(now, 140.0)):.3f} degC"
    return tables


class TestCooling(Invariants):
    scenario = Scenario(
        plugins={
            "cooling": loadworthy_cooling,
            "house_rules": loadworthy_plugins.house_rules,
            "load_demand": loadworthy_plugins.load_demand,
        },
        tables=st.builds(
            with_facts,
            case_tables(
                {"cooling": RUN},
                vehicle=VEHICLE,
                plan=PLAN,
                treats=("cooling-core-blocked-outside", "cooling-leak-or-low-level", "cooling.plan"),
                events=("overheating",),
            ),
            FACTS,
        ),
        worsen=hotter,
    )
