"""The sheets of what is seen and heard, of the turbocharger's oil, and of a steady hot run.

Ranges, default uncertainties and cautions are common practice or judgement.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Section
from loadworthy_plugins.oil_system.vehicle import oil_temperature, pressure

OIL_LOOK: Final = Section(
    "oil_look",
    "oil level, consumption, sludge, filter cut open, noises, parts seen with the sump off",
    (
        Field(
            "oil_level",
            "number",
            "level between the marks, 0 at the lower, 1 at the upper",
            usual=(0, 1),
            possible=(-1, 3),
            help="level ground, hot, 5 min after the engine stopped",
        ),
        Field(
            "oil_level_trend",
            "quantity",
            "change of the level over distance; falling is negative",
            kind="consumption_distance",
            usual=(-1e-9, 0.1e-9),
            possible=(-20e-9, 20e-9),
        ),
        Field("coolant_level_falling", "flag", "the coolant level falls at the same time"),
        Field(
            "oil_consumption",
            "quantity",
            "oil used from level to level, topped up by measure",
            kind="consumption_distance",
            usual=(0.0, 1e-9),
            possible=(0.0, 20e-9),
            u=0.05e-9,
        ),
        Field(
            "oil_consumption_distance",
            "quantity",
            "distance of that run",
            kind="distance",
            usual=(1e6, 5e6),
            possible=(1e3, 50e6),
            help="at least 1 000 km, level ground, hot, same wait",
        ),
        Field(
            "sludge_signs",
            "choice",
            "what is seen at cap, filter and screen",
            choices=(
                "none",
                "cap_cream",
                "dark_varnish",
                "hard_sludge",
                "pickup_screen_blocked",
                "pickup_screen_clean",
            ),
            many=True,
        ),
        Field("oil_distance", "quantity", "distance run on this oil", kind="distance", usual=(0.0, 30e6)),
        Field(
            "filter_cut_open",
            "choice",
            "what the pleats of the cut filter hold; magnet and solvent",
            choices=("clean", "glitter", "flakes", "not_done"),
            caution="sharp edges, solvent: gloves, eye protection, no ignition source",
        ),
        Field(
            "bearing_noise",
            "choice",
            "knock from the crankcase",
            choices=("none", "light_load_knock", "load_knock", "cold_rumble", "unknown"),
            caution="an engine that knocks is not loaded to find out",
        ),
        Field("knock_changes_when_disabled", "flag", "knock changes as that cylinder's fuel or spark is cut"),
        Field("top_end_noise", "flag", "the valve drive is noisy"),
        Field(
            "bearing_shells",
            "choice",
            "clearance of the shells inspected, by plastic gauge strip",
            choices=("in_limits", "over", "not_checked"),
            caution="vehicle on stands, engine supported; hot oil drained first",
        ),
        Field("pump_seen", "choice", "oil pump opened", choices=("in_limits", "worn", "not_checked")),
        Field("pickup_seen", "choice", "pick-up and its seal", choices=("sound", "faulty", "not_checked")),
        Field(
            "relief_valve_seen", "choice", "relief valve", choices=("free", "stuck_open", "stuck_shut", "not_checked")
        ),
    ),
    tests=("oil-level-and-look", "filter-cut-open", "oil-consumption-run", "sump-off-inspection"),
    half_life_days=90.0,
    half_life_km=2500.0,
)

TURBO_OIL: Final = Section(
    "turbo_oil",
    "oil feed and drain of a turbocharger; with two, one sheet each",
    (
        Field("bank", "count", "bank of this turbocharger, where there are two", possible=(1, 4)),
        pressure("turbo_feed_idle", "feed pressure after any restrictor, hot idle", usual=(50e3, 400e3)),
        pressure(
            "turbo_feed_pressure",
            "feed pressure after any restrictor, hot, at high engine speed",
            caution="hot exhaust parts and hot oil",
        ),
        pressure("gallery_pressure", "gallery pressure at the same instant"),
        Field(
            "turbo_feed_restrictor",
            "quantity",
            "bore of the restrictor in the feed line",
            kind="length",
            usual=(0.5e-3, 3e-3),
            possible=(0.2e-3, 10e-3),
        ),
        Field("turbo_feed_line", "choice", "feed line seen", choices=("clean", "coked", "not_checked")),
        Field(
            "turbo_drain_diameter",
            "quantity",
            "bore of the drain",
            kind="length",
            usual=(0.01, 0.025),
            possible=(0.003, 0.06),
        ),
        Field("turbo_drain_fall", "flag", "the drain falls all the way to the sump, above its oil level"),
        Field("turbo_drain_seen", "choice", "drain line seen", choices=("clear", "restricted", "not_checked")),
        Field("blue_smoke", "flag", "blue smoke at idle or on the overrun"),
        Field("crankcase_pressure_high", "flag", "crankcase pressure beyond its limit, from that test"),
    ),
    tests=("turbo-oil-feed-test",),
    caution="hot exhaust parts and hot oil",
)

OIL_HEAT: Final = Section(
    "oil_heat",
    "one steady run at high load: oil temperature when it no longer rises",
    (
        Field(
            "power_at_oil_temp",
            "quantity",
            "power held",
            kind="power",
            usual=(30e3, 400e3),
            possible=(1e3, 2e6),
            u_relative=0.05,
        ),
        oil_temperature("oil_temp_sustained", "oil temperature reached, sump", required=True, usual=(353.15, 403.15)),
        Field(
            "oil_temp_rate",
            "quantity",
            "rise of the oil temperature over the last minute",
            kind="temperature_difference",
            usual=(-1.0, 3.0),
            possible=(-30.0, 60.0),
        ),
        Field(
            "held",
            "quantity",
            "how long the load was held",
            kind="time",
            usual=(180.0, 1200.0),
            possible=(1.0, 14400.0),
            caution="adequate fan, limits watched, stop at the limit",
        ),
        Field(
            "coolant_temp",
            "quantity",
            "coolant temperature then",
            kind="temperature",
            usual=(348.15, 383.15),
            possible=(233.15, 413.15),
            u=3.0,
        ),
        Field(
            "ambient_temp",
            "quantity",
            "outside air temperature then",
            kind="temperature",
            usual=(263.15, 313.15),
            possible=(223.15, 333.15),
            u=2.0,
        ),
    ),
    tests=("steady-load-log",),
    caution="loaded running: adequate fan, limits watched, licensed driver or rollers, stop at the limit",
)
