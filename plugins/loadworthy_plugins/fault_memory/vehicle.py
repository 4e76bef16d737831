"""Facts of the vehicle that the reading of codes needs."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Fields
from loadworthy_plugins.shared_fields import (
    AIR_METERING,
    CYLINDER_BANKS,
    CYLINDER_COUNT,
    DISPLACEMENT,
    FUEL,
    GEARBOX_TYPE,
    INDUCTION,
    JURISDICTION,
    MODEL_YEAR,
)

VEHICLE: Final = Fields(
    "vehicle",
    (
        FUEL,
        INDUCTION,
        CYLINDER_COUNT,
        CYLINDER_BANKS,
        DISPLACEMENT,
        GEARBOX_TYPE,
        JURISDICTION,
        MODEL_YEAR,
        Field(
            "coil_map",
            "rows",
            "which coil letter of the codes fires which cylinder: the maker's choice",
            fields=(
                Field("coil", "choice", "letter of the coil", choices=tuple("ABCDEFGHJKLM"), required=True),
                Field("cylinder", "count", "its cylinder", possible=(1, 24), required=True),
            ),
        ),
        AIR_METERING,
        Field(
            "bypass_vents",
            "flag",
            "the compressor's bypass valve vents to atmosphere (no: back into the intake)",
        ),
        Field("built_for_ethanol", "flag", "the vehicle is built for fuel with more than 25 % of alcohol"),
        Field(
            "monitors_expected",
            "text",
            "monitors that the maker's data say this vehicle has",
            many=True,
            help="names as the readiness lists have them: catalyst, oxygen sensor, boost pressure ...",
        ),
        Field("units_expected", "text", "control units that the maker's data say this vehicle has", many=True),
    ),
)
