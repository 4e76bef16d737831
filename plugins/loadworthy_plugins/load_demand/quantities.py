"""The demanded quantities that the model supplies."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Quantity

QUANTITIES: Final = (
    Quantity("torque", "torque", "crankshaft torque", role="load"),
    Quantity("power", "power", "crankshaft power"),
    Quantity("engine_speed", "rotation", "crankshaft speed", role="speed"),
    Quantity(
        "manifold_pressure",
        "pressure_abs",
        "intake manifold pressure (boost above local ambient is derived, never stored)",
    ),
    Quantity("air_flow", "flow_mass", "air through the engine"),
    Quantity("fuel_flow", "flow_mass", "fuel through the engine"),
    Quantity("exhaust_flow", "flow_mass", "air plus fuel"),
    Quantity("charge_temperature", "temperature", "gas in the intake manifold"),
    Quantity("compressor_outlet_temperature", "temperature", "gas after the compressor"),
    Quantity("compressor_pressure_ratio", "ratio", "absolute over absolute"),
    Quantity("compressor_speed", "ratio", "tip speed relative to the demonstrated one"),
    Quantity("mean_pressure", "pressure_difference", "brake mean effective pressure"),
    Quantity("heat_load", "power", "fuel flow times lower heating value: heat released, sustained"),
)
