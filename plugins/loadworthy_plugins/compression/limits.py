"""Every threshold of this check, with its source. A maker's figure takes the place of the default."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Limit

if TYPE_CHECKING:
    from typing import Literal

    from loadworthy.sdk import Grade

    Worse = Literal["above", "below", "outside", "setting"]

_OURS: Final = "judgement"
_TRADE: Final = "common practice, no source"


def _judged(
    name: str,
    value: float | None,
    kind: str,
    worse: Worse,
    text: str,
    grade: Grade | None,
    source: str = "judgement",
    applies: str = "",
) -> Limit:
    return Limit(name, value, kind, worse, text, source, "judgement", grade, applies)


def _trade(
    name: str, value: float, kind: str, worse: Worse, text: str, grade: Grade | None, applies: str = ""
) -> Limit:
    return Limit(name, value, kind, worse, text, _TRADE, "common practice, no source", grade, applies)


def _published(
    name: str, value: float, kind: str, worse: Worse, text: str, grade: Grade, source: str, applies: str = ""
) -> Limit:
    return Limit(name, value, kind, worse, text, source, "published", grade, applies)


_AREA: Final = "200 rpm, own displacement and ratio; fixed reference: 5 % on a jet of 1.016 mm at 5.516 bar gauge"
_KNOWN_JET: Final = "known jet; a worse best cylinder excuses nobody"

LIMITS: Final = (
    _judged(
        "deficit_watch",
        0.05,
        "ratio",
        "above",
        "cylinder low against the reference, and beyond what the scatter explains",
        "watch",
        applies="z above 2.5, from seven cylinders above 3.0",
    ),
    _judged(
        "deficit_fix",
        0.12,
        "ratio",
        "above",
        "cylinder low against the reference",
        "fix_first",
        "judgement; stricter than trade rules because load rises",
    ),
    _published(
        "deficit_stop",
        0.25,
        "ratio",
        "above",
        "cylinder low against the reference",
        "stop",
        "TM 5-4210-230-14&P-1, addendum 2: lowest at least 75 % of highest",
    ),
    _trade("rule_min_over_max_strict", 0.90, "ratio", "below", "trade rule: lowest over highest", "note"),
    _trade("rule_min_over_max_70", 0.70, "ratio", "below", "trade rule: lowest over highest", "note"),
    _published(
        "rule_below_mean",
        0.20,
        "ratio",
        "above",
        "trade rule: shortfall of the lowest from the mean",
        "note",
        "TM 1-1500-204-23-1 (aircraft); the mean contains the fault: on four it is 25 % of the others",
    ),
    _published(
        "rule_abs_petrol",
        69e3,
        "pressure_difference",
        "above",
        "trade rule: spread between cylinders",
        "note",
        "TM 10-3930-618-20, par. 2-12 (an engine of 120 to 125 psi): 10 psi",
        "petrol",
    ),
    _published(
        "rule_abs_diesel",
        690e3,
        "pressure_difference",
        "above",
        "trade rule: spread between cylinders",
        "note",
        "TM 5-2420-230-24-2: 100 psi",
        "diesel",
    ),
    _trade(
        "floor_petrol",
        690e3,
        "pressure_gauge",
        "below",
        "reading at standard atmosphere",
        "fix_first",
        "petrol, conventional intake closing, no maker's minimum; a cylinder alone below it: stop",
    ),
    _trade(
        "floor_diesel",
        1.8e6,
        "pressure_gauge",
        "below",
        "reading at standard atmosphere",
        "fix_first",
        "direct injection, no maker's minimum; a cylinder alone below it: stop",
    ),
    _judged(
        "spec_short",
        None,
        "pressure_gauge",
        "below",
        "reading at standard atmosphere under the maker's minimum",
        "fix_first",
        "maker",
        "a coarse gauge buys nothing",
    ),
    _judged(
        "spec_spread",
        None,
        "pressure_difference",
        "above",
        "spread over the maker's greatest difference",
        "fix_first",
        "maker",
    ),
    _judged(
        "all_high_watch",
        0.08,
        "ratio",
        "above",
        "all cylinders above maker's nominal or own record",
        "watch",
        applies="never against the maker's minimum",
    ),
    _judged(
        "all_high_fix",
        0.12,
        "ratio",
        "above",
        "all cylinders above maker's nominal or own record",
        "fix_first",
        applies="never against the maker's minimum",
    ),
    _judged(
        "single_high",
        0.08,
        "ratio",
        "above",
        "one cylinder above median, record and nominal",
        "fix_first",
        applies="beyond the scatter; watch once liquid is excluded by borescope",
    ),
    _judged(
        "leak_area_watch",
        0.04,
        "ratio",
        "above",
        f"cranking compression lost by the leak: {_AREA}",
        "watch",
        applies=_KNOWN_JET,
    ),
    _judged(
        "leak_area_fix",
        0.08,
        "ratio",
        "above",
        f"cranking compression lost by the leak: {_AREA}",
        "fix_first",
        applies=_KNOWN_JET,
    ),
    _judged(
        "leak_area_stop",
        0.12,
        "ratio",
        "above",
        f"cranking compression lost by the leak: {_AREA}",
        "stop",
        applies=_KNOWN_JET,
    ),
    _judged(
        "leak_area_all",
        0.08,
        "ratio",
        "above",
        "every cylinder loses at least this much",
        "fix_first",
        applies=_KNOWN_JET,
    ),
    _trade(
        "leak_pct_normal",
        0.10,
        "ratio",
        "above",
        "loss in percent, jet unknown",
        "watch",
        "ordinal: at or below it clears nothing",
    ),
    _trade(
        "leak_pct_excess",
        0.20,
        "ratio",
        "above",
        "loss in percent, jet unknown",
        "fix_first",
        "ordinal; aircraft guidance has 25 % (FAA AC 43.13-1B, par. 8-14)",
    ),
    _judged(
        "leak_valve_audible",
        0.05,
        "ratio",
        "above",
        "loss over the best cylinder with which an escape heard at intake or exhaust is more than a hiss",
        "fix_first",
        applies="or a low reading, or leak_area_watch; coolant or a neighbour heard: stop",
    ),
    _trade(
        "leak_only_rings_heard",
        0.10,
        "ratio",
        "above",
        "loss up to which air heard at the oil filler alone is normal",
        "note",
    ),
    _judged(
        "blowby_high",
        1.5,
        "ratio",
        "above",
        "blow-by or crankcase pressure over own record; the maker's limit in its place where it is given",
        "fix_first",
        applies="same speed, load and restrictor",
    ),
    _published(
        "trace_weak",
        0.80,
        "ratio",
        "below",
        "hump of the starter current over the median hump",
        "fix_first",
        "IPCOM000073361, Automobile Diagnosis, 1970-12-01: 20 % deviation from the average",
        "up to six cylinders; above: ordinal. Pending the gauge",
    ),
    _judged(
        "speed_spread",
        0.10,
        "ratio",
        "setting",
        "spread of cranking speed between cylinders: not comparable",
        None,
        applies="or 25 rpm",
    ),
    _judged(
        "speed_spread_abs",
        25.0 / 60.0,
        "rotation",
        "setting",
        "spread of cranking speed between cylinders: not comparable",
        None,
    ),
    _trade(
        "speed_floor_petrol",
        150.0 / 60.0,
        "rotation",
        "setting",
        "least cranking speed of a valid test",
        None,
        "petrol",
    ),
    _trade(
        "speed_floor_diesel",
        130.0 / 60.0,
        "rotation",
        "setting",
        "least cranking speed of a valid test",
        None,
        "diesel",
    ),
    _trade("least_strokes", 4.0, "number", "setting", "fewest compression strokes of a comparable reading", None),
    _judged(
        "least_coolant_temp",
        333.15,
        "temperature",
        "setting",
        "coolant below this: cold, readings are lower",
        None,
        "judgement; common practice is to test warm, 70 to 100 degC",
    ),
    _judged("late_closing", 70.0, "angle", "setting", "intake closing later than this is late by design", None),
    _judged(
        "piston_short", 0.3e-3, "length", "above", "piston lower at top dead centre than the highest other", "fix_first"
    ),
    _judged(
        "head_force_ratio",
        1.25,
        "ratio",
        "above",
        "gas force on the head, plan over base",
        "watch",
        applies="no proof of head fixings",
    ),
)
