"""Facts of the engine that this check asks of ``[vehicle]``.

Ranges are common practice or judgement; where a maker gives figures, those count.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Fields
from loadworthy_plugins.shared_fields import (
    BORE,
    COMPRESSION_RATIO,
    COOLANT_LOSS,
    CYLINDER_BANKS,
    CYLINDER_COUNT,
    DISPLACEMENT,
    ENGINE_CYCLE,
    FUEL,
    GEARBOX_TYPE,
    INTAKE_CLOSING,
    ROD_LENGTH,
    RUN_IN_COMPLETE,
    SHORT_TRIPS,
    STROKE,
    by_fuel,
)

BY_FUEL_READING: Final = by_fuel((0.8e6, 1.6e6), (1.8e6, 3.5e6))
#: First puff as a share of the final value (usual); of the readings above, what that comes to, Pa gauge.
USUAL_FIRST_PUFF: Final = (0.5, 0.85)
BY_FUEL_FIRST_PUFF: Final = (
    "fuel",
    {fuel: (low * USUAL_FIRST_PUFF[0], high * USUAL_FIRST_PUFF[1]) for fuel, (low, high) in BY_FUEL_READING[1].items()},
)
#: Cranking speeds of a starter motor, rev/s (usual).
BY_FUEL_SPEED: Final = by_fuel((180 / 60, 320 / 60), (150 / 60, 300 / 60))
#: Highest cranking reading that any engine here can show, Pa gauge: above it the unit is wrong.
MOST_READING: Final = 5e6

VEHICLE: Final = Fields(
    "vehicle",
    (
        FUEL,
        CYLINDER_COUNT,
        CYLINDER_BANKS,
        DISPLACEMENT,
        COMPRESSION_RATIO,
        BORE,
        STROKE,
        ROD_LENGTH,
        INTAKE_CLOSING,
        ENGINE_CYCLE,
        GEARBOX_TYPE,
        Field(
            "cylinder_arrangement",
            "choice",
            "how the cylinders stand; flat and other: no wet test",
            choices=("inline", "vee", "flat", "other"),
        ),
        Field("firing_order", "count", "cylinder numbers in firing order", many=True, possible=(1, 24)),
        Field("uneven_firing", "flag", "the cylinders do not fire at equal intervals"),
        Field(
            "pin_offset",
            "quantity",
            "offset of the piston pin from the crank axis, towards the thrust side",
            kind="length",
            usual=(-0.002, 0.002),
            possible=(-0.02, 0.02),
            u=1e-4,
        ),
        Field(
            "intake_closing_basis",
            "choice",
            "where the closing angle is taken: valve seated, or 1 mm before",
            choices=("seat", "1mm", "unknown"),
        ),
        Field("pre_chamber", "flag", "the combustion chamber is divided: no wet test"),
        Field("motor_generator_start", "flag", "cranked by a motor-generator: compare with its own record only"),
        Field("deactivation_set", "count", "cylinders that the engine can cut off", many=True, possible=(1, 24)),
        Field(
            "compression_spec_min",
            "quantity",
            "maker's least cranking compression",
            kind="pressure_gauge",
            usual_by=BY_FUEL_READING,
            possible=(0.2e6, MOST_READING),
        ),
        Field(
            "compression_spec_nominal",
            "quantity",
            "maker's nominal cranking compression of a new engine",
            kind="pressure_gauge",
            usual_by=BY_FUEL_READING,
            possible=(0.2e6, MOST_READING),
        ),
        Field(
            "compression_spec_max_difference",
            "quantity",
            "maker's greatest difference between cylinders",
            kind="pressure_difference",
            usual=(0.05e6, 0.7e6),
            possible=(0.01e6, MOST_READING),
        ),
        Field("compression_spec_source", "text", "where the maker's figures stand"),
        Field(
            "compression_spec_cranking_speed",
            "quantity",
            "cranking speed that the maker's figures are for",
            kind="rotation",
            possible=(40 / 60, 1500 / 60),
        ),
        Field(
            "blowby_spec",
            "record",
            "maker's limits of blow-by or crankcase pressure, with the conditions that they are for",
            fields=(
                Field("flow", "quantity", "most blow-by", kind="flow_volume", possible=(0.0, 0.05)),
                Field("pressure", "quantity", "most crankcase pressure", kind="pressure_gauge", possible=(-5e3, 20e3)),
                Field("speed", "quantity", "engine speed", kind="rotation", possible=(5.0, 150.0)),
                Field("load", "choice", "load", choices=("idle", "high_idle", "part", "full")),
                Field("restrictor", "text", "breather restriction through which the pressure is taken"),
                Field("source", "text", "where the figures stand"),
            ),
        ),
        RUN_IN_COMPLETE,
        Field("engine_rebuilt", "flag", "the engine has been rebuilt"),
        Field("head_skimmed", "flag", "the cylinder head has been skimmed"),
        Field("gasket_thicker", "flag", "a head gasket thicker than standard is fitted"),
        Field("pistons_changed", "choice", "pistons", choices=("standard", "raised", "lowered")),
        Field("cam_changed", "flag", "a camshaft other than standard is fitted"),
        Field("timing_drive_work", "flag", "belt or chain of the valve drive worked on recently"),
        Field("water_ingress", "flag", "the engine has swallowed water or stood in it"),
        Field("stood_unused", "flag", "the vehicle stood unused before the test"),
        COOLANT_LOSS,
        SHORT_TRIPS,
        Field(
            "highest_logged_speed",
            "quantity",
            "highest engine speed in any record of this engine, the control unit's own counters included",
            kind="rotation",
            possible=(5.0, 300.0),
            u=25.0 / 60.0,
        ),
        Field(
            "engine_speed_limit",
            "quantity",
            "highest engine speed that the maker allows",
            kind="rotation",
            usual=(3500 / 60, 8500 / 60),
            possible=(20.0, 300.0),
        ),
        Field("knock_history", "flag", "the engine is known to have knocked under load"),
        Field("oil_use_high", "flag", "the engine uses much oil or smokes blue"),
        Field("head_fixings_proven", "flag", "head bolts or studs are proven for the planned load (paper)"),
    ),
)
