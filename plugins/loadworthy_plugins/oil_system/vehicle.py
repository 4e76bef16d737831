"""Facts of the vehicle and of the plan that this check asks for.

Ranges are common practice or judgement; where a maker gives figures, those count.
"""

from __future__ import annotations

from typing import Any, Final

from loadworthy.sdk import Field, Fields
from loadworthy_plugins.shared_fields import (
    COOLANT_LOSS,
    CYLINDER_BANKS,
    ENGINE_CYCLE,
    FUEL,
    FUEL_SYSTEM,
    INDUCTION,
    RUN_IN_COMPLETE,
    SHORT_TRIPS,
)

#: Oil pressures, Pa gauge: usual on a running engine, and what a file may hold at all.
USUAL_PRESSURE: Final = (0.0, 700e3)
POSSIBLE_PRESSURE: Final = (-20e3, 1500e3)
#: Oil temperatures, K.
USUAL_OIL: Final = (333.15, 403.15)
POSSIBLE_OIL: Final = (233.15, 473.15)
STAGES: Final = ("low", "high")
BASES: Final = ("measured", "data_sheet", "grade_typical")

RPM: Final = Field(
    "rpm", "quantity", "engine speed", kind="rotation", usual=(8.0, 130.0), possible=(3.0, 300.0), u_relative=0.005
)
KV40: Final = Field(
    "kv40",
    "quantity",
    "kinematic viscosity of the fresh oil at 40 degC",
    kind="viscosity_kinematic",
    usual=(25e-6, 180e-6),
    possible=(2e-6, 2000e-6),
)
KV100: Final = Field(
    "kv100",
    "quantity",
    "kinematic viscosity of the fresh oil at 100 degC",
    kind="viscosity_kinematic",
    usual=(5e-6, 25e-6),
    possible=(1e-6, 100e-6),
)
KV_BASIS: Final = Field("kv_basis", "choice", "where the fresh oil's viscosity comes from", choices=BASES)


def pressure(name: str, text: str, *, u: float | None = 10e3, **more: Any) -> Field:
    """Return the field of a gauge pressure of the oil; ``u`` is a mechanical gauge's (judgement)."""
    options: dict[str, Any] = {"usual": USUAL_PRESSURE, "possible": POSSIBLE_PRESSURE, **more}
    return Field(name, "quantity", text, kind="pressure_gauge", u=u, **options)


def oil_temperature(name: str, text: str, **more: Any) -> Field:
    """Return the field of an oil temperature, u 3 K (judgement)."""
    options: dict[str, Any] = {"usual": USUAL_OIL, "possible": POSSIBLE_OIL, "u": 3.0, **more}
    return Field(name, "quantity", text, kind="temperature", **options)


_SPEC: Final = (
    RPM,
    oil_temperature("temp", "oil temperature that the figure is for; not stated: 100 degC", u=None),
    pressure("min", "least pressure", u=None),
    pressure("max", "greatest pressure", u=None),
    Field("oil_grade", "text", "oil grade that the figure is for"),
    Field("stage", "choice", "pump stage that the figure is for", choices=STAGES),
)
_RECORD: Final = (
    RPM,
    pressure("pressure", "oil pressure", required=True),
    oil_temperature("oil_temp", "oil temperature", required=True),
    KV40,
    KV100,
    Field("oil_grade", "text", "oil grade in the sump at that time"),
    Field("stage", "choice", "pump stage at that time", choices=STAGES),
)

VEHICLE: Final = Fields(
    "vehicle",
    (
        FUEL,
        INDUCTION,
        ENGINE_CYCLE,
        CYLINDER_BANKS,
        FUEL_SYSTEM,
        COOLANT_LOSS,
        SHORT_TRIPS,
        RUN_IN_COMPLETE,
        Field(
            "oil_pump_kind",
            "choice",
            "kind of oil pump; two-stage and variable pumps hold a commanded pressure",
            choices=("fixed", "two_stage", "variable", "unknown"),
            help="no rule of thumb holds for two-stage and variable pumps",
        ),
        Field(
            "oil_pressure_spec",
            "rows",
            "maker's oil pressures by engine speed, with the temperature and grade that they are for",
            fields=_SPEC,
        ),
        Field(
            "oil_pressure_history",
            "rows",
            "oil pressures of this engine when it was sound, or the maker's figures for a new one",
            fields=_RECORD,
        ),
        Field("oil_pressure_history_date", "date", "day of that record"),
        pressure(
            "relief_pressure",
            "pressure at which the relief valve opens, from the maker or an earlier record",
            usual=(300e3, 700e3),
            possible=(100e3, 1500e3),
            help="a plateau found on the sheet under test proves no relief setting",
        ),
        Field("oil_grade_spec", "text", "oil grade that the maker asks for, as on the can: 5W-30"),
        Field(
            "main_journal_radius",
            "quantity",
            "radius of the main bearing journals; not known: 28 mm",
            kind="length",
            usual=(0.022, 0.035),
            possible=(0.010, 0.060),
        ),
        Field("piston_jets", "flag", "oil jets cool the pistons, or a restrictor feeds the turbocharger"),
        Field(
            "oil_cooler", "choice", "where the oil gives its heat", choices=("none", "water_oil", "air_oil", "unknown")
        ),
        Field("oil_cooler_copper", "flag", "the oil cooler is of copper: it gives copper to the oil while it is new"),
        Field("aluminium_block", "flag", "the cylinder block is of aluminium without liners"),
        Field("turbo_bearing_kind", "choice", "bearings of the turbocharger", choices=("plain", "ball")),
        Field(
            "interrupted_regenerations",
            "flag",
            "regenerations of the particulate filter are often interrupted: fuel gets into the oil",
        ),
        Field(
            "oil_change_distance",
            "quantity",
            "distance between oil changes that the maker asks for",
            kind="distance",
            usual=(5e6, 30e6),
            possible=(1e6, 60e6),
        ),
    ),
)

PLAN: Final = Fields(
    "plan",
    (
        Field(
            "engine_speed_limit",
            "quantity",
            "highest engine speed that the new calibration will allow",
            kind="rotation",
            usual=(50.0, 135.0),
            possible=(20.0, 300.0),
        ),
        Field(
            "coolant_temp_plan",
            "quantity",
            "coolant temperature expected at the planned power; not known: as in the steady run",
            kind="temperature",
            usual=(343.15, 388.15),
            possible=(313.15, 413.15),
        ),
        Field(
            "ambient_temp_plan",
            "quantity",
            "hottest outside air that the plan is for; not known: 40 degC",
            kind="temperature",
            usual=(293.15, 318.15),
            possible=(253.15, 333.15),
        ),
    ),
)
