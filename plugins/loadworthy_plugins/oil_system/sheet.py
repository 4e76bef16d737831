"""The sheets that this check reads: pressure, used oil, what is seen and heard, turbocharger, a steady hot run.

Ranges, default uncertainties and cautions are common practice or judgement.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Section
from loadworthy_plugins.oil_system.vehicle import (
    KV40,
    KV100,
    KV_BASIS,
    RPM,
    STAGES,
    oil_temperature,
    pressure,
)

GRADE: Final = Field("oil_grade_filled", "text", "oil grade in the sump, as the receipt or the label claims")
USED: Final = (
    Field(
        "used_kv40",
        "quantity",
        "kinematic viscosity of the oil in the sump at 40 degC",
        kind="viscosity_kinematic",
        usual=(20e-6, 200e-6),
        possible=(2e-6, 2000e-6),
    ),
    Field(
        "used_kv100",
        "quantity",
        "kinematic viscosity of the oil in the sump at 100 degC",
        kind="viscosity_kinematic",
        usual=(4e-6, 28e-6),
        possible=(1e-6, 100e-6),
    ),
)
FRESH: Final = (
    KV40,
    KV100,
    KV_BASIS,
    Field(
        "density15",
        "quantity",
        "density of the oil at 15 degC; not known: 855 kg/m3",
        kind="density",
        usual=(830.0, 890.0),
        possible=(780.0, 950.0),
    ),
)
_SWEEP_CAUTION: Final = "a burst hose sprays hot oil: gloves, eye shield, fan and hoses clear"

OIL_PRESSURE: Final = Section(
    "oil_pressure",
    "oil pressure over engine speed, hot, with the oil temperature beside every point",
    (
        Field(
            "oil_pressure_points",
            "rows",
            "hot idle, 2 000, 3 000 rpm and the highest safe speed, each held 5 s",
            fields=(
                RPM,
                pressure("pressure", "oil pressure above ambient", required=True),
                Field(
                    "std",
                    "quantity",
                    "standard deviation of the pressure over the 5 s",
                    kind="pressure_difference",
                    usual=(0.0, 50e3),
                    possible=(0.0, 700e3),
                ),
                oil_temperature("oil_temp", "oil temperature at this point"),
                Field("commanded_stage", "choice", "stage that was commanded", choices=STAGES),
                pressure("commanded_pressure", "pressure that was commanded", u=None),
                Field("source", "choice", "what was read", choices=("mechanical_gauge", "sender_log")),
            ),
            required=True,
            caution=f"stop at once below 0.4 bar; {_SWEEP_CAUTION}",
            help="write the oil temperature beside every point",
        ),
        Field(
            "oil_temp_source",
            "choice",
            "where the oil temperature was taken; coolant is not oil",
            choices=("sump", "filter_head", "gallery", "coolant_assumed"),
        ),
        oil_temperature("oil_temp", "oil temperature of all points that have none of their own"),
        GRADE,
        *USED,
        *FRESH,
        Field(
            "oil_changed_for_test",
            "flag",
            "oil and filter were changed just before: the oil is as fresh as its data sheet",
        ),
        Field(
            "pressure_surge",
            "choice",
            "pressure or lamp in bends or under braking",
            choices=("none", "cornering_or_braking", "unknown"),
        ),
        Field("oil_level", "number", "level then, 0 at the lower mark, 1 at the upper", usual=(0, 1), possible=(-1, 3)),
        Field(
            "cold_start_points",
            "rows",
            "points after a cold start, oil below 40 degC, 1 500 to 2 500 rpm",
            fields=(
                RPM,
                pressure("pressure", "oil pressure above ambient", required=True, usual=(200e3, 1000e3)),
                oil_temperature("oil_temp", "oil temperature at this point", usual=(253.15, 313.15)),
            ),
            caution="do not rev a cold engine",
        ),
        Field(
            "time_to_pressure",
            "quantity",
            "time from the first turn of a cold start until there is pressure",
            kind="time",
            usual=(1.0, 5.0),
            possible=(0.0, 60.0),
            u=0.3,
        ),
        pressure("mechanical_gauge_pressure", "gauge, at the same instant as the sender", caution=_SWEEP_CAUTION),
        pressure("sender_pressure", "vehicle's own sender, at the same instant as the gauge", u=20e3),
        pressure(
            "sender_engine_off",
            "vehicle's own sender 1 min after the engine stopped: must be zero",
            usual=(-10e3, 10e3),
            possible=(-120e3, 1500e3),
            u=3e3,
        ),
        pressure("pressure_before_filter", "pressure before the oil filter, hot", caution=_SWEEP_CAUTION),
        pressure("pressure_after_filter", "pressure after the oil filter, hot, same instant"),
        pressure("gallery_pressure", "pressure at the gauge point, same instant as the far gallery"),
        pressure("far_gallery_pressure", "pressure at the far end of the gallery", caution=_SWEEP_CAUTION),
    ),
    tests=("oil-pressure-sweep", "sender-comparison", "cold-start-oil-pressure", "oil-filter-drop", "oil-stage-test"),
    caution=_SWEEP_CAUTION,
)
