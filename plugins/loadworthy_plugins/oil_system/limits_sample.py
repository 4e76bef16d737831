"""Thresholds of an oil sample: viscosity, contamination, additive reserve, wear metals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy_plugins.shared_limits import ours, published, trade

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Limit

_L1: Final = "a lubricant maker's handbook, 2004, warning levels of motor oil"
_L2: Final = "a commercial laboratory's engine guide"
_STLE: Final = "Tribology & Lubrication Technology, May 2012: a uniform set of limits does not exist"

#: Element: name, ppm in the used oil, and ppm per 1 000 km to be watched and to be put right first.
WEAR: Final = {
    "fe": ("iron", 100.0, 5.0, 10.0),
    "cr": ("chromium", 10.0, 0.7, 1.5),
    "cu": ("copper", 20.0, 2.0, 4.0),
    "sn": ("tin", 10.0, 0.5, 1.0),
    "al": ("aluminium", 20.0, 2.0, 4.0),
    "pb": ("lead", 25.0, 1.0, 3.0),
    "si": ("silicon", 20.0, 2.0, 4.0),
}


def _wear() -> Iterator[Limit]:
    for symbol, (name, most, watch, fix) in WEAR.items():
        yield published(
            f"{symbol}_absolute",
            most * 1e-6,
            "share_trace",
            "above",
            f"{name} in the used oil",
            "watch",
            source=f"{_L1}; {_STLE}",
            applies="5 000 to 15 000 km on the oil; second choice: a pass clears nothing",
        )
        for grade, rate in (("watch", watch), ("fix", fix)):
            yield ours(
                f"{symbol}_rate_{grade}",
                rate * 1e-12,
                "trace_distance",
                "above",
                f"{name} made per distance",
                "watch" if grade == "watch" else "fix_first",
                source=f"judgement, scaled from {_L1} over 10 000 km",
                applies="twice as much for 5 000 km after a rebuild",
            )


SAMPLE_LIMITS: Final = (
    *_wear(),
    published(
        "kv100_change_loss",
        0.15,
        "ratio",
        "above",
        "viscosity at 100 degC lost against the fresh oil",
        "watch",
        source=f"{_L1}: 15 %; {_L2}: 10 and 20 %",
    ),
    published(
        "kv100_change_rise",
        0.2,
        "ratio",
        "above",
        "viscosity at 100 degC gained against the fresh oil",
        "watch",
        source=f"{_L2}: 20 and 30 %; {_L1}: 15 %",
    ),
    published(
        "kv100_change_band",
        "out of band",
        "text",
        "outside",
        "viscosity at 100 degC out of the band of its grade (SAE J300)",
        "fix_first",
        source="SAE J300",
    ),
    published(
        "fuel_petrol_watch",
        0.025,
        "share_mass",
        "above",
        "fuel in the oil",
        "watch",
        source=f"{_L2}; {_L1}: 5 %",
        applies="petrol",
    ),
    published(
        "fuel_petrol_fix",
        0.035,
        "share_mass",
        "above",
        "fuel in the oil",
        "fix_first",
        source=f"{_L2}; {_L1}: 5 %",
        applies="petrol",
    ),
    published(
        "fuel_petrol_stop",
        0.05,
        "share_mass",
        "above",
        "fuel in the oil",
        "stop",
        source=f"{_L2}; {_L1}: 5 %",
        applies="petrol",
    ),
    published(
        "fuel_diesel_watch", 0.035, "share_mass", "above", "fuel in the oil", "watch", source=_L2, applies="diesel"
    ),
    published(
        "fuel_diesel_fix", 0.05, "share_mass", "above", "fuel in the oil", "fix_first", source=_L2, applies="diesel"
    ),
    published("fuel_diesel_stop", 0.07, "share_mass", "above", "fuel in the oil", "stop", source=_L2, applies="diesel"),
    published("water_watch", 0.001, "share_mass", "above", "water in the oil", "watch", source=f"{_L1}: 0.1 %; {_L2}"),
    published(
        "water_fix", 0.003, "share_mass", "above", "water in the oil", "fix_first", source=f"{_L1}: 0.1 %; {_L2}"
    ),
    published("water_stop", 0.005, "share_mass", "above", "water in the oil", "stop", source=f"{_L1}: 0.1 %; {_L2}"),
    published("soot_watch", 0.035, "share_mass", "above", "soot in the oil", "watch", source=_L2, applies="diesel"),
    published("soot_fix", 0.05, "share_mass", "above", "soot in the oil", "fix_first", source=_L2, applies="diesel"),
    published("soot_stop", 0.07, "share_mass", "above", "soot in the oil", "stop", source=_L2, applies="diesel"),
    ours(
        "soot_direct_watch",
        0.01,
        "share_mass",
        "above",
        "soot in the oil",
        "watch",
        applies="petrol with direct injection",
    ),
    ours(
        "soot_direct_fix",
        0.02,
        "share_mass",
        "above",
        "soot in the oil",
        "fix_first",
        applies="petrol with direct injection",
    ),
    published("glycol", "present", "text", "above", "glycol in the oil", "stop", source=_L1),
    published("tbn_loss_watch", 0.5, "ratio", "above", "base number lost against the fresh oil", "watch", source=_L2),
    published(
        "tbn_loss_fix", 0.65, "ratio", "above", "base number lost against the fresh oil", "fix_first", source=_L2
    ),
    published("tbn_loss_stop", 0.8, "ratio", "above", "base number lost against the fresh oil", "stop", source=_L2),
    published(
        "tan_rise", 0.005, "acid_number", "above", "acid number risen against the fresh oil", "watch", source=_L1
    ),
    trade("tan_over_tbn", "acid above base", "text", "above", "acid number above the base number", "watch"),
    published(
        "al_absolute_block",
        8e-05,
        "share_trace",
        "above",
        "aluminium in the used oil",
        "watch",
        source=f"{_L1}; {_STLE}",
        applies="block of aluminium",
    ),
    published(
        "metal_history_factor",
        2.0,
        "ratio",
        "above",
        "rate over that of the earlier sample",
        "watch",
        source="Tribology & Lubrication Technology, May 2012: a sudden rise against own history outranks any table",
    ),
    ours(
        "dirt_ratio_low",
        2.0,
        "ratio",
        "setting",
        "silicon over aluminium that speaks for dirt, least",
        None,
        source="laboratory newsletter, 2013: 3 to 4; widened by judgement",
    ),
    ours(
        "dirt_ratio_high",
        6.0,
        "ratio",
        "setting",
        "silicon over aluminium that speaks for dirt, most",
        None,
        source="laboratory newsletter, 2013: 3 to 4; widened by judgement",
    ),
    trade("coolant_trace_sodium", 5e-05, "share_trace", "above", "sodium over the fresh oil", "watch"),
    trade("coolant_trace_potassium", 2e-05, "share_trace", "above", "potassium over the fresh oil", "watch"),
)
