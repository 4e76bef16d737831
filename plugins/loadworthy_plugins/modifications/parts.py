"""The kinds of part that the inventory asks for: what to demand, what to tell, what they distort and could limit.

One row per kind. Figures of distortions are judgement. The list of kinds and what each falsifies is common practice.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import NamedTuple


class Distorts(NamedTuple):
    """A reading of any check that a part falsifies: a ``section.field`` or a quantity of the demand.

    ``relative`` is the standard uncertainty that is added, relative to the value; nothing given: not to be relied on.
    """

    target: str
    why: str
    relative: float = 0.0


class Kind(NamedTuple):
    """A kind of part.

    ``data``: keys of a row of the inventory to demand when it is not standard; keys of one group do for one another.
    ``conditions``: (key, the key that its value means nothing without). ``tell``: what the calibrator must know of it,
    empty where the calibration does not depend on it. ``could_limit``: quantities of the demand that it could limit.
    ``emission``: it belongs to emission control. ``internal``: it makes the plan count as strong at least.
    """

    id: str
    text: str
    data: tuple[tuple[str, ...], ...] = ()
    conditions: tuple[tuple[str, str], ...] = ()
    tell: str = ""
    distorts: tuple[Distorts, ...] = ()
    could_limit: tuple[str, ...] = ()
    emission: bool = False
    internal: bool = False


_FLOW: Final = (("static_flow", "static_flow_mass"), ("flow_pressure",), ("test_fluid", "test_fluid_density"))
_CRANKING: Final = ("compression.dry_reading", "compression.repeat_reading", "compression.wet_reading")

#: Every kind that the inventory asks for, in the order of an interview.
CATALOGUE: Final = (
    Kind(
        "injector",
        "injectors",
        (*_FLOW, ("dead_time_points",)),
        (("static_flow", "flow_pressure"), ("static_flow_mass", "flow_pressure"), ("static_flow", "test_fluid")),
        "flow with its pressure and fluid, dead time over voltage and pressure, small-pulse table",
        (Distorts("fuel_flow", "computed from the flow of other injectors: wrong by the ratio of the flows"),),
        ("fuel_flow",),
    ),
    Kind(
        "fuel_pump",
        "fuel pump, in the tank or lift",
        (("flow_points",),),
        tell="speed control, current",
        could_limit=("fuel_flow",),
    ),
    Kind("pump_wiring", "wiring or relay to the fuel pump", (("wire_drop",),), could_limit=("fuel_flow",)),
    Kind(
        "fuel_line_and_filter",
        "fuel filter, line, rail",
        (("line_loss", "line_bore"),),
        (("line_loss", "line_loss_flow"), ("line_bore", "line_length")),
        could_limit=("fuel_flow",),
    ),
    Kind(
        "fuel_regulator",
        "fuel pressure regulator, return layout",
        (("set_pressure",), ("referenced",)),
        tell="law of the injector's differential pressure",
        distorts=(Distorts("fuel_flow", "injectors work at another differential pressure: square-root law", 0.10),),
        could_limit=("fuel_flow",),
    ),
    Kind(
        "high_pressure_pump",
        "high-pressure pump, its lobes, rail sensor, relief valve",
        (("plunger_bore",), ("plunger_stroke",), ("pump_lobes",), ("relief_opening",), ("sensor_full_scale",)),
        tell="displacement, transfer of the rail sensor",
        distorts=(Distorts("fuel_flow", "rail on target, but at another true pressure if the sensor is another"),),
        could_limit=("fuel_flow",),
    ),
    Kind(
        "air_meter",
        "air meter, its housing, intake pipe",
        (("full_scale",), ("housing_bore",)),
        tell="transfer curve",
        distorts=(
            Distorts("air_flow", "metered through another element or bore"),
            Distorts("torque", "computed from the metered air"),
            Distorts("mean_pressure", "computed from the metered air"),
        ),
        could_limit=("air_flow",),
    ),
    Kind(
        "pressure_sensor",
        "manifold or boost pressure sensor",
        (("range_high",), ("range_low",)),
        tell="slope and offset together",
        distorts=(Distorts("manifold_pressure", "read through another slope: wrong by the ratio of the ranges"),),
        could_limit=("manifold_pressure",),
    ),
    Kind(
        "intake_kit",
        "air filter or intake kit",
        (("pressure_loss",),),
        (("pressure_loss", "pressure_loss_flow"),),
        "transfer of the air meter if the pipe's bore changes",
        (Distorts("air_flow", "an oil film or another bore before the meter", 0.10),),
        ("air_flow",),
    ),
    Kind(
        "exhaust",
        "exhaust, exhaust manifold",
        (("pressure_loss",),),
        (("pressure_loss", "pressure_loss_flow"),),
        "place of the lambda sensor, heater strategy",
        could_limit=("exhaust_flow",),
    ),
    Kind(
        "catalyst_or_particulate_filter",
        "catalyst or particulate filter",
        tell="nothing: it is to be restored before any road calibration",
        distorts=(Distorts("filter_pressure_drop", "no or another filter: nearly no drop"),),
        could_limit=("exhaust_flow",),
        emission=True,
    ),
    Kind(
        "exhaust_gas_recirculation",
        "exhaust-gas recirculation",
        tell="nothing: it is to be restored before any road calibration",
        distorts=(Distorts("air_flow", "more fresh air than the model at cruise", 0.10),),
        emission=True,
    ),
    Kind(
        "turbocharger",
        "turbocharger, or drive of the supercharger",
        (("choke_flow",), ("map_temperature",), ("map_pressure",), ("shaft_speed_limit",), ("surge_points",)),
        (("choke_flow", "map_temperature"), ("choke_flow", "map_pressure")),
        "flow, spool, speed limit",
        (Distorts("compressor_speed", "relative to a wheel that is no longer fitted"),),
        ("air_flow", "compressor_speed"),
        internal=True,
    ),
    Kind(
        "boost_control",
        "wastegate actuator, its spring, boost control",
        (("spring_pressure",),),
        tell="base boost, duty table",
        could_limit=("manifold_pressure",),
    ),
    Kind(
        "intercooler",
        "intercooler, charge pipes, blow-off valves",
        (("effectiveness",), ("pressure_loss",)),
        (("pressure_loss", "pressure_loss_flow"),),
        "volume, blow-off vented or returned",
        could_limit=("charge_temperature",),
    ),
    Kind(
        "water_injection",
        "water or water-methanol injection",
        (("fluid",), ("injected_flow",), ("flow_failsafe",)),
        tell="map switch on proof of flow",
        distorts=(Distorts("charge_temperature", "cooled by a fluid that the tank may lack", 0.03),),
    ),
    Kind(
        "camshaft",
        "camshaft, phaser, valve springs",
        (("cam_duration",), ("cam_lift",), ("speed_rating",)),
        (("cam_duration", "duration_at_lift"),),
        "volumetric efficiency, idle, overlap",
        tuple(Distorts(field, "later closing: 5 to 15 % less when cranking", 0.10) for field in _CRANKING),
        ("engine_speed",),
        internal=True,
    ),
    Kind(
        "pistons_rods_gasket_head",
        "pistons, rods, head gasket, machined head",
        (("compression_ratio",), ("gasket_thickness",), ("torque_rating", "peak_pressure_rating")),
        tell="compression ratio, spark, noise when cold",
        distorts=(
            *(Distorts(field, "another compression ratio than stated", 0.10) for field in _CRANKING),
            Distorts("oil_look.oil_consumption", "other pistons and clearances", 0.30),
        ),
        could_limit=("torque",),
        internal=True,
    ),
    Kind(
        "displacement",
        "displacement (bore or stroke)",
        (("bore",), ("stroke",)),
        tell="displacement",
        distorts=(Distorts("mean_pressure", "computed from the displacement that was stated"),),
        could_limit=("torque",),
        internal=True,
    ),
    Kind(
        "ignition",
        "spark plugs, coils, leads",
        (("plug_gap",), ("heat_range",)),
        tell="dwell table",
        could_limit=("manifold_pressure",),
    ),
    Kind(
        "cooling",
        "radiator, oil cooler, thermostat",
        (("opening_temperature",), ("heat_capacity",)),
        tell="fan, warm-up",
        could_limit=("heat_load",),
    ),
    Kind(
        "clutch_and_flywheel",
        "clutch, flywheel, converter",
        (("torque_rating",), ("inertia",)),
        tell="idle, launch, torque model",
        could_limit=("torque",),
    ),
    Kind(
        "gearbox_differential_tyres",
        "gearbox, differential, joints, tyres",
        (("torque_rating", "gear_ratings"), ("gear_ratios", "final_drive", "tyre_circumference")),
        tell="torque limits, ratios, road speed",
        distorts=tuple(
            Distorts(quantity, "taken from road speed: wrong by the ratio of gearing or tyre")
            for quantity in ("power", "torque", "road_speed")
        ),
        could_limit=("torque",),
    ),
    Kind(
        "fuel_kind",
        "kind of fuel, ethanol sensor",
        (("sensor_transfer",),),
        tell="ethanol model",
        could_limit=("fuel_flow",),
    ),
    Kind(
        "software",
        "software of the control unit",
        (("changed_what",),),
        tell="what it changes and by whom",
        distorts=(
            Distorts("torque", "the torque model may lie below the real torque"),
            Distorts("power", "the torque model may lie below the real torque"),
        ),
        could_limit=("torque",),
    ),
    Kind(
        "signal_converter",
        "plug-in signal converter (box)",
        (("changed_what",),),
        tell="nothing: it is to be removed before any plan",
        distorts=tuple(
            Distorts(quantity, "a converter between sensor and control unit: every logged value may be false")
            for quantity in ("manifold_pressure", "air_flow", "fuel_flow", "torque", "power", "mean_pressure")
        ),
        could_limit=("torque",),
    ),
)
BY_ID: Final = {kind.id: kind for kind in CATALOGUE}
#: Their ids, in that order.
KINDS: Final = tuple(kind.id for kind in CATALOGUE)
