"""The sheets of this check: the inventory of parts, and what the present calibration says of itself.

One `modification` sheet is one interview or one look. Ranges and default uncertainties are judgement.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Section
from loadworthy_plugins.shared_fields import BORE, COMPRESSION_RATIO, STROKE

Range = tuple[float, float]
#: Every kind of part that the inventory asks for, in the order of an interview; `parts` holds what is known of them.
KINDS: Final = (
    "injector",
    "fuel_pump",
    "pump_wiring",
    "fuel_line_and_filter",
    "fuel_regulator",
    "high_pressure_pump",
    "air_meter",
    "pressure_sensor",
    "intake_kit",
    "exhaust",
    "catalyst_or_particulate_filter",
    "exhaust_gas_recirculation",
    "turbocharger",
    "boost_control",
    "intercooler",
    "water_injection",
    "camshaft",
    "pistons_rods_gasket_head",
    "displacement",
    "ignition",
    "cooling",
    "clutch_and_flywheel",
    "gearbox_differential_tyres",
    "fuel_kind",
    "software",
    "signal_converter",
)
_NO_WORD: Final = "unknown is an answer, and no standard part"


def _value(
    name: str, kind: str, text: str, possible: Range, u: float | None = 0.02, usual: Range | None = None, help: str = ""
) -> Field:
    """Return a figure of a maker, with a default standard uncertainty relative to it."""
    return Field(name, "quantity", text, kind=kind, possible=possible, usual=usual, u_relative=u, help=help)


_STATIC: Final = (
    _value(
        "static_flow",
        "flow_volume",
        "static flow of one injector by volume of the test fluid",
        (1e-7, 1e-4),
        0.03,
        (1e-6, 4e-5),
        "a size without pressure and fluid is no size: write flow_pressure and test_fluid beside it",
    ),
    _value("static_flow_mass", "flow_mass", "static flow of one injector by mass", (1e-4, 0.1), 0.03),
    _value(
        "flow_pressure",
        "pressure_difference",
        "pressure difference at which the static flow holds",
        (50e3, 300e6),
        0.01,
    ),
)
_RATINGS: Final = (
    _value("torque_rating", "torque", "torque that it may carry all the time", (1.0, 1e4)),
    _value("torque_peak_rating", "torque", "torque that its maker allows as a peak", (1.0, 1e4)),
    _value("peak_pressure_rating", "pressure_abs", "peak cylinder pressure that it may carry", (1e6, 50e6)),
    _value("speed_rating", "rotation", "highest engine speed that it may run at", (10.0, 400.0), 0.01),
)
_MASS: Final = _value("full_scale", "flow_mass", "highest air flow that it can show", (1e-3, 3.0))
_HOUSING: Final = _value("housing_bore", "length", "bore of the air meter's housing", (0.01, 0.3), 0.005)

#: What was there before, in the same quantities.
_REPLACES: Final = Field(
    "replaces",
    "record",
    "figures of the standard part that it replaces",
    fields=(*_STATIC, _MASS, _HOUSING, _RATINGS[0]),
)

_MAKER: Final = (
    *_STATIC,
    Field(
        "test_fluid",
        "choice",
        "fluid that the flow holds for",
        choices=("n_heptane", "petrol", "diesel", "calibration_oil", "unknown"),
    ),
    _value("test_fluid_density", "density", "its density, if it is none of those", (600.0, 1000.0), 0.005),
    Field(
        "dead_time_points",
        "rows",
        "dead time of the injector over voltage and pressure, from its maker",
        fields=(
            Field("voltage", "quantity", "voltage", kind="voltage", possible=(5.0, 20.0), u=0.1, required=True),
            _value("pressure", "pressure_difference", "pressure difference", (50e3, 300e6), 0.01),
            Field("time", "quantity", "dead time", kind="time", possible=(0.0, 0.01), u=5e-5, required=True),
        ),
    ),
    Field("injections_per_cycle", "count", "injections per working cycle; batch: 2", usual=(1, 2), possible=(1, 8)),
    _value("rail_pressure", "pressure_gauge", "rail pressure at full load", (50e3, 300e6), 0.02),
    _value("injection_window", "angle", "crank angle in which full load must be injected", (30.0, 720.0), 0.02),
    _value("idle_air_flow", "flow_mass", "air flow at hot idle", (2e-4, 0.05), 0.05, (2e-3, 6e-3)),
    _value("idle_speed", "rotation", "speed at hot idle", (5.0, 40.0), 0.01),
    Field(
        "flow_points",
        "rows",
        "flow of the fuel pump at pressure and voltage",
        fields=(
            Field("pressure", "quantity", "pressure", kind="pressure_gauge", possible=(0.0, 2e6), u=5e3, required=True),
            Field("voltage", "quantity", "voltage at the pump", kind="voltage", possible=(5.0, 20.0), u=0.1),
            Field(
                "flow",
                "quantity",
                "volume flow",
                kind="flow_volume",
                possible=(0.0, 1e-3),
                u_relative=0.03,
                required=True,
            ),
        ),
        help='one figure alone ("255 L/h") is free flow, or at a pressure and voltage that nobody states',
    ),
    _value("bypass_flow", "flow_volume", "flow of jet pumps and bypass; not known: 30 L/h", (0.0, 1e-4), 0.1),
    _value("set_pressure", "pressure_gauge", "fuel pressure set, without boost", (50e3, 2e6), 0.01),
    Field("referenced", "flag", "the fuel pressure follows the manifold pressure"),
    _value("wire_drop", "voltage", "voltage lost between battery and pump under load", (0.0, 8.0), 0.1),
    _value("line_bore", "length", "bore of the fuel line", (1e-3, 0.03), 0.01),
    _value("line_length", "length", "length of the fuel line", (0.1, 20.0), 0.02),
    _value("line_loss", "pressure_difference", "pressure lost in line and filter, measured", (0.0, 1e6), 0.1),
    _value("line_loss_flow", "flow_volume", "flow at which it was lost", (1e-7, 1e-3), 0.05),
    _value("plunger_bore", "length", "bore of the high-pressure plunger", (2e-3, 0.03), 0.002),
    _value("plunger_stroke", "length", "lift of the lobe", (0.5e-3, 0.03), 0.01),
    Field("pump_lobes", "count", "lobes that drive the pump", usual=(2, 4), possible=(1, 8)),
    _value("relief_opening", "pressure_gauge", "pressure at which the relief valve opens", (1e6, 300e6)),
    _value("sensor_full_scale", "pressure_gauge", "highest pressure that the rail sensor shows", (1e6, 500e6)),
    _MASS,
    _HOUSING,
    _value("range_low", "pressure_abs", "lowest pressure that the sensor shows", (0.0, 200e3)),
    _value("range_high", "pressure_abs", "highest pressure that the sensor shows", (50e3, 1e6)),
    _value("pressure_loss", "pressure_difference", "pressure that it costs", (0.0, 200e3), 0.05),
    _value("pressure_loss_flow", "flow_mass", "gas flow at which it costs that", (1e-3, 3.0), 0.05),
    _value(
        "choke_flow",
        "flow_mass",
        "corrected flow at the choke or 60 % efficiency line",
        (1e-3, 3.0),
        0.02,
        None,
        "maps of different makers refer to different states, up to 8 % apart: write the map's own beside it",
    ),
    _value("map_temperature", "temperature", "reference temperature of the compressor map", (250.0, 330.0), 0.001),
    _value("map_pressure", "pressure_abs", "reference pressure of the compressor map", (50e3, 110e3), 0.001),
    _value("shaft_speed_limit", "rotation", "highest speed of the shaft", (100.0, 10e3)),
    _value(
        "shaft_speed_demonstrated",
        "rotation",
        "its highest speed in a log of today's full load",
        (100.0, 10e3),
    ),
    Field(
        "surge_points",
        "rows",
        "surge line of the compressor map, corrected flow at the map's own reference",
        fields=(
            Field("pressure_ratio", "number", "pressure ratio", possible=(1.0, 8.0), required=True),
            Field(
                "flow",
                "quantity",
                "corrected flow",
                kind="flow_mass",
                possible=(1e-4, 3.0),
                u_relative=0.03,
                required=True,
            ),
        ),
    ),
    _value("spring_pressure", "pressure_gauge", "cracking pressure of the spring", (1e3, 500e3), 0.03),
    Field("effectiveness", "number", "effectiveness of the cooler, 0 to 1", possible=(0.0, 1.0)),
    Field("fluid", "text", "what is injected besides fuel"),
    _value("injected_flow", "flow_volume", "flow of that fluid", (0.0, 1e-3), 0.1),
    Field("flow_failsafe", "choice", "what happens when it stops flowing", choices=("proven", "none", "unknown")),
    _value("cam_duration", "angle", "duration of the valve lift, crank angle", (120.0, 400.0), 0.01),
    _value("duration_at_lift", "length", "lift from which the duration counts", (0.0, 2e-3), 0.02),
    _value("cam_lift", "length", "valve lift", (1e-3, 0.03), 0.01),
    COMPRESSION_RATIO,
    _value("gasket_thickness", "length", "thickness of the head gasket, pressed", (1e-4, 0.01), 0.02),
    BORE,
    STROKE,
    _value("plug_gap", "length", "electrode gap", (1e-4, 3e-3), 0.05),
    Field("heat_range", "text", "heat range of the plug"),
    _value("opening_temperature", "temperature", "temperature at which the thermostat opens", (300.0, 400.0), 0.005),
    _value("heat_capacity", "power", "heat that it rejects", (1e3, 1e6), 0.1),
    *_RATINGS,
    _value("inertia", "inertia", "moment of inertia", (1e-4, 10.0), 0.05),
    Field("gear_ratios", "number", "ratios from first gear up", many=True, possible=(0.2, 20.0)),
    Field(
        "gear_ratings",
        "rows",
        "torque that the gearbox may carry all the time gear by gear, at its input",
        fields=(
            Field("gear", "count", "gear", possible=(1, 12), required=True),
            Field("torque", "quantity", "torque", kind="torque", possible=(1.0, 1e4), u_relative=0.02, required=True),
        ),
        help="the lowest holds the plan: a ceiling knows speeds, not gears",
    ),
    Field("final_drive", "number", "final drive ratio", possible=(0.5, 10.0)),
    _value("tyre_circumference", "length", "rolling circumference of the tyre", (0.5, 5.0), 0.01),
    Field("sensor_transfer", "text", "transfer of the ethanol sensor"),
    Field("changed_what", "text", "what it changes"),
    _REPLACES,
)

PART: Final = (
    Field("part_kind", "choice", "kind of part", choices=KINDS, required=True),
    Field("position", "text", "which one: bank, cylinder, axle, before or after; nothing: all of them"),
    Field(
        "answer",
        "choice",
        "as made, or not; as made without it is standard too",
        choices=("standard", "modified", "unknown"),
        help=_NO_WORD,
    ),
    Field(
        "status",
        "choice",
        "who says so: owner or papers; a person looked at marking or photo; checked, and nothing was found",
        choices=("declared", "seen", "ruled_out"),
        help="not stated: declared",
    ),
    Field("marking", "text", "marking or number on the part"),
    Field(
        "state",
        "choice",
        "in what state it is",
        choices=("complete", "altered", "absent", "blanked"),
        help="of catalyst, filter and exhaust-gas recirculation above all",
    ),
    Field("fitted_by", "text", "who fitted it"),
    Field("fitted_on", "date", "day on which it was fitted"),
    Field("odometer_at_fit", "quantity", "distance covered then", kind="distance", possible=(0.0, None)),
    Field(
        "documents",
        "choice",
        "papers that are at hand",
        choices=("invoice", "data_sheet", "flow_report", "part_approval", "dyno_sheet", "photo", "none"),
        many=True,
    ),
    Field(
        "calibration_aware",
        "choice",
        "the present calibration was changed for this part",
        choices=("yes", "no", "unknown"),
    ),
    Field("calibration_record", "text", "what proves that: file, invoice or sheet of the calibration"),
    Field(
        "legal_flag",
        "choice",
        "whether the part may be on the road",
        choices=("none", "needs_approval", "not_road_legal", "unknown"),
    ),
    Field("data_document", "text", "where the figures stand"),
    *_MAKER,
)

MODIFICATION: Final = Section(
    "modification",
    "inventory of what is not as made, part by part: an interview with papers, or a look at the car",
    (
        Field(
            "standard_kinds",
            "choice",
            "kinds that are as made, said of each one when asked",
            choices=KINDS,
            many=True,
            help='ask kind by kind: "no modifications" is no answer',
        ),
        Field(
            "standard_status",
            "choice",
            "who says so of those",
            choices=("declared", "seen"),
        ),
        Field("part", "rows", "one table per part that is not as made, or whose figures are known", fields=PART),
        Field(
            "loaded_voltage",
            "quantity",
            "voltage at pump and injectors under full load; not known: 12 V",
            kind="voltage",
            usual=(11.0, 14.7),
            possible=(8.0, 16.0),
            u=0.1,
        ),
        Field(
            "settled",
            "choice",
            "what has been settled for more power",
            choices=("brakes", "tyres", "approval", "insurance"),
            many=True,
        ),
    ),
    tests=("inventory-interview", "look-for-undeclared-parts"),
    half_life_days=365.0,
    half_life_km=20e3,
    caution="cold exhaust; stands, not a jack; high voltage is for qualified staff",
)


def _per_unit(name: str, text: str) -> Field:
    return Field(name, "text", text, many=True)


CALIBRATION: Final = Section(
    "calibration",
    "present calibration: who made it, and what the control units say of it",
    (
        Field(
            "present_calibration",
            "choice",
            "whose calibration is in the control unit",
            choices=("standard", "changed_by", "unknown"),
        ),
        Field("changed_by", "text", "who changed it"),
        _per_unit("calibration_id", "calibration identifier read from the control unit; several units: a list"),
        _per_unit("verification_number", "calibration verification number read, in the same order"),
        _per_unit("maker_calibration_id", "identifier by the maker's list, in the same order"),
        _per_unit("maker_verification_number", "verification number by the maker's list, in the same order"),
    ),
    tests=("calibration-identifiers",),
    half_life_days=365.0,
    half_life_km=20e3,
    caution="read before anything is cleared",
)
SECTIONS: Final = (MODIFICATION, CALIBRATION)
