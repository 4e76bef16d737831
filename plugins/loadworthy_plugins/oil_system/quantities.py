"""The demanded quantity that this check supplies."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Quantity

QUANTITIES: Final = (
    Quantity(
        "film_load",
        "ratio",
        "inverse of the film index ratio F/F_ref: torque over high-shear viscosity times speed",
    ),
)
