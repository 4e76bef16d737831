"""The rules of this check with their likelihood ratios: P(result | cause) / P(result | not cause), all judgement.

Results of one group share a measurement: of each cause only the strongest one per group counts. A ratio of 1 says that
a clean test alone says nothing about that cause, although it is one of its retests.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Rule

if TYPE_CHECKING:
    from collections.abc import Mapping

    Ratios = Mapping[str, float]

DRY, WET, LEAK, TRACE = "dry-compression", "wet-compression", "leak-down", "cranking-current-trace"
CRANKCASE, SCOPE, HEIGHT = "crankcase-pressure-test", "borescope", "piston-height-and-cam-lift"

#: Causes that sit in one cylinder and lower its reading.
SINGLE_CYLINDER: Final = (
    "ring-seal",
    "piston-or-ring-land-broken",
    "exhaust-valve-seal",
    "intake-valve-seal",
    "valve-not-opening",
    "bent-connecting-rod",
    "tight-valve-clearance",
    "fuel-washed-bore",
    "head-gasket-or-crack-to-coolant",
)


def _rule(section: str, group: str, test: str, name: str, text: str, **bands: Ratios) -> Rule:
    return Rule(name, section, text, test, group, bands, "judgement")


def _dry(name: str, text: str, **bands: Ratios) -> Rule:
    return _rule("compression", "dry", DRY, name, text, **bands)


def _seen(test: str, name: str, text: str, **bands: Ratios) -> Rule:
    return _rule("compression", "inspection", test, name, text, **bands)


def _leak(name: str, text: str, **bands: Ratios) -> Rule:
    return _rule("leak_down", "leak_down", LEAK, name, text, **bands)


def _history(name: str, text: str, **bands: Ratios) -> Rule:
    return _rule("", "history", "", name, text, **bands)


DRY_RULES: Final = (
    _dry(
        "balance",
        "reading of a cylinder against the reference",
        low={"ring-seal": 3.0, "exhaust-valve-seal": 3.0},
        even_at_spec={"ring-seal": 0.4, "exhaust-valve-seal": 0.4, "intake-valve-seal": 0.4},
    ),
    _dry("mirror", "readings against those that stand above the group"),
    _dry("majority", "whether the set can tell low from high at all"),
    _dry("absolute", "reading at standard atmosphere against the maker's minimum, or the floor of the trade"),
    _dry(
        "single_high",
        "one cylinder above the others",
        high={"liquid-in-cylinder": 6.0, "carbon-in-chamber": 4.0},
        high_after_standing={
            "liquid-in-cylinder": 18.0,
            "carbon-in-chamber": 4.0,
            "head-gasket-or-crack-to-coolant": 4.0,
        },
    ),
    _dry("pair_low", "two neighbours of one bank low"),
    _dry("bank_low", "a whole bank low", low={}, low_and_tight={"valve-timing-off": 6.0}),
    _dry("set_low", "every cylinder of the cut-off set low", low={}),
    _dry(
        "low_as_a_whole",
        "cylinder low together with its bank or cut-off set, equally deep",
        bank=dict.fromkeys(SINGLE_CYLINDER, 0.2),
        cut_off={cause: 0.2 for cause in SINGLE_CYLINDER if cause != "valve-not-opening"},
    ),
    _dry("all_low", "all cylinders low against maker or own record"),
    _dry(
        "all_high",
        "all cylinders high against maker's nominal or own record",
        high={"carbon-in-chamber": 4.0},
        at_spec={"raised-compression-ratio": 0.2, "lowered-compression-ratio": 0.2},
    ),
    _dry("all_high_tight", "all high with normal leakage", high={"valve-timing-off": 6.0}),
    _dry("all_high_built", "all high, head skimmed or pistons changed", high={"raised-compression-ratio": 8.0}),
    _dry("all_low_tight", "all evenly low with normal leakage", low={"valve-timing-off": 6.0}),
    _dry("all_low_slow", "all evenly low, cranked slowly", low={"slow-cranking": 6.0}, fast={"slow-cranking": 0.1}),
    _dry(
        "all_low_throttle",
        "all evenly low, throttle shut or not looked at",
        low={"throttle-shut": 4.0, "intake-restricted": 4.0},
        open={"throttle-shut": 0.1},
    ),
    _dry(
        "all_low_adaptor",
        "all evenly low, dead volume of a diesel adaptor unknown",
        low={"gauge-or-adaptor-error": 3.0},
    ),
    _dry(
        "all_low_late_closing",
        "all evenly low, leakage normal, intake closing late by design",
        low={"late-intake-closing-by-design": 10.0},
        usual_closing={"late-intake-closing-by-design": 0.1},
    ),
    _dry(
        "all_low_altitude",
        "all low by no more than the height of the place could explain, and nobody gave it",
        low={"altitude-not-corrected": 10.0},
        station={"altitude-not-corrected": 0.02},
    ),
    _dry(
        "all_low_built",
        "all evenly low, leakage normal, thicker gasket or pistons of lower ratio",
        low={"lowered-compression-ratio": 6.0},
    ),
    _dry("all_low_wear", "all low, air at the oil filler and blow-by high", low={"general-wear": 6.0}),
    _dry("all_low_new_rings", "rebuilt, all evenly low, oil brings it back", low={"unbedded-rings": 6.0}),
    _dry("spread", "trade rules on the spread of a set, and the maker's greatest difference"),
    _dry(
        "repeats",
        "the same cylinder measured twice",
        scatter={"gauge-or-adaptor-error": 5.0},
    ),
    _dry(
        "second_gauge",
        "another gauge on the same cylinder",
        agrees={"gauge-or-adaptor-error": 0.1},
        differs={"gauge-or-adaptor-error": 5.0},
    ),
    _dry("drift", "readings that fall with the order of taking"),
    _rule(
        "compression",
        "dry",
        HEIGHT,
        "rod_depth",
        "deficit against what the short piston explains",
        fits={"bent-connecting-rod": 2.0},
    ),
    _dry("separate_low", "low cylinders that share no wall"),
    _dry("first_puff", "first compression stroke against the final value", low={"ring-seal": 2.0}),
    _dry("hot_and_cold", "low when hot, better cold", worse_hot={"tight-valve-clearance": 5.0}),
    _dry(
        "after_warm_run",
        "low cylinder again after a warm run",
        recovered={"fuel-washed-bore": 20.0},
        still_low={"fuel-washed-bore": 0.1},
    ),
    _dry(
        "sound_set",
        "whole engine even, nothing high, at spec or record, every leak like its peers",
        sound={"general-wear": 0.1},
        sound_and_clearances={"general-wear": 0.1, "over-speed-event": 0.3},
    ),
)

WET_RULES: Final = (
    _rule(
        "compression",
        "wet",
        WET,
        "wet",
        "how much of the deficit a little oil recovers",
        rings={"ring-seal": 6.0, "exhaust-valve-seal": 0.3, "intake-valve-seal": 0.3},
        rings_and_washed={
            "ring-seal": 6.0,
            "fuel-washed-bore": 5.0,
            "exhaust-valve-seal": 0.3,
            "intake-valve-seal": 0.3,
        },
        not_rings={"ring-seal": 0.3, "exhaust-valve-seal": 3.0, "intake-valve-seal": 3.0},
    ),
    _rule(
        "compression",
        "wet",
        WET,
        "wet_with_escape",
        "oil does not bring it back although air comes out at the oil filler",
        partly={"piston-or-ring-land-broken": 3.0},
    ),
    _rule(
        "compression",
        "wet",
        WET,
        "wet_pair",
        "oil does not bring two low neighbours back",
        not_rings={"head-gasket-between-cylinders": 2.0},
    ),
)

INSPECTION_RULES: Final = (
    _seen(
        SCOPE,
        "borescope",
        "what the borescope shows of the chamber",
        liquid={"liquid-in-cylinder": 20.0},
        carbon={"carbon-in-chamber": 20.0},
        broken={"piston-or-ring-land-broken": 20.0},
        burnt={"exhaust-valve-seal": 20.0},
        dry={"liquid-in-cylinder": 0.05},
        clean={
            "carbon-in-chamber": 0.05,
            "liquid-in-cylinder": 0.05,
            "piston-or-ring-land-broken": 0.3,
            "over-speed-event": 1.0,
        },
    ),
    _seen(
        SCOPE,
        "intake_port",
        "what the borescope shows of the intake port",
        coated={"carbon-on-intake-valves": 8.0},
        clean={"carbon-on-intake-valves": 0.1},
    ),
    _seen(
        HEIGHT,
        "piston_height",
        "piston height at top dead centre against the others",
        short={"bent-connecting-rod": 20.0},
        equal={"bent-connecting-rod": 0.05},
    ),
    _seen(
        HEIGHT,
        "cam_lift",
        "valve lift through the drive",
        low={"valve-not-opening": 20.0},
        full={"valve-not-opening": 0.1},
    ),
    _seen(
        "running-compression",
        "running_compression",
        "compression of the running engine",
        low={"valve-not-opening": 3.0},
        equal={"valve-not-opening": 0.3},
    ),
    _seen(
        "valve-clearance-check",
        "valve_clearance",
        "valve clearances",
        tight={"tight-valve-clearance": 20.0},
        in_range={"tight-valve-clearance": 0.1, "over-speed-event": 1.0},
    ),
    _seen(
        "mechanical-timing-check",
        "timing_marks",
        "valve timing marks",
        off={"valve-timing-off": 20.0},
        verified={"valve-timing-off": 0.05},
    ),
)

LEAK_RULES: Final = (
    _leak(
        "leak_area",
        "compression lost by the leak of a cylinder, by its area",
        peers={
            "ring-seal": 0.1,
            "exhaust-valve-seal": 0.1,
            "intake-valve-seal": 0.1,
            "piston-or-ring-land-broken": 0.3,
        },
        sound={
            "ring-seal": 0.1,
            "exhaust-valve-seal": 0.1,
            "intake-valve-seal": 0.1,
            "piston-or-ring-land-broken": 0.4,
        },
    ),
    _leak(
        "leak_pair",
        "both neighbours tight",
        peers={"head-gasket-between-cylinders": 0.05},
        sound={"head-gasket-between-cylinders": 0.4},
    ),
    _leak("leak_percent", "loss in percent through an unknown jet"),
    _leak("leak_all", "every cylinder leaks", peers={"general-wear": 0.1, "over-speed-event": 1.0}),
    _leak("escape_intake", "air at the intake", heard={"intake-valve-seal": 15.0, "tight-valve-clearance": 3.0}),
    _leak("escape_exhaust", "air at the exhaust", heard={"exhaust-valve-seal": 15.0, "tight-valve-clearance": 3.0}),
    _leak(
        "escape_oil_filler",
        "more air at the oil filler than from its peers",
        heard={"ring-seal": 8.0},
        heard_and_very_low={"ring-seal": 8.0, "piston-or-ring-land-broken": 6.0},
    ),
    _leak(
        "escape_coolant",
        "bubbles in the coolant",
        heard={"head-gasket-or-crack-to-coolant": 20.0},
        none={"head-gasket-or-crack-to-coolant": 0.3},
    ),
    _leak("escape_outside", "air at the outside"),
    _leak("escape_neighbour", "air at the neighbour's plug hole", heard={"head-gasket-between-cylinders": 25.0}),
    _leak(
        "consistency",
        "reading against what its leak explains",
        low_without_leak={"valve-not-opening": 8.0, "bent-connecting-rod": 5.0},
        tight_but_low={"valve-not-opening": 4.0},
        explained={"valve-not-opening": 0.2},
    ),
)

OTHER_RULES: Final = (
    _rule("cranking_trace", "trace", TRACE, "trace", "starter current of each compression"),
    _rule("crankcase", "blowby", CRANKCASE, "blowby", "blow-by against maker or record", high={"ring-seal": 4.0}),
    _rule(
        "crankcase",
        "blowby",
        CRANKCASE,
        "crankcase_pressure",
        "crankcase pressure against maker or record",
        high_with_normal_flow={"crankcase-ventilation-fault": 8.0},
        in_limit={"crankcase-ventilation-fault": 0.1},
    ),
    _history("history_knock", "knock under load", known={"piston-or-ring-land-broken": 4.0}),
    _history("history_water", "water or fuel in the cylinders", known={"bent-connecting-rod": 6.0}),
    _history("history_timing_drive", "recent work on belt or chain", known={"valve-timing-off": 3.0}),
    _history("history_carbon", "short trips or oil use", known={"carbon-in-chamber": 2.0}),
    _history("history_coolant_loss", "coolant lost", known={"head-gasket-or-crack-to-coolant": 3.0}),
    _history("history_over_speed", "logged speed over the limit", known={"over-speed-event": 12.0}),
    _history("history_standard", "pistons and head known standard", known={"raised-compression-ratio": 0.3}),
    _history("history_run_in", "run-in complete", known={"unbedded-rings": 0.1}),
    _rule("", "plan", "", "load_context", "end of compression and head force, plan over base"),
)

RULES: Final = (*DRY_RULES, *WET_RULES, *INSPECTION_RULES, *LEAK_RULES, *OTHER_RULES)
