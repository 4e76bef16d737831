"""Every threshold that the plan itself is held to, and the rules that use them. All of it is judgement."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Limit, Rule

_SOURCE: Final = "judgement; older textbook ranges are too low for today's engines"


def _mean_pressure(engine: str, words: str, watch: float, refuse: float) -> tuple[Limit, Limit]:
    return (
        Limit(
            f"mean_pressure_{engine}_watch",
            watch,
            "pressure_difference",
            "above",
            f"planned mean effective pressure of {words}: unusual",
            _SOURCE,
            "judgement",
            "watch",
        ),
        Limit(
            f"mean_pressure_{engine}_refuse",
            refuse,
            "pressure_difference",
            "above",
            f"planned mean effective pressure of {words}: the plan is not believed",
            _SOURCE,
            "judgement",
            "watch",
            applies="judged on the low end of the planned torque",
        ),
    )


LIMITS: Final = (
    *_mean_pressure("aspirated_spark", "a naturally aspirated petrol, gas or alcohol engine", 12.8e5, 15e5),
    *_mean_pressure("charged_spark", "a charged petrol, gas or alcohol engine", 28e5, 40e5),
    *_mean_pressure("aspirated_diesel", "a naturally aspirated diesel", 9.5e5, 12e5),
    *_mean_pressure("charged_diesel", "a charged diesel", 28e5, 38e5),
    Limit(
        "specific_fuel_spark_watch",
        0.215 / 3.6e6,
        "consumption_energy",
        "below",
        "fuel per work at full load that no petrol engine reaches; other fuels by their heating value",
        "judgement; best point of petrol engines about 270 g/kWh in public lecture notes",
        "judgement",
        "watch",
    ),
    Limit(
        "specific_fuel_diesel_watch",
        0.185 / 3.6e6,
        "consumption_energy",
        "below",
        "fuel per work at full load that no diesel engine reaches",
        "judgement; best point of large diesels about 200 g/kWh in public lecture notes",
        "judgement",
        "watch",
    ),
    Limit(
        "plan_doubtful",
        2.0,
        "number",
        "above",
        "filling that the plan needs above the usual one of the engine type, in standard uncertainties of that",
        "judgement",
        "judgement",
        "watch",
        applies="engines without charging; on the nominal value, the margin is in the limit",
    ),
    Limit(
        "plan_not_reachable_without_boost",
        1.15,
        "number",
        "above",
        "volumetric efficiency, on manifold density, that no engine without charging reaches",
        "judgement; tuned naturally aspirated engines reach about 1.15",
        "judgement",
        "watch",
        applies="engines without charging; on the nominal value, the margin is in the limit",
    ),
    Limit(
        "single_stage_ratio_max",
        3.2,
        "number",
        "above",
        "planned compressor pressure ratio above which a second stage was probably overlooked",
        "judgement",
        "judgement",
        "note",
        applies="one turbocharger stage",
    ),
    Limit(
        "boost_disagreement",
        2.0,
        "number",
        "above",
        "distance of the stated boost from the one that the planned torque needs, in standard uncertainties",
        "judgement",
        "judgement",
        "watch",
        applies="plans that state both torque and boost",
    ),
)

RULES: Final = (
    Rule("totals", "", "what the plan takes at its greatest power, and over today's"),
    Rule("mean_pressure", "", "planned mean effective pressure against what such engines reach"),
    Rule("specific_fuel", "", "fuel per work that the plan implies against what such engines reach"),
    Rule("filling", "", "filling that the plan needs of an engine without charging"),
    Rule("stages", "", "planned compressor pressure ratio against one stage"),
    Rule("boost_and_torque", "", "stated boost against the one that the planned torque needs"),
    Rule("displacement_round", "", "displacement given as a trade name instead of the true figure"),
    Rule("corrected_figures", "", "figures corrected to a reference atmosphere that a charged engine does not feel"),
)
