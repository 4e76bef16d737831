"""What the demand model asks of ``[vehicle]`` and ``[plan]``."""

from __future__ import annotations

from loadworthy.sdk import Field, Fields
from loadworthy_plugins.shared_fields import (
    CYLINDER_COUNT,
    DISPLACEMENT,
    DRIVE_LAYOUT,
    ENGINE_CYCLE,
    FUEL,
    GEARBOX_TYPE,
    INDUCTION,
)

POWER_BASES = ("crank_measured", "crank_declared", "wheel", "unknown")
CORRECTIONS = ("none", "iso_1585", "sae_j1349", "din_70020", "j607_std", "unknown")

_BASELINE_POINT = (
    Field("speed", "quantity", kind="rotation", text="engine speed", required=True),
    Field("torque", "quantity", kind="torque", text="torque there, or power"),
    Field("power", "quantity", kind="power", text="power there, if the torque is not known"),
    Field(
        "manifold_pressure",
        "quantity",
        kind="pressure_abs",
        quantity="manifold_pressure",
        text="intake manifold pressure, absolute",
        possible=(10e3, 600e3),
    ),
    Field(
        "charge_temperature",
        "quantity",
        kind="temperature",
        quantity="charge_temperature",
        text="gas temperature in the intake manifold",
        possible=(233.15, 473.15),
    ),
    Field(
        "lambda",
        "number",
        text="lambda there, measured in the exhaust",
        usual=(0.75, 1.6),
        possible=(0.5, 3.0),
        help="at low speed a scavenging engine blows air past the cylinder: the exhaust reads leaner than it burns",
    ),
    Field(
        "air_flow",
        "quantity",
        kind="flow_mass",
        quantity="air_flow",
        text="metered air flow there",
        possible=(0.0, 3.0),
    ),
)

VEHICLE = Fields(
    "vehicle",
    (
        FUEL,
        ENGINE_CYCLE,
        INDUCTION,
        DISPLACEMENT,
        CYLINDER_COUNT,
        GEARBOX_TYPE,
        DRIVE_LAYOUT,
        Field(
            "ethanol_fraction",
            "number",
            text="measured or agreed ethanol share of the petrol by volume; goes before the pump's name",
            usual=(0.0, 0.85),
            possible=(0.0, 1.0),
        ),
        Field(
            "afr_stoich",
            "number",
            text="stoichiometric air per fuel by mass, if the fuel is not the pump's",
            usual=(6.0, 18.0),
            possible=(4.0, 35.0),
        ),
        Field(
            "lower_heating_value",
            "quantity",
            kind="specific_energy",
            text="lower heating value, if the fuel is not the pump's",
            usual=(19e6, 51e6),
            possible=(10e6, 125e6),
        ),
        Field(
            "fuel_density",
            "quantity",
            kind="density",
            text="density of the fuel at 15 degC, if it is not the pump's",
            usual=(700.0, 900.0),
            possible=(400.0, 1100.0),
        ),
        Field("valves_per_cylinder", "count", text="valves per cylinder", usual=(2, 5), possible=(2, 8)),
        Field("cam_phasing", "flag", text="whether a camshaft is phased (variable valve timing)"),
        Field(
            "charge_cooler",
            "choice",
            text="cooler between compressor and engine",
            choices=("none", "air_air", "air_water"),
        ),
        Field(
            "charge_coolant_temperature",
            "quantity",
            kind="temperature",
            text="coolant of an air-water charge cooler at full load",
            usual=(288.15, 333.15),
            possible=(233.15, 393.15),
        ),
        Field(
            "compressor_map_temperature",
            "quantity",
            kind="temperature",
            text="inlet temperature to which the compressor map is corrected; no map: 298.15 K",
            usual=(288.0, 303.0),
            possible=(250.0, 330.0),
        ),
        Field(
            "compressor_map_pressure",
            "quantity",
            kind="pressure_abs",
            text="inlet pressure to which the compressor map is corrected; no map: 100 kPa",
            usual=(96e3, 101.4e3),
            possible=(50e3, 110e3),
            help="maps differ by up to 8 %: read it on the map itself",
        ),
        Field(
            "power_basis",
            "choice",
            text="where today's torque and the baseline points were measured",
            choices=POWER_BASES,
        ),
        Field(
            "power_correction",
            "choice",
            text="rule by which today's torque was corrected to a reference atmosphere",
            choices=CORRECTIONS,
        ),
        Field(
            "wheel_to_crank_loss",
            "number",
            text="share of the power lost between crank and rollers, tyres included",
            usual=(0.08, 0.25),
            possible=(0.0, 0.5),
        ),
        Field(
            "ambient_pressure",
            "quantity",
            kind="pressure_abs",
            text="air pressure on the day of the figures",
            usual=(70e3, 104e3),
            possible=(50e3, 110e3),
            caution="weather reports and phones show it reduced to sea level: say which kind it is",
        ),
        Field(
            "ambient_pressure_kind",
            "choice",
            text="whether the pressure was read at the place or is reduced to sea level",
            choices=("station", "sea_level_reduced"),
        ),
        Field(
            "ambient_temperature",
            "quantity",
            kind="temperature",
            text="outside air temperature on the day of the figures",
            usual=(243.15, 323.15),
            possible=(213.15, 333.15),
        ),
        Field("relative_humidity", "number", text="relative humidity, 0 to 1", possible=(0.0, 1.0)),
        Field(
            "altitude",
            "quantity",
            kind="altitude",
            text="height of the place above sea level",
            usual=(-400.0, 3000.0),
            possible=(-400.0, 4500.0),
        ),
        Field(
            "baseline_log_point",
            "rows",
            text="full-load points of this car's own log: they replace most assumptions of the model",
            fields=_BASELINE_POINT,
            help="one table per speed, steady, no fault active",
        ),
    ),
)

PLAN = Fields(
    "plan",
    (
        Field("peak_power", "quantity", kind="power", quantity="power", text="planned peak power"),
        Field(
            "peak_power_speed",
            "quantity",
            kind="rotation",
            text="speed of the planned peak power",
            usual=(3200 / 60, 7500 / 60),
            usual_by=(
                "fuel",
                {
                    **dict.fromkeys(FUEL.choices[:8], (4500 / 60, 7500 / 60)),
                    **dict.fromkeys(FUEL.choices[8:], (3200 / 60, 4500 / 60)),
                },
            ),
            possible=(10.0, 400.0),
        ),
        Field("peak_torque", "quantity", kind="torque", quantity="torque", text="planned peak torque"),
        Field("peak_torque_speed", "quantity", kind="rotation", text="speed of the planned peak torque"),
        Field("gain_power", "quantity", kind="power", text="planned gain of peak power over today's"),
        Field("gain_torque", "quantity", kind="torque", text="planned gain of peak torque over today's"),
        Field(
            "gain",
            "number",
            text="planned gain of torque as a share of today's, 0.2 for a fifth more",
            usual=(0.0, 0.5),
            possible=(0.0, 5.0),
        ),
        Field(
            "boost",
            "quantity",
            kind="pressure_gauge",
            text="planned boost above the ambient pressure of the place",
            usual=(20e3, 200e3),
            possible=(0.0, 500e3),
        ),
        Field(
            "lambda",
            "number",
            text="planned full-load lambda",
            usual=(0.75, 1.6),
            usual_by=(
                "fuel",
                {
                    **dict.fromkeys(FUEL.choices[:8], (0.75, 1.0)),
                    **dict.fromkeys(FUEL.choices[8:], (1.05, 1.6)),
                },
            ),
            possible=(0.5, 3.0),
        ),
        Field(
            "charge_temperature",
            "quantity",
            kind="temperature",
            text="planned gas temperature in the intake manifold",
            usual=(293.15, 353.15),
            possible=(233.15, 473.15),
        ),
        Field("power_basis", "choice", text="what the planned figures are based on", choices=POWER_BASES),
        Field(
            "power_correction",
            "choice",
            text="rule by which the planned figures are corrected",
            choices=CORRECTIONS,
        ),
    ),
)
