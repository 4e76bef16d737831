"""Vehicle fields that more than one bundled plugin declares: one fact, one key, one declaration."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field

Range = tuple[float, float]

FUEL: Final = Field(
    "fuel",
    "choice",
    text="fuel that the vehicle is run on, by the pump's name",
    choices=(
        "petrol_e0",
        "petrol_e5",
        "petrol_e10",
        "petrol_e85",
        "ethanol",
        "methanol",
        "lpg",
        "cng",
        "diesel_b0",
        "diesel_b7",
    ),
)
DIESEL_FUELS: Final = ("diesel_b0", "diesel_b7")


def by_fuel(spark: Range, diesel: Range) -> tuple[str, dict[str, Range]]:
    """Return usual ranges by fuel, for `Field.usual_by`: one for spark ignition, one for diesel."""
    return "fuel", {fuel: diesel if fuel in DIESEL_FUELS else spark for fuel in FUEL.choices}


INDUCTION: Final = Field(
    "induction",
    "choice",
    text="what charges the engine; twin: supercharger and turbocharger, or two stages",
    choices=("none", "turbo", "supercharger", "twin"),
)
ENGINE_CYCLE: Final = Field(
    "engine_cycle",
    "choice",
    text="working cycle of the engine; not stated: four-stroke is assumed",
    choices=("four_stroke", "two_stroke", "rotary"),
)
DISPLACEMENT: Final = Field(
    "displacement",
    "quantity",
    kind="volume",
    text="swept volume of all cylinders",
    usual=(0.6e-3, 7e-3),
    possible=(0.1e-3, 20e-3),
    help='the true figure from the papers: "1998 cm3", not "2.0 L"',
)
CYLINDER_COUNT: Final = Field("cylinder_count", "count", text="number of cylinders", usual=(2, 12), possible=(1, 24))
COMPRESSION_RATIO: Final = Field(
    "compression_ratio",
    "number",
    text="geometric compression ratio as built now",
    usual=(8.0, 20.0),
    usual_by=by_fuel((8.0, 14.5), (14.0, 20.0)),
    possible=(5.0, 25.0),
)
GEARBOX_TYPE: Final = Field(
    "gearbox_type",
    "choice",
    text="kind of gearbox; an automated manual counts as manual",
    choices=("manual", "automatic_converter", "dual_clutch_dry", "dual_clutch_wet", "cvt"),
)
DRIVE_LAYOUT: Final = Field("drive_layout", "choice", text="which axle drives", choices=("front", "rear", "all"))
CYLINDER_BANKS: Final = Field(
    "cylinder_banks",
    "count",
    text="cylinder numbers in physical order along each bank, [[1, 3, 5], [2, 4, 6]]; one bank: [[1, 2, 3, 4]]",
    many=True,
    nested=True,
    possible=(1, 24),
    help="neighbours by number are not neighbours in metal: say which cylinders share a wall",
)
BORE: Final = Field(
    "bore", "quantity", kind="length", text="cylinder bore", usual=(0.06, 0.11), possible=(0.03, 0.2), u_relative=1e-3
)
STROKE: Final = Field(
    "stroke",
    "quantity",
    kind="length",
    text="piston stroke",
    usual=(0.06, 0.12),
    possible=(0.03, 0.25),
    u_relative=1e-3,
)
ROD_LENGTH: Final = Field(
    "rod_length",
    "quantity",
    kind="length",
    text="connecting rod between centres; not known: 1.65 strokes",
    usual=(0.1, 0.22),
    possible=(0.05, 0.4),
    u_relative=1e-3,
)
INTAKE_CLOSING: Final = Field(
    "intake_closing",
    "quantity",
    kind="angle",
    text="intake valve closing after bottom dead centre; of a phased cam the parked position used while cranking",
    usual=(20.0, 75.0),
    possible=(-40.0, 140.0),
    u=2.0,
)
COOLANT_LOSS: Final = Field("coolant_loss", "flag", "the engine loses coolant and no leak is seen outside")
SHORT_TRIPS: Final = Field("short_trips", "flag", "the vehicle is mostly used for short trips")
RUN_IN_COMPLETE: Final = Field(
    "run_in_complete", "flag", "run-in after a rebuild is complete (no: rebuilt and not yet run in)"
)
FUEL_SYSTEM: Final = Field(
    "fuel_system",
    "choice",
    text="how the fuel gets its pressure",
    choices=("return_referenced", "return_unreferenced", "returnless_constant_gauge", "returnless_variable", "direct"),
)
JURISDICTION: Final = Field(
    "jurisdiction",
    "text",
    text="where it is registered: country code, with state or region where that matters",
    help='two letters as in "DE", "GB", "US", with the state as in "US-CA"',
)
MODEL_YEAR: Final = Field(
    "model_year", "count", text="model year by the papers", usual=(1990, 2026), possible=(1900, 2100)
)
AIR_METERING: Final = Field(
    "air_metering",
    "choice",
    text="how the control unit gets its air: a meter, or manifold pressure and speed",
    choices=("air_meter", "speed_density", "both"),
)
