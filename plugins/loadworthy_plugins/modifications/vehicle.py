"""Facts of the vehicle that this check asks for: those that its mixture runs are held to."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Fields
from loadworthy_plugins.modifications.sheet_run import RUN_VEHICLE

VEHICLE: Final = Fields("vehicle", RUN_VEHICLE)
