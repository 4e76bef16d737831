"""The rules of this check with their likelihood ratios: P(result | cause) / P(result | not cause), all judgement.

Results of one group share a measurement: of each cause only the strongest one per group counts. Groups: the pressures
of one sheet, the viscosity of the oil, the wear metals of one sample, what is mechanical on one sheet; others are a
test's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Group, Rule

if TYPE_CHECKING:
    from collections.abc import Mapping

    Ratios = Mapping[str, float]

SWEEP, COLD, COMPARE, STAGE = "oil-pressure-sweep", "cold-start-oil-pressure", "sender-comparison", "oil-stage-test"
SAMPLE, LOOK, CUT, SUMP = "oil-sample", "oil-level-and-look", "filter-cut-open", "sump-off-inspection"
DROP, RUN, TURBO, STEADY = "oil-filter-drop", "oil-consumption-run", "turbo-oil-feed-test", "steady-load-log"

PRESSURE, VISCOSITY = "oil pressure", "oil viscosity"
GROUPS: Final = (
    Group(PRESSURE, "one sheet of oil pressure readings", per_sheet=True),
    Group(VISCOSITY, "the viscosity of the oil in the sump"),
)

BEARINGS, PUMP, OPEN = "crankshaft-bearing-clearance", "oil-pump-wear", "oil-relief-valve-stuck-open"
SHUT, PICK_UP, THIN = "oil-relief-valve-stuck-shut", "oil-pick-up-restricted", "oil-too-thin"
SENDER, CONTROL, FUEL, COOLANT = (
    "oil-pressure-sender-fault",
    "oil-pump-control-fault",
    "fuel-dilution",
    "coolant-in-oil",
)
GALLERY, OVERDUE, SLUDGE, DIRT = (
    "oil-gallery-blocked",
    "oil-overdue-or-degraded",
    "oil-sludge",
    "dirt-ingestion",
)


def _ratios(
    bearings: float, pump: float, relief_open: float, pick_up: float, thin: float, sender: float
) -> dict[str, float]:
    """Return one line of the table of causes of low pressure."""
    return {BEARINGS: bearings, PUMP: pump, OPEN: relief_open, PICK_UP: pick_up, THIN: thin, SENDER: sender}


def _pressure(name: str, text: str, test: str = SWEEP, group: str = PRESSURE, **bands: Ratios) -> Rule:
    return Rule(name, "oil_pressure", text, test, group, bands, "judgement")


def _sample(name: str, text: str, group: str, **bands: Ratios) -> Rule:
    return Rule(name, "oil_sample", text, SAMPLE, group, bands, "judgement")


def _look(name: str, text: str, group: str, test: str = LOOK, **bands: Ratios) -> Rule:
    return Rule(name, "oil_look", text, test, group, bands, "judgement")


_DROOPS: Final = _ratios(0.3, 1.0, 0.5, 10.0, 0.7, 1.5)
_DROOPS_IDLE_LOW: Final = _ratios(1.0, 1.0, 0.5, 10.0, 0.7, 1.5)

PRESSURE_RULES: Final = (
    _pressure("maker_min", "pressure against the maker's least, corrected to his temperature and grade"),
    _pressure("maker_max", "pressure against the maker's greatest"),
    _pressure("absolute_min", "pressure as read against what no engine may have"),
    _pressure("hot_idle", "hot idle against the trade's figures"),
    _pressure("record_share", "pressure against this engine's own record"),
    _pressure("rule_of_thumb", "pressure over engine speed against the rule of thumb"),
    _pressure("physics_floor", "pressure against what carries oil to the crank axis"),
    _pressure(
        "leak_index",
        "pressure over viscosity and speed, against the record or the maker's minimum",
        low_measured=_ratios(6.0, 6.0, 3.0, 1.0, 0.2, 1.5),
        low_label=_ratios(2.5, 2.5, 2.0, 1.0, 3.0, 1.5),
        clear_measured=_ratios(0.15, 0.2, 0.1, 0.4, 1.0, 0.5),
        clear_label=_ratios(0.6, 0.6, 0.4, 0.7, 1.0, 0.7),
    ),
    _pressure(
        "low_by_viscosity",
        "pressure low as read, but clear once corrected for viscosity",
        group=VISCOSITY,
        measured={THIN: 5.0},
        label={THIN: 3.0},
    ),
    _pressure("leak_index_high", "more resistance than this engine's own record", noisy_top_end={GALLERY: 8.0}),
    _pressure(
        "cold_pressure",
        "cold pressure against the relief setting",
        COLD,
        far_below=_ratios(0.4, 2.0, 8.0, 2.0, 0.3, 3.0),
        normal=_ratios(1.3, 0.8, 0.1, 0.5, 1.3, 0.4),
    ),
    _pressure(
        "plateau_high",
        "pressure above the relief setting",
        COLD,
        cold={SHUT: 15.0},
        cold_at_relief={SHUT: 0.05},
    ),
    _pressure("plateau_low", "pressure levels off below the relief setting"),
    _pressure("droop", "pressure falls towards the highest speed", droops=_DROOPS, droops_idle_low=_DROOPS_IDLE_LOW),
    _pressure("flutter", "pressure flutters at steady speed", flutters=_DROOPS, flutters_idle_low=_DROOPS_IDLE_LOW),
    _pressure(
        "surge",
        "pressure lost in bends or under braking",
        level_low=_ratios(0.5, 0.5, 0.5, 6.0, 0.5, 0.5),
    ),
    _pressure(
        "build_time",
        "time to pressure after a cold start",
        COLD,
        slow=_ratios(0.8, 2.0, 1.5, 4.0, 0.5, 1.0),
    ),
    _pressure(
        "stages",
        "commanded stages against what was reached: following its command clears the pump, not the bearings",
        STAGE,
        high_not_reached={CONTROL: 15.0},
        stuck_high={CONTROL: 10.0, PUMP: 0.2},
        reached={CONTROL: 0.05, PUMP: 0.2},
    ),
    _pressure(
        "sender_disagree",
        "vehicle's sender against a gauge at the same instant",
        COMPARE,
        "mechanical",
        gauge_normal=_ratios(0.1, 0.1, 0.1, 0.3, 0.3, 20.0),
        gauge_low=_ratios(1.2, 1.2, 1.2, 1.2, 1.2, 20.0),
        agrees=_ratios(1.2, 1.2, 1.2, 1.2, 1.2, 0.05),
    ),
    _pressure("sender_zero", "vehicle's sender with the engine off", COMPARE, "mechanical"),
    _pressure(
        "filter_drop",
        "drop over the oil filter, hot",
        DROP,
        "filter",
        over={"oil-filter-restricted": 10.0},
        below_half={"oil-filter-restricted": 0.1},
    ),
    _pressure(
        "far_gallery",
        "far end of the gallery against the gauge point",
        DROP,
        "gallery",
        near={GALLERY: 0.2},
        below={GALLERY: 3.0},
    ),
)

SAMPLE_RULES: Final = (
    _sample(
        "viscosity",
        "viscosity of the used oil against the fresh one and its grade",
        VISCOSITY,
        low={THIN: 12.0, SENDER: 0.8},
        in_band={THIN: 0.1},
    ),
    _sample(
        "thick",
        "viscosity above the band of its grade",
        VISCOSITY,
        above_band={"oil-too-thick": 12.0},
        in_band={"oil-too-thick": 0.1},
    ),
    _sample(
        "grade",
        "viscosity against the grade that the maker asks for",
        VISCOSITY,
        outside={"oil-wrong-grade": 10.0},
        inside={"oil-wrong-grade": 0.1},
        inside_kv_only={"oil-wrong-grade": 0.3},
    ),
    _sample(
        "fuel",
        "fuel in the oil",
        "fuel",
        over={FUEL: 30.0},
        over_other_method={FUEL: 5.0},
        low={FUEL: 0.05},
    ),
    _sample("fuel_flash", "viscosity and flash point both lowered", "fuel", both={FUEL: 15.0}),
    _sample(
        "two_temperatures",
        "viscosity lost at 40 and at 100 degC: fuel or sheared polymer",
        VISCOSITY,
        fuel={FUEL: 4.0},
        shear={FUEL: 0.25},
    ),
    _sample(
        "coolant",
        "glycol, potassium, sodium, water",
        "coolant",
        glycol={COOLANT: 50.0},
        metals={COOLANT: 10.0},
        none={COOLANT: 0.05},
    ),
    _sample("coolant_trace", "sodium and potassium over the fresh oil", "coolant"),
    _sample("water", "water in the oil", "coolant"),
    _sample("soot", "soot in the oil", "reserve"),
    _sample("tbn", "base number left", "reserve"),
    _sample("tan", "acid number", "reserve"),
    _sample("reserve", "base number, acid number and soot together", "reserve", inside={OVERDUE: 0.3}),
    *(
        _sample(f"wear_{symbol}", f"{name} made per distance", "wear metals")
        for symbol, name in (
            ("fe", "iron"),
            ("al", "aluminium"),
            ("cu", "copper"),
            ("pb", "lead"),
            ("sn", "tin"),
            ("cr", "chromium"),
            ("si", "silicon"),
        )
    ),
    _sample(
        "bearing_metals",
        "lead, tin and copper; all wear metals",
        "wear metals",
        twice=_ratios(6.0, 0.7, 1.0, 1.5, 1.5, 0.5),
        normal=_ratios(0.4, 0.8, 1.0, 1.0, 1.0, 1.2),
    ),
    _sample(
        "dirt",
        "silicon with aluminium and iron",
        "wear metals",
        dirt={DIRT: 8.0},
        silicon_alone={DIRT: 0.5},
        normal={DIRT: 0.2},
    ),
)

LOOK_RULES: Final = (
    _look(
        "level",
        "oil level between the marks",
        "level",
        low={"oil-level-low": 50.0},
        between={"oil-level-low": 0.02},
    ),
    _look(
        "level_rising",
        "oil level above full and rising",
        "level",
        rising={FUEL: 5.0},
        rising_coolant_falling={FUEL: 5.0, COOLANT: 8.0},
    ),
    _look(
        "consumption",
        "oil consumption, level to level",
        "consumption",
        RUN,
        high={"oil-consumption-high": 20.0},
        low={"oil-consumption-high": 0.05},
    ),
    _look(
        "sludge",
        "sludge at cap, filter and screen",
        "sludge",
        screen_blocked={SLUDGE: 20.0},
        hard_sludge={SLUDGE: 10.0},
        varnish_overdue={SLUDGE: 5.0},
        screen_clean={SLUDGE: 0.05},
        no_sign={SLUDGE: 0.5},
    ),
    _look("cap_cream", "cream under the cap", "cap", alone={COOLANT: 1.2}),
    _look(
        "knock",
        "knock from the crankcase",
        "mechanical",
        changes=_ratios(8.0, 0.7, 0.7, 1.0, 1.0, 0.7),
    ),
    _look(
        "filter_cut",
        "oil filter cut open",
        "mechanical",
        CUT,
        flakes=_ratios(20.0, 0.7, 0.7, 2.0, 1.0, 0.5),
        clean=_ratios(0.4, 1.0, 1.0, 0.9, 1.0, 1.0),
    ),
    _look("shells", "bearing shells inspected", "shells", SUMP, over={BEARINGS: 20.0}, in_limits={BEARINGS: 0.1}),
    _look("pump", "oil pump opened", "pump", SUMP, worn={PUMP: 20.0}, in_limits={PUMP: 0.1}),
    _look("pick_up", "pick-up and seal seen", "pick-up", SUMP, faulty={PICK_UP: 20.0}, sound={PICK_UP: 0.1}),
    _look(
        "relief_valve",
        "relief valve seen",
        "relief valve",
        SUMP,
        stuck_open={OPEN: 20.0, SHUT: 0.1},
        stuck_shut={SHUT: 20.0, OPEN: 0.1},
        free={OPEN: 0.1, SHUT: 0.1},
    ),
)

TURBO_RULES: Final = (
    Rule(
        "turbo_feed",
        "turbo_oil",
        "oil pressure at the turbocharger",
        TURBO,
        "feed",
        {
            "low": {"turbo-oil-feed-restricted": 15.0},
            "low_gallery_unknown": {"turbo-oil-feed-restricted": 3.0},
            "sound": {"turbo-oil-feed-restricted": 0.05},
        },
        "judgement",
    ),
    Rule("turbo_feed_high", "turbo_oil", "feed of ball bearings after the restrictor", TURBO, "feed", {}, "judgement"),
    Rule(
        "turbo_line",
        "turbo_oil",
        "feed line seen",
        TURBO,
        "line",
        {"coked": {"turbo-oil-feed-restricted": 10.0}},
        "judgement",
    ),
    Rule(
        "turbo_drain",
        "turbo_oil",
        "drain of the turbocharger",
        TURBO,
        "drain",
        {
            "restricted": {"turbo-oil-drain-restricted": 20.0},
            "smoke_and_pressure": {"turbo-oil-drain-restricted": 4.0},
            "clear": {"turbo-oil-drain-restricted": 0.1},
            "quiet": {"turbo-oil-drain-restricted": 0.3},
        },
        "judgement",
    ),
)

HEAT_RULES: Final = (
    Rule(
        "heat",
        "oil_heat",
        "sustained oil temperature",
        STEADY,
        "heat",
        {
            "fix": {"oil-overheated": 20.0},
            "watch": {"oil-overheated": 5.0},
            "below": {"oil-overheated": 0.1},
        },
        "judgement",
    ),
    Rule(
        "heat_plan", "oil_heat", "oil temperature to be expected at the planned power", STEADY, "heat", {}, "judgement"
    ),
    Rule("film", "", "oil film at the planned load against the standard engine", SAMPLE, "film", {}, "judgement"),
    Rule(
        "dilution_history",
        "",
        "direct injection on short trips, or interrupted regenerations",
        "",
        "history",
        {"so": {FUEL: 2.0}},
        "judgement",
    ),
)

RULES: Final = (*PRESSURE_RULES, *SAMPLE_RULES, *LOOK_RULES, *TURBO_RULES, *HEAT_RULES)
