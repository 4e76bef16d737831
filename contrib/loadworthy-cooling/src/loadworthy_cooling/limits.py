"""Every threshold, SI. A house file may override each of them by its full id, ``cooling.coolant_temperature`` ..."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Limit

LIMITS: Final = (
    Limit(
        "coolant_temperature",
        385.15,
        "temperature",
        "above",
        "coolant settled on the hot day",
        "judgement: 112 degC, a few kelvin below where many gauges and control units warn",
        "judgement",
        "fix_first",
        "the maker's figure goes before it",
    ),
    Limit(
        "boil_margin",
        12.0,
        "temperature_difference",
        "below",
        "settled coolant below boiling at cap pressure; the metal it flows past is hotter than the sensor",
        "judgement",
        "judgement",
        "watch",
    ),
    Limit(
        "boil_margin_least",
        6.0,
        "temperature_difference",
        "below",
        "settled coolant below boiling at cap pressure",
        "judgement",
        "judgement",
        "fix_first",
    ),
    Limit(
        "hold_loss",
        10e3,
        "pressure_difference",
        "above",
        "pressure lost by the cold system in 10 min",
        "common practice, no source",
        "common practice, no source",
        "fix_first",
    ),
    Limit(
        "cap_short",
        0.10,
        "ratio",
        "above",
        "cap opens below its mark, as a share of it",
        "common practice, no source",
        "common practice, no source",
        "watch",
    ),
    Limit("hot_day", 313.15, "temperature", "setting", "hottest day where none is named", "judgement", "judgement"),
    Limit("altitude_of_use", 1000.0, "altitude", "setting", "altitude where none is named", "judgement", "judgement"),
    Limit("steady_time", 180.0, "time", "setting", "shortest steady run", "judgement", "judgement"),
    Limit(
        "road_speed",
        80 / 3.6,
        "speed",
        "setting",
        "slowest road speed that cools as a full-load run does",
        "judgement",
        "judgement",
    ),
)
