"""The vehicle, the plan and the sound run that the tests change."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from typing import Any

from loadworthy import Register

#: What the fixtures ``sheet`` and ``register`` are.
Sheets = Callable[..., dict[str, Any]]
Registers = Callable[..., Register]

DAY = datetime.date(2026, 5, 10)
VEHICLE: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "displacement": "1998 cm3",
    "cylinder_count": 4,
    "power_basis": "crank_measured",
    "power_correction": "none",
    "base_torque_measured": {"2000 rpm": "280 N m", "4000 rpm": "300 N m", "5500 rpm": "250 N m"},
}
#: At most 280 N m at 5 500 rpm: 161.3 kW; today 144.0 kW.
PLAN: dict[str, Any] = {
    "torque": {"2000 rpm": "300 N m", "4000 rpm": "336 N m", "5500 rpm": "280 N m"},
    "goal": "power",
    "lambda": 0.87,
    "power_basis": "crank_measured",
}
#: 56 K over the air at 140 kW: the plan settles at 40 + 56 x 161.3 / 140 = 104.5 degC on a day of 40 degC.
SOUND: dict[str, Any] = {
    "coolant_temperature": "86 degC",
    "ambient_temperature": "30 degC",
    "power": "140 kW",
    "steady_time": "5 min",
    "air": "road",
    "road_speed": "160 km/h",
    "thermostat_open_temperature": "82 degC",
    "glycol_share": "50 %",
    "cap_marked": "1.4 bar",
    "cap_tested": "1.38 bar",
    "hold_loss": "3 kPa",
}
#: Standard uncertainties of a good logger and calibrated rollers.
KNOWN_U = {"power": "1 kW", "coolant_temperature": "0.5 K", "ambient_temperature": "0.5 K"}
