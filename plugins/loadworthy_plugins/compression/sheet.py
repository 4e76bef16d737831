"""The measurement sheets that this check reads: cranking compression, leak-down, starter current, crankcase.

Ranges, default uncertainties and cautions are common practice or judgement.
"""

from __future__ import annotations

from typing import Any, Final

from loadworthy.sdk import Field, Section
from loadworthy_plugins.compression.vehicle import (
    BY_FUEL_FIRST_PUFF,
    BY_FUEL_READING,
    BY_FUEL_SPEED,
    MOST_READING,
)

_CONDITIONS: Final = (
    Field(
        "ambient_pressure",
        "quantity",
        "air pressure on the day",
        kind="pressure_abs",
        usual=(70e3, 104e3),
        possible=(50e3, 110e3),
        u=200.0,
        help="weather reports are reduced to sea level: say which kind it is",
    ),
    Field(
        "ambient_pressure_kind",
        "choice",
        "measured at the place, or reduced to sea level as weather reports are",
        choices=("station", "sea_level_reduced"),
    ),
    Field(
        "altitude",
        "quantity",
        "height of the place",
        kind="altitude",
        usual=(-100.0, 4000.0),
        possible=(-1000.0, 6000.0),
        u=30.0,
    ),
)
_COOLANT: Final = Field(
    "coolant_temp",
    "quantity",
    "coolant temperature",
    kind="temperature",
    usual=(343.15, 373.15),
    possible=(233.15, 413.15),
    u=3.0,
    caution="never open a hot coolant cap",
)


def _pressure(name: str, text: str, **more: Any) -> Field:
    options: dict[str, Any] = {"usual_by": BY_FUEL_READING, **more}
    return Field(
        name,
        "quantity",
        text,
        kind="pressure_gauge",
        per="cylinder",
        possible=(0.0, MOST_READING),
        u_relative=0.03,
        **options,
    )


BORESCOPE: Final = (
    "clean",
    "dry",
    "carbon",
    "liquid",
    "scored",
    "land_broken",
    "valve_burnt",
    "port_clean",
    "port_coated",
    "not_checked",
)

COMPRESSION: Final = Section(
    "compression",
    "cranking compression of every cylinder, wet test and what was seen with the plugs out",
    (
        _pressure(
            "dry_reading",
            "highest held gauge value of each cylinder",
            caution="injection and ignition disabled; stay clear of belts, fans and plug holes",
            help='a reading of 175 is psi, not bar; a dead cylinder reads "0 bar"',
        ),
        _pressure("repeat_reading", "the same cylinder again at the end of the session, the first one at least"),
        _pressure("first_puff_reading", "value after the first compression stroke", usual_by=BY_FUEL_FIRST_PUFF),
        _pressure(
            "wet_reading",
            "value with a little oil in the cylinder, a good cylinder too as control",
            caution="not on diesel, pre-chamber or horizontal cylinders; crank the oil out afterwards",
        ),
        _pressure("second_gauge_reading", "value by another gauge and adaptor"),
        Field(
            "oil_volume",
            "quantity",
            "oil put into each cylinder for the wet test",
            kind="volume",
            usual=(2e-6, 15e-6),
            possible=(0.1e-6, 100e-6),
            u_relative=0.1,
            help="at most 1 % of the cylinder's displacement",
        ),
        Field("compression_strokes", "count", "compression strokes per reading", usual=(4, 8), possible=(1, 50)),
        Field(
            "cranking_speed",
            "quantity",
            "cranking speed; a motor-generator cranks at 600 to 1 200 rpm",
            kind="rotation",
            usual_by=BY_FUEL_SPEED,
            possible=(40 / 60, 1500 / 60),
            u_relative=0.03,
        ),
        Field(
            "cranking_speeds",
            "quantity",
            "cranking speed cylinder by cylinder, as a current trace shows it",
            kind="rotation",
            per="cylinder",
            possible=(40 / 60, 1500 / 60),
            u_relative=0.03,
        ),
        Field(
            "cranking_battery_voltage",
            "quantity",
            "voltage at the starter while cranking",
            kind="voltage",
            usual=(9.6, 12.8),
            possible=(5.0, 16.0),
            u=0.1,
        ),
        Field(
            "throttle_state",
            "choice",
            "throttle or intake flap, blade seen by eye: may shut when ignition is disabled; none: unthrottled diesel",
            choices=("wide_open", "closed", "unknown", "none"),
        ),
        Field("plugs_removed", "choice", "plugs taken out", choices=("all", "one", "unknown")),
        _COOLANT,
        Field("test_order", "count", "cylinders in the order in which they were taken", many=True, possible=(1, 24)),
        Field(
            "gauge_zero_error",
            "quantity",
            "what the gauge shows open to air",
            kind="pressure_difference",
            usual=(-0.05e6, 0.05e6),
            possible=(-0.5e6, 0.5e6),
            u=1e3,
        ),
        Field(
            "adaptor_dead_volume",
            "quantity",
            "volume between chamber and check valve",
            kind="volume",
            usual=(0.0, 8e-6),
            possible=(0.0, 100e-6),
            u=0.5e-6,
        ),
        Field("check_valve_at_cylinder_end", "flag", "the check valve sits at the plug hole, not at the gauge"),
        Field(
            "hose_volume",
            "quantity",
            "volume of the hose behind the check valve",
            kind="volume",
            usual=(0.0, 40e-6),
            possible=(0.0, 500e-6),
            u_relative=0.1,
        ),
        Field(
            "after_warm_run",
            "choice",
            "low cylinder measured again after a warm run of ten minutes",
            choices=("recovered", "still_low", "not_checked"),
            per="cylinder",
        ),
        Field("wet_plug_or_long_cranking", "flag", "plugs wet with fuel, or long cranking before the test"),
        Field(
            "borescope",
            "choice",
            "what the borescope shows",
            choices=BORESCOPE,
            per="cylinder",
            many=True,
            caution="the engine cannot be turned while the scope is inside",
        ),
        Field(
            "piston_height",
            "quantity",
            "depth of the piston crown below the same face at top dead centre",
            kind="length",
            per="cylinder",
            possible=(0.0, 0.4),
            u=5e-5,
        ),
        Field(
            "cam_lift",
            "choice",
            "valve lift measured through the drive",
            choices=("full", "low", "not_checked"),
            per="cylinder",
        ),
        Field(
            "valve_clearance",
            "choice",
            "valve clearances, cold",
            choices=("in_range", "tight", "loose", "not_checked"),
            per="cylinder",
        ),
        Field(
            "running_compression",
            "choice",
            "running compression against the other cylinders",
            choices=("equal", "low", "not_checked"),
            per="cylinder",
        ),
        Field("timing_marks", "choice", "valve timing marks", choices=("verified", "off", "not_checked")),
        *_CONDITIONS,
    ),
    tests=(
        "dry-compression",
        "wet-compression",
        "borescope",
        "piston-height-and-cam-lift",
        "running-compression",
        "valve-clearance-check",
        "mechanical-timing-check",
    ),
    half_life_days=90.0,
    half_life_km=2500.0,
    ended_by_any_event=True,
    caution=(
        "disable injection and ignition; leave high-pressure lines closed; suspected liquid: plugs out before any "
        "cranking; eye protection; high-voltage isolation of a hybrid is licensed work"
    ),
)

ESCAPES: Final = (
    "intake",
    "exhaust",
    "oil_filler",
    "coolant",
    "outside",
    *(f"cylinder_{n}" for n in range(1, 25)),
    "none_heard",
    "not_checked",
)

LEAK_DOWN: Final = Section(
    "leak_down",
    "leak-down of every cylinder at top dead centre, and where the air is heard",
    (
        Field(
            "leak_supply",
            "quantity",
            "supply pressure before the jet, while the cylinder leaks",
            kind="pressure_gauge",
            usual=(200e3, 1000e3),
            possible=(50e3, 2000e3),
            u_relative=0.01,
        ),
        Field(
            "leak_cylinder",
            "quantity",
            "pressure behind the jet, of each cylinder",
            kind="pressure_gauge",
            per="cylinder",
            usual=(100e3, 1000e3),
            possible=(0.0, 2000e3),
            u_relative=0.01,
        ),
        Field(
            "leak_percent",
            "quantity",
            "loss as a one-gauge tester shows it (0 % is tight), of each cylinder",
            kind="ratio",
            per="cylinder",
            usual=(0.02, 0.4),
            possible=(0.0, 1.0),
            u=0.02,
            help="some faces show 100 minus the loss: both gauges are better",
        ),
        Field(
            "leak_orifice_diameter",
            "quantity",
            "bore of the tester's jet; unknown: 1.016 mm is assumed and clears nothing",
            kind="length",
            usual=(0.7e-3, 3e-3),
            possible=(0.2e-3, 10e-3),
            u_relative=0.02,
        ),
        Field("leak_orifice_cd", "number", "discharge coefficient of the jet", usual=(0.6, 0.95), possible=(0.3, 1.0)),
        Field(
            "known_jet_reading",
            "quantity",
            "pressure behind the jet with a known 1.00 mm jet in place of the cylinder",
            kind="pressure_gauge",
            possible=(0.0, 2000e3),
            u_relative=0.01,
        ),
        Field(
            "leak_escape",
            "choice",
            "where the air is heard or seen; nothing heard and not listened for differ",
            choices=ESCAPES,
            per="cylinder",
            many=True,
        ),
        Field("leak_tdc_held", "flag", "the piston was at top dead centre of compression and held there"),
        Field("leak_engine_warm", "flag", "the engine was warm"),
        *_CONDITIONS,
    ),
    tests=("leak-down",),
    half_life_days=90.0,
    half_life_km=2500.0,
    ended_by_any_event=True,
    caution=(
        "compressed air turns the crank: no bar left on it, wheels chocked; 1.4 bar to find top dead centre, then full "
        "pressure; never open a hot coolant cap"
    ),
)

CRANKING_TRACE: Final = Section(
    "cranking_trace",
    "starter current while cranking with fuel and spark disabled, nothing removed",
    (
        Field(
            "current",
            "series",
            "starter current by a zeroed DC clamp, at least 500 samples a second and four engine cycles",
            kind="current",
        ),
        Field(
            "voltage",
            "series",
            "battery voltage while cranking, sampled likewise: its dips stand for humps of the current, less sharply",
            kind="voltage",
        ),
        Field("sync_times", "quantity", "times of a spark or injection of one known cylinder", kind="time", many=True),
        Field("sync_cylinder", "count", "cylinder of the synchronising event", possible=(1, 24)),
    ),
    tests=("cranking-current-trace",),
    half_life_days=90.0,
    half_life_km=2500.0,
    ended_by_any_event=True,
    caution="fuel and spark disabled: may set codes, so after the memory reading; stay clear of belts and fans",
)

CRANKCASE: Final = Section(
    "crankcase",
    "blow-by and crankcase pressure of the warm engine",
    (
        Field(
            "blowby_flow",
            "quantity",
            "flow out of the crankcase",
            kind="flow_volume",
            usual=(0.0, 3e-3),
            possible=(0.0, 0.05),
            u_relative=0.05,
        ),
        Field(
            "blowby_engine_speed", "quantity", "engine speed", kind="rotation", possible=(5.0, 150.0), u_relative=0.01
        ),
        Field("blowby_load", "choice", "load", choices=("idle", "high_idle", "part", "full")),
        Field(
            "crankcase_pressure",
            "quantity",
            "crankcase pressure at that speed and load",
            kind="pressure_gauge",
            usual=(-5e3, 5e3),
            possible=(-20e3, 50e3),
            u=50.0,
        ),
        Field(
            "crankcase_pressure_in_boost",
            "quantity",
            "crankcase pressure under boost",
            kind="pressure_gauge",
            usual=(-5e3, 5e3),
            possible=(-20e3, 50e3),
            u=50.0,
        ),
        Field("breather_restriction", "text", "restrictor through which the pressure was taken"),
        _COOLANT,
    ),
    tests=("crankcase-pressure-test",),
    half_life_days=90.0,
    half_life_km=2500.0,
    ended_by_any_event=True,
    caution="hot oil mist; a loaded run only if nothing bars it",
)

SECTIONS: Final = (COMPRESSION, LEAK_DOWN, CRANKING_TRACE, CRANKCASE)
