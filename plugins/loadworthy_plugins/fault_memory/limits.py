"""Thresholds of the fault memory. A setting steers a rule and has no grade."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Limit
from loadworthy_plugins.shared_limits import ours, published, trade

LIMITS: Final[tuple[Limit, ...]] = (
    ours("exposure_warm_ups", 10.0, "number", "setting", "warm-ups since erasing at full exposure", None),
    ours("exposure_distance", 200e3, "distance", "setting", "distance since erasing at full exposure", None),
    ours("exposure_time", 18000.0, "time", "setting", "running time since erasing at full exposure", None),
    ours("exposure_recent", 0.3, "number", "setting", "exposure below which a memory is recent", None),
    published(
        "monitors_unset_report",
        1.0,
        "number",
        "above",
        "monitors not complete: would be rejected at an inspection in the United States",
        "note",
        source="EPA420-R-01-015 (June 2001), as quoted in a service manual: one from model year 2001 on",
        applies="model year 2001 on",
    ),
    published(
        "monitors_unset_report_1996",
        2.0,
        "number",
        "above",
        "monitors not complete: would be rejected at an inspection in the United States",
        "note",
        source="EPA420-R-01-015 (June 2001), as quoted in a service manual: two for model years 1996 to 2000",
        applies="model years 1996 to 2000",
    ),
    ours("monitors_unset_clear", 0.0, "number", "above", "monitors not complete: the memory is not settled", "note"),
    ours(
        "distance_shortfall",
        0.9,
        "number",
        "setting",
        "share of the odometer's difference that counters must show",
        None,
    ),
    ours("load_fraction", 0.9, "number", "setting", "share of a freeze frame's load that may be used", None),
    ours(
        "frame_voltage_low",
        10.5,
        "voltage",
        "setting",
        "supply in a freeze frame below which circuits count half",
        None,
    ),
    ours("cold_runner", 1.0, "number", "below", "warm-ups per 100 km, over at least 300 km", "watch"),
    ours("trim_code_from", 0.10, "ratio", "setting", "total trim from which it counts as half a code", None),
    trade("trim_code_full", 0.25, "ratio", "setting", "total trim at which many diagnostics set a code", None),
    ours("bank_shared", 0.05, "ratio", "setting", "difference of banks up to which a cause is shared", None),
    ours("bank_fault", 0.06, "ratio", "above", "difference between the banks' trims", "watch"),
    ours("test_margin_watch", 0.25, "ratio", "below", "margin of a test result to its limit", "watch"),
    ours(
        "test_margin_act", 0.10, "ratio", "below", "margin of a test result to its limit: repeat after 500 km", "watch"
    ),
    ours(
        "misfire_mean_watch", 5.0, "number", "above", "mean misfire count, and five times the others' median", "watch"
    ),
    ours("load_mismatch", 0.15, "ratio", "above", "absolute load against air flow, speed and displacement", "note"),
    published(
        "lamp_bit_dark",
        None,
        "text",
        "above",
        "lamp commanded on and dark",
        "fix_first",
        source="40 CFR 85.2207(b)",
    ),
)
