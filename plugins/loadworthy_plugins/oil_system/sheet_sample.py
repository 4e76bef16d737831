"""The sheet of an oil sample: viscosity, fuel, water, coolant, soot, additive reserve and wear metals.

Ranges and default uncertainties are common practice or judgement.
"""

from __future__ import annotations

from typing import Any, Final

from loadworthy.sdk import Field, Section
from loadworthy_plugins.oil_system.sheet import FRESH, GRADE, USED

#: Elements of a spectrometric analysis, by symbol, and what mostly brings them.
METALS: Final = {
    "fe": "iron: bores, shafts, timing drive",
    "cr": "chromium: rings",
    "al": "aluminium: pistons, housings, dirt",
    "cu": "copper: bearings, coolers",
    "pb": "lead: bearings",
    "sn": "tin: bearings",
    "si": "silicon: dirt, sealant, antifoam",
    "na": "sodium: coolant, additive",
    "k": "potassium: coolant",
    "mo": "molybdenum: additive, rings",
    "b": "boron: additive, coolant",
    "ca": "calcium: additive",
    "zn": "zinc: additive",
    "p": "phosphorus: additive",
}


def _share(
    name: str,
    text: str,
    usual: tuple[float, float],
    possible: tuple[float, float],
    kind: str = "share_mass",
    **more: Any,
) -> Field:
    return Field(name, "quantity", text, kind=kind, usual=usual, possible=possible, **more)


def _metals(name: str, text: str) -> Field:
    inner = tuple(
        _share(symbol, words, (0.0, 500e-6), (0.0, 0.1), "share_trace", u=1e-6, u_relative=0.05)
        for symbol, words in METALS.items()
    )
    return Field(name, "record", text, fields=inner)


def _number(name: str, text: str, **more: Any) -> Field:
    return Field(
        name,
        "quantity",
        text,
        kind="acid_number",
        usual=(1e-3, 15e-3),
        possible=(0.0, 0.1),
        u=0.2e-3,
        u_relative=0.05,
        **more,
    )


OIL_SAMPLE: Final = Section(
    "oil_sample",
    "oil sample with a sample of the fresh oil: viscosity, contamination, wear metals",
    (
        GRADE,
        *USED,
        *FRESH,
        Field(
            "hths150",
            "quantity",
            "high-shear viscosity of the fresh oil at 150 degC",
            kind="viscosity_dynamic",
            usual=(1.7e-3, 5e-3),
            possible=(1e-3, 8e-3),
            u_relative=0.02,
        ),
        Field(
            "oil_distance",
            "quantity",
            "distance run on this oil",
            kind="distance",
            usual=(0.0, 30e6),
            possible=(0.0, 150e6),
        ),
        Field(
            "oil_age",
            "quantity",
            "time since the oil change",
            kind="age",
            usual=(0.0, 63.2e6),
            possible=(0.0, 632e6),
        ),
        Field(
            "sump_oil_volume",
            "quantity",
            "oil in the engine",
            kind="volume",
            usual=(3e-3, 10e-3),
            possible=(0.5e-3, 60e-3),
            u_relative=0.03,
        ),
        Field(
            "oil_topup",
            "quantity",
            "oil added since the change, in all; none added: 0 L",
            kind="volume",
            usual=(0.0, 10e-3),
            possible=(0.0, 100e-3),
            help="top-up hides wear metals",
        ),
        Field(
            "sample_taken",
            "choice",
            "how the sample was taken",
            choices=("hot_mid_stream", "other", "unknown"),
            caution="hot oil burns: gloves; before the change",
        ),
        _metals("metals", "elements of the used oil by symbol"),
        _metals("fresh_metals", "elements of the fresh oil of the same kind by symbol"),
        _share("fuel_dilution", "fuel in the oil by mass", (0.0, 0.05), (0.0, 0.5), u=0.002, u_relative=0.05),
        Field(
            "fuel_method",
            "choice",
            "how the fuel was found; viscosity alone cannot tell fuel from shear",
            choices=("gas_chromatography", "sniff", "flash", "viscosity_estimate"),
        ),
        Field("flash_point_drop", "flag", "the laboratory reports a lowered flash point"),
        _share("water", "water by mass", (0.0, 0.001), (0.0, 0.5), u=0.0002, u_relative=0.05),
        Field("glycol", "flag", "glycol found; false: looked for and not found"),
        _share("soot", "soot by mass", (0.0, 0.03), (0.0, 0.2), u=0.002, u_relative=0.05),
        Field("oxidation_high", "flag", "the laboratory reports strong oxidation or nitration"),
        _number("tbn", "total base number of the used oil"),
        _number("tbn_new", "total base number of the fresh oil, by the same method"),
        Field(
            "tbn_same_method",
            "flag",
            "both base numbers by one method (ASTM D2896 reads higher than D4739)",
        ),
        _number("tan", "total acid number of the used oil"),
        _number("tan_new", "total acid number of the fresh oil"),
    ),
    tests=("oil-sample",),
    half_life_km=5000.0,
    caution="hot oil harms skin and water: gloves, collect, hand over by local rules",
)
