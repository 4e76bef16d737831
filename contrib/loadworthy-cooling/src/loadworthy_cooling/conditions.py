"""Whether a run's conditions allow its reading to clear, and to count in full.

What can only have flattered the reading takes away its power to clear; what can only have made it look worse caps its
grade. What is not said counts as whichever of both is worse: no empty field is ever worth more than a filled one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from loadworthy.sdk import Limits, Sheet


class Conditions(NamedTuple):
    """``clears``: a cool reading clears. ``full``: a hot one counts in full. ``words`` say what was wrong."""

    clears: bool
    full: bool
    words: tuple[str, ...]


def conditions_of(sheet: Sheet, thermostat_open: float | None, limits: Limits) -> Conditions:
    """Return what the conditions of a run allow. ``thermostat_open`` in K, None: not known."""
    flattered: list[str] = []
    worsened: list[str] = []
    unsaid: list[str] = []
    steady = sheet.reading("steady_time")
    if steady is None:
        unsaid.append("how long it was steady is not said")
    elif steady.value < limits["cooling.steady_time"].number:
        flattered.append("not steady for long enough: it may still have been rising")
    air = sheet.get("air")
    if air is None:
        unsaid.append("what moved the air is not said")
    elif air == "rollers_without_fan":
        worsened.append("on rollers without a fan")
    elif air == "road":
        speed = sheet.reading("road_speed")
        if speed is None:
            unsaid.append("the road speed is not said")
        elif speed.value < limits["cooling.road_speed"].number:
            worsened.append("slower on the road than a full-load run is")
    coolant = sheet.reading("coolant_temperature")
    # An opening that is not known excuses nothing: the thermostat is then taken as fully open.
    if thermostat_open is not None and coolant is not None and coolant.value < thermostat_open:
        worsened.append("the thermostat was not fully open: it held the temperature up")
    refused = [
        reading.refused
        for name in ("coolant_temperature", "ambient_temperature", "power")
        if (reading := sheet.reading(name)) is not None and reading.refused
    ]
    return Conditions(
        clears=not (flattered or unsaid or refused),
        full=not worsened,
        words=(*flattered, *worsened, *unsaid, *refused),
    )
