"""Facts that this check asks for: those that its runs are held to, and for what place and fuel the plan is."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Fields
from loadworthy_plugins.modifications.sheet_run import RUN_VEHICLE

VEHICLE: Final = Fields("vehicle", RUN_VEHICLE)
PLAN: Final = Fields(
    "plan",
    (
        Field(
            "use_altitude_max",
            "quantity",
            "highest place at which the plan is to be driven at full load",
            kind="altitude",
            usual=(0.0, 3000.0),
            possible=(-400.0, 6000.0),
        ),
        Field(
            "ethanol_max",
            "quantity",
            "highest ethanol share of the fuel agreed on; not stated: the highest that its name permits",
            kind="share_volume",
            usual=(0.0, 0.85),
            possible=(0.0, 1.0),
        ),
    ),
)
