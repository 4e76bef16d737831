"""Thresholds of the inventory and of what its parts can deliver."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Rule
from loadworthy_plugins.shared_limits import ours, trade

INVENTORY_LIMITS: Final = (
    ours(
        "completeness_min",
        0.8,
        "ratio",
        "below",
        "share of the kinds of part that are answered; below it the inventory is incomplete",
        "note",
    ),
    trade(
        "duty_max",
        0.85,
        "ratio",
        "setting",
        "injector duty up to which the fuel counts",
        None,
        applies="port injection",
    ),
    trade(
        "duty_watch",
        0.80,
        "ratio",
        "above",
        "injector duty at the plan",
        "watch",
        applies="port injection; above 1 the data are wrong or the plan is impossible",
    ),
    trade(
        "duty_fix",
        0.90,
        "ratio",
        "above",
        "injector duty at the plan",
        "fix_first",
        applies="port injection; the plan is too large for the part, nothing is broken",
    ),
    ours(
        "di_window_use_max",
        0.90,
        "ratio",
        "above",
        "share of the injection window that the pulse takes at the plan",
        "watch",
        applies="direct injection",
    ),
    ours(
        "hp_pump_use_max",
        0.90,
        "ratio",
        "above",
        "share of the high-pressure pump's delivery that the plan takes, at every speed",
        "watch",
        applies="direct injection",
    ),
    ours(
        "pump_margin_min",
        1.15,
        "ratio",
        "below",
        "fuel pump's flow at pressure and loaded voltage over the engine's need at the plan",
        "watch",
    ),
    ours("meter_use_max", 0.90, "ratio", "above", "planned air flow over the air meter's full scale", "watch"),
    ours(
        "rating_use_max",
        1.0,
        "ratio",
        "above",
        "plan over a part's rating in torque or speed; gearbox with the maker's document 1.1 as a peak",
        "watch",
    ),
    ours(
        "compressor_flow_use_max",
        1.0,
        "ratio",
        "above",
        "planned air flow over that of the compressor map's choke or 60 % line at the place of use",
        "watch",
    ),
    ours(
        "compressor_surge_margin",
        1.10,
        "ratio",
        "below",
        "planned air flow over that of the compressor map's surge line at the planned pressure ratio",
        "watch",
    ),
    ours("shaft_speed_use_max", 0.95, "ratio", "above", "planned speed of the charger's shaft over its limit", "watch"),
    ours(
        "effective_time_min_port",
        0.8e-3,
        "time",
        "below",
        "injection time without dead time at idle",
        "watch",
        applies="port injection, linear range",
    ),
    ours(
        "effective_time_min_direct",
        0.25e-3,
        "time",
        "below",
        "injection time without dead time at idle",
        "watch",
        applies="direct injection, linear range",
    ),
    ours(
        "capacity_unknown_above",
        1.15,
        "ratio",
        "setting",
        "planned over today's torque above which a standard injector or pump without figures is an unknown capacity",
        None,
    ),
)


def _rule(name: str, text: str, test: str = "", silent: tuple[str, ...] = ()) -> Rule:
    bands = {"on_paper": dict.fromkeys(silent, 1.0)} if silent else {}
    return Rule(name, "modification", text, test, bands=bands, source="judgement")


_INTERVIEW, _BENCH, _PUMP = "inventory-interview", "injector-flow-bench", "fuel-pump-volume-test"
#: What figures held against the plan say nothing of, though it has the test in whose stead they stand as its retest: a
#: pump that is large enough on paper may be weak.
_OTHER_SIZE: Final = ("injector-size-changed",)
_WEAK: Final = ("fuel-pump-weak", "low-pressure-fuel-supply-weak")
#: What the inventory itself tells carries no likelihood ratios: a part is there or it is not. Figures are no workshop
#: test; those of injectors and pumps name one because they prove the repair of a part that was too small.
INVENTORY_RULES: Final = (
    _rule("completeness", "share of the kinds of part that are answered", _INTERVIEW),
    _rule("conflicting", "two sources disagree on a part", _INTERVIEW),
    _rule("emission_control", "catalyst, particulate filter or exhaust-gas recirculation altered or absent"),
    _rule("signal_converter", "signal converter between a sensor and the control unit"),
    _rule("calibration_unaware", "a part is not as made and the calibration is not proven to know it", _INTERVIEW),
    _rule("figures_missing", "a part is not as made and figures or their test conditions are missing", _INTERVIEW),
    _rule("dead_time_known", "dead time of the injectors is known from their maker"),
    _rule("water_injection", "water injection counts only with a proven failsafe"),
    _rule("road_law", "parts that may not be on the road as they are"),
    _rule("open_items", "brakes, tyres, approval papers and insurance for more power"),
    _rule("injector_duty", "duty of port injectors at the plan", _BENCH, _OTHER_SIZE),
    _rule("injector_window", "pulse of direct injectors against their window at the plan", _BENCH, _OTHER_SIZE),
    _rule("injector_idle", "injection time at idle against the linear range"),
    _rule(
        "fuel_pump_margin",
        "fuel pump at pressure and loaded voltage against the engine's need at the plan",
        _PUMP,
        _WEAK,
    ),
    _rule("high_pressure_pump_use", "high-pressure pump against the plan at every speed", _PUMP, _WEAK),
    _rule("meter_use", "planned air flow against the air meter's range"),
    _rule("compressor_flow", "planned air flow against the compressor map at the place of use"),
    _rule("compressor_surge", "planned air flow against the surge line of the compressor map"),
    _rule("shaft_speed", "planned speed of the charger's shaft against its limit"),
    _rule("rating_use", "planned torque against the rating of gearbox, joints and engine internals"),
    _rule("speed_rating", "planned speed against the rating of camshaft, valve springs and engine internals"),
)
