"""The rules of this check: one for each family of codes, and those of the reading as a whole. Ratios are judgement.

A family's band holds its weights at exponent 1; a finding carries them to the power of the code's status.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Group, Rule
from loadworthy_plugins.fault_memory.code_table import FAMILIES, GLOBAL_GROUPS, PATTERNS
from loadworthy_plugins.fault_memory.ratios import RATIOS

SECTION, READING = "fault_memory", "full-memory-reading"
GROUPS: Final = (
    Group(
        "lambda sensor",
        "everything that the vehicle's lambda sensors report or control: trims, mixture codes, sensor traces, lambda "
        "from the exhaust gas",
    ),
    Group(
        "air meter",
        "everything computed from the metered air flow: air balance, volumetric efficiency, trims that follow it, "
        "air-metering codes",
    ),
    Group("key-on", "pressure sensors against station pressure, key on, engine off"),
)
CLEARED: Final = "memory-recently-cleared"
CHANGED: Final = "hardware-or-calibration-changed-before"


def bands(cause: str, rule: str) -> dict[str, dict[str, float]]:
    """Return the bands of a rule that speaks of one cause."""
    return {band: {cause: ratio} for band, ratio in RATIOS[rule].items()}


_WHOLE: Final = (
    Rule(
        "memory_age",
        SECTION,
        "how much the memory has seen since it was erased",
        READING,
        "memory age",
        bands(CLEARED, "memory_age"),
        "judgement",
    ),
    Rule(
        "reporting",
        SECTION,
        "whether the control unit still reports faults",
        "lamp-and-idle-reading",
        "reporting",
        bands(CHANGED, "reporting"),
        "judgement; the lamp must light 15 to 20 s at key-on: 13 CCR 1968.2(d)(2.1.2)",
    ),
    Rule(
        "provocation",
        SECTION,
        "an unplugged intake air sensor is reported",
        "reporting-provocation",
        "reporting",
        bands(CHANGED, "provocation"),
        "judgement",
    ),
    Rule("record", SECTION, "what the record itself shows: gaps, contradictions, what cannot be used", READING),
    Rule("silence", SECTION, "what it means that no code of a cause is present", READING, "silence"),
    Rule("lamp", SECTION, "the malfunction lamp as commanded and as seen", "lamp-and-idle-reading"),
    Rule(
        "readiness",
        SECTION,
        "monitors complete since the memory was erased",
        "drive-until-monitors-complete",
        # What it proves of an erased memory is what the memory's age says already.
        "memory age",
    ),
    Rule("test_margin", SECTION, "on-board test results against their limits", READING),
    Rule("misfire_counts", SECTION, "misfire counts by cylinder", READING),
    Rule("trim_banks", SECTION, "fuel trims of the banks against each other", READING, "lambda sensor"),
    Rule("warm_ups", SECTION, "warm-ups over distance since the memory was erased", READING),
    Rule("load_figures", SECTION, "absolute load against air flow, speed and displacement", READING, "air meter"),
    Rule("unlisted", SECTION, "codes that no family of the table holds", READING),
)

RULES: Final = (
    *_WHOLE,
    *(
        Rule(
            id,
            SECTION,
            str(entry[0]),
            READING,
            GLOBAL_GROUPS.get(entry[7], entry[7]),
            {"present": {cause: ratio for cause, ratio, _ in entry[10]}},
            "judgement; meaning after ISO 15031-6 / SAE J2012",
        )
        for id, entry in FAMILIES.items()
    ),
    *(
        Rule(
            f"pattern-{id}",
            SECTION,
            str(entry[3]),
            READING,
            f"pattern {id}",
            {"present": {cause: factor for cause, factor, _ in entry[4]}},
            "judgement",
        )
        for id, entry in PATTERNS.items()
    ),
)
