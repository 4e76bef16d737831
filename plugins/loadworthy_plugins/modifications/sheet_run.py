"""One session with a reader or logger: key-on readings, then idle, cruise and load, with all that tells them apart.

Ranges are common practice or judgement. Default uncertainties, all judgement: pressures logged 1 kPa (key-on 0.35 kPa
each, which makes 0.5 kPa for their difference), air flow 3 %, gas temperature 3 K, engine speed 25 rpm, duty 1 point.
"""

from __future__ import annotations

from typing import Any, Final

from loadworthy.sdk import Field, Section
from loadworthy_plugins.shared_fields import (
    AIR_METERING,
    CYLINDER_BANKS,
    CYLINDER_COUNT,
    DISPLACEMENT,
    ENGINE_CYCLE,
    FUEL,
    FUEL_SYSTEM,
    GEARBOX_TYPE,
    INDUCTION,
)

REGIONS: Final = ("idle", "cruise", "load")
Range = tuple[float, float]


def _quantity(name: str, text: str, kind: str, usual: Range, possible: Range, **more: Any) -> Field:
    return Field(name, "quantity", text, kind=kind, usual=usual, possible=possible, **more)


def _speed(name: str, text: str, **more: Any) -> Field:
    return _quantity(name, text, "rotation", (8.0, 130.0), (3.0, 300.0), **{"u": 25 / 60, **more})


def _manifold(name: str, text: str, usual: Range = (20e3, 300e3), **more: Any) -> Field:
    return _quantity(name, text, "pressure_abs", usual, (10e3, 500e3), **{"u": 1e3, **more})


def _trim(name: str, text: str) -> Field:
    return _quantity(name, text, "ratio", (-0.25, 0.25), (-0.99, 1.5), u=0.005, per="bank")


POINTS: Final = (
    Field("region", "choice", "what the engine was doing", choices=REGIONS, required=True),
    _speed("engine_speed", "engine speed", required=True),
    _quantity("vehicle_speed", "road speed of the log", "speed", (0.0, 80.0), (0.0, 140.0), u_relative=0.003),
    Field("gear", "count", "gear engaged, locked and without slip", usual=(1, 10), possible=(1, 12)),
    Field("driveline_locked", "flag", "clutch or converter locked; needed on automatics, whose converter slips"),
    _quantity(
        "air_flow", "metered air flow", "flow_mass", (2e-3, 0.45), (0.0, 1.5), u_relative=0.03, quantity="air_flow"
    ),
    _manifold("map", "intake manifold pressure, absolute", quantity="manifold_pressure"),
    _manifold("map_target", "intake manifold pressure that was asked for, absolute", u=None),
    _quantity(
        "charge_temp",
        "gas temperature in the intake manifold",
        "temperature",
        (253.15, 393.15),
        (233.15, 473.15),
        u=3.0,
        quantity="charge_temperature",
    ),
    _quantity("pulse_width", "injector pulse as commanded", "time", (1e-3, 25e-3), (0.0, 0.1), u_relative=0.01),
    Field("pulse_includes_dead_time", "flag", "the pulse holds the injector's dead time; no: it is the effective time"),
    _quantity("injector_voltage", "voltage at the injectors", "voltage", (11.0, 14.7), (6.0, 18.0), u=0.1),
    _trim("trim_short", "short-term fuel trim by bank; positive: fuel added"),
    _trim("trim_long", "long-term fuel trim by bank; positive: fuel added"),
    _quantity("lambda_measured", "lambda measured in the exhaust", "ratio", (0.7, 1.3), (0.5, 3.0), u_relative=0.01),
    _quantity("lambda_target", "lambda that was asked for", "ratio", (0.7, 1.3), (0.5, 3.0)),
    Field("closed_loop", "flag", "lambda control was closed at this point; goes before the sheet's own"),
    _quantity(
        "rail_pressure",
        "fuel pressure at the rail",
        "pressure_gauge",
        (250e3, 35e6),
        (0.0, 300e6),
        u_relative=0.01,
        caution="hand gauges only on the low side: direct-injection rails are read by their sensor",
    ),
    _quantity("rail_target", "rail pressure that was asked for", "pressure_gauge", (250e3, 35e6), (0.0, 300e6)),
    _quantity("pump_voltage", "voltage at the fuel pump", "voltage", (11.0, 14.7), (6.0, 18.0), u=0.1),
    _quantity("boost_duty", "duty of the boost control; 100 %: all it can do", "ratio", (0.0, 1.0), (0.0, 1.0), u=0.01),
    _quantity("filter_dp", "depression after the air filter", "pressure_difference", (0.0, 8e3), (0.0, 50e3), u=300.0),
    _quantity(
        "exhaust_backpressure",
        "exhaust pressure before the catalyst",
        "pressure_gauge",
        (0.0, 60e3),
        (-5e3, 400e3),
        u=1e3,
    ),
)

MIXTURE_RUN: Final = Section(
    "mixture_run",
    "key-on readings and a log of idle, cruise and load: trims, air, fuel, boost and gearing of one session",
    (
        _quantity(
            "ambient_pressure",
            "air pressure at the place, from a barometer that is not the vehicle's own",
            "pressure_abs",
            (60e3, 105e3),
            (50e3, 110e3),
            u=350.0,
            help="weather reports are reduced to sea level: say which kind it is",
        ),
        Field(
            "ambient_pressure_kind",
            "choice",
            "measured at the place, or reduced to sea level as weather reports are",
            choices=("station", "sea_level_reduced"),
        ),
        _quantity("altitude", "height of the place", "altitude", (-100.0, 4000.0), (-1000.0, 6000.0), u=30.0),
        _quantity(
            "ambient_temp",
            "temperature of the air at the intake",
            "temperature",
            (253.15, 323.15),
            (223.15, 353.15),
            u=3.0,
        ),
        _manifold(
            "map_key_on", "manifold pressure sensor, key on, engine off 30 s or longer", u=350.0, usual=(60e3, 105e3)
        ),
        _manifold(
            "boost_key_on", "boost pressure sensor, key on, engine off 30 s or longer", u=350.0, usual=(60e3, 105e3)
        ),
        Field(
            "points",
            "rows",
            "idle, three cruise points, one full pull; gears told apart",
            fields=POINTS,
            caution="loaded running: tyres, brakes, fuel, oil, cooling and leaks first; closed road or rollers",
            help="write every channel that the log holds: what is missing is unknown, not good",
        ),
        Field("closed_loop", "flag", "lambda control was closed where trims were read"),
        Field("warm", "flag", "engine at working temperature, coolant 70 degC or more"),
        Field("purge_active", "flag", "fuel-vapour purge was open while trims were read"),
        Field("misfire_seen", "flag", "misfires were felt or counted"),
        Field("exhaust_leak_seen", "flag", "exhaust leaks before the lambda sensor"),
        _quantity(
            "distance_since_clear",
            "distance driven since the fault memory was cleared or the battery was off",
            "distance",
            (0.0, 100e6),
            (0.0, 5e9),
            u=500.0,
        ),
        _quantity(
            "idle_vacuum", "vacuum at hot idle below ambient", "pressure_difference", (30e3, 75e3), (0.0, 100e3), u=1e3
        ),
        Field("idle_vacuum_steady", "flag", "the vacuum gauge stands still at hot idle"),
        Field("idle_hydrocarbons_high", "flag", "hydrocarbons above their limit at hot idle"),
        Field("runs_clean_at_speed", "flag", "runs clean at raised speed"),
        _quantity(
            "compression_share",
            "mean cranking pressure over what is expected of this engine, both absolute",
            "ratio",
            (0.7, 1.2),
            (0.1, 2.0),
            u=0.02,
        ),
        Field("compression_even", "flag", "cylinders alike in the compression test"),
        Field(
            "base_pressure_points",
            "rows",
            "boost with the control at zero duty, at two speeds or more",
            fields=(
                _speed("engine_speed", "engine speed", required=True),
                _quantity(
                    "boost", "boost above ambient", "pressure_gauge", (0.0, 150e3), (-20e3, 400e3), u=1e3, required=True
                ),
            ),
            caution="low load first; control disconnected as its maker allows; stop at overshoot",
        ),
        _speed("boost_onset_speed", "engine speed at which full boost stands, as in the standard figure", u=50 / 60),
        Field("charge_leak_test", "choice", "leak test of the charge air path", choices=("tight", "leaks", "not_made")),
        _quantity("ethanol_measured", "ethanol in the tank by test", "share_volume", (0.0, 0.85), (0.0, 1.0), u=0.02),
        Field("ethanol_source", "choice", "how it was tested", choices=("laboratory", "sensor", "field_test")),
        _quantity(
            "fuel_density", "density of the tank's fuel at 15 degC", "density", (720.0, 845.0), (600.0, 1000.0), u=2.0
        ),
        Field(
            "fuel_pressure_on_set",
            "flag",
            "fuel pressure over the injectors stands at its set point; numbers go before",
        ),
        Field(
            "vehicle_speed_source",
            "choice",
            "where the road speed comes from; a speedometer reads high by law",
            choices=("wheel_sensor", "gps", "rollers", "speedometer"),
        ),
        Field(
            "sensor_connectors",
            "choice",
            "boost, rail and air-meter sensors looked at for added connectors",
            choices=("original", "added", "not_checked"),
        ),
        Field(
            "injector_marking",
            "choice",
            "marking of the injectors against the stated part",
            choices=("as_stated", "different", "not_checked"),
        ),
        Field(
            "data_documented",
            "flag",
            "injectors, air meter, pressure sensors and regulator seen, and serial numbers as on their data sheets",
        ),
        Field(
            "limits_above_standard",
            "choice",
            "what the log shows above the standard calibration's own limits",
            choices=("torque", "boost", "speed_limit", "none"),
            many=True,
        ),
    ),
    tests=(
        "key-on-readings",
        "trim-map",
        "air-flow-against-model",
        "full-load-log",
        "base-pressure-run",
        "manifold-vacuum-reading",
        "gear-ratio-check",
    ),
    caution="one person drives, another reads; loaded runs on a closed road or rollers",
)

_FACTOR: Final = (
    Field("region", "choice", "what the engine was doing", choices=REGIONS, required=True),
    _speed("engine_speed", "engine speed", u=None, required=True),
    _quantity(
        "ve", "volumetric efficiency on manifold density", "ratio", (0.4, 1.15), (0.1, 1.5), u=0.03, required=True
    ),
)
#: Facts of the vehicle that the rules on this sheet read and that must be declared with the others.
RUN_VEHICLE: Final = (
    FUEL,
    FUEL_SYSTEM,
    INDUCTION,
    ENGINE_CYCLE,
    DISPLACEMENT,
    CYLINDER_COUNT,
    CYLINDER_BANKS,
    GEARBOX_TYPE,
    Field(
        "gear_ratios",
        "number",
        "ratios of the forward gears, first gear first, as stated for this gearbox",
        many=True,
        usual=(0.5, 5.5),
        possible=(0.3, 20.0),
    ),
    Field("final_drive", "number", "ratio of the final drive as stated", usual=(2.0, 5.5), possible=(1.0, 15.0)),
    _quantity(
        "tyre_circumference",
        "rolling circumference of the driven tyres",
        "length",
        (1.5, 2.4),
        (1.0, 4.0),
        u_relative=0.004,
    ),
    AIR_METERING,
    _quantity(
        "injector_flow",
        "static flow of one injector as stated",
        "flow_mass",
        (1e-3, 40e-3),
        (1e-4, 0.2),
        u_relative=0.02,
    ),
    _quantity(
        "injector_flow_pressure",
        "differential pressure at which that flow was measured",
        "pressure_difference",
        (270e3, 12e6),
        (100e3, 200e6),
    ),
    _quantity(
        "injector_flow_density", "density of the fluid it was measured in", "density", (680.0, 840.0), (500.0, 1000.0)
    ),
    _quantity(
        "injector_dead_time",
        "dead time of the injectors at 14 V from their maker",
        "time",
        (0.2e-3, 1.6e-3),
        (0.0, 5e-3),
        u=0.05e-3,
    ),
    _quantity(
        "fuel_pressure_set",
        "set point of the fuel pressure: over the manifold where the regulator is referenced, else above ambient",
        "pressure_difference",
        (250e3, 600e3),
        (100e3, 1500e3),
    ),
    _quantity(
        "calibration_ethanol",
        "ethanol share that the present calibration expects",
        "share_volume",
        (0.0, 0.85),
        (0.0, 1.0),
    ),
    Field(
        "ve_standard",
        "rows",
        "volumetric efficiency of the standard engine, or of this one when it was sound",
        fields=_FACTOR,
    ),
    _speed("rated_speed", "engine speed of the standard peak power", u=None),
    _quantity(
        "idle_vacuum_standard",
        "vacuum at hot idle of the standard engine",
        "pressure_difference",
        (30e3, 75e3),
        (0.0, 100e3),
    ),
    _quantity(
        "wastegate_spring",
        "boost on the wastegate spring alone, as stated",
        "pressure_gauge",
        (20e3, 150e3),
        (5e3, 300e3),
    ),
    _quantity(
        "compressor_choke_flow",
        "corrected flow at choke from the compressor map",
        "flow_mass",
        (0.05, 0.6),
        (0.01, 2.0),
    ),
    _speed("boost_onset_standard", "engine speed at which full boost stands on the standard engine", u=None),
    _quantity("standard_peak_air_flow", "peak air flow of the standard engine", "flow_mass", (0.05, 0.45), (0.01, 1.5)),
)
