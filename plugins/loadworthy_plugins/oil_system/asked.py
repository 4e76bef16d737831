"""What is asked of the oil pressure at a speed, and the pressure that is held to it."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.oil_system.points import FARTHEST, ID
from loadworthy_plugins.oil_system.reference import Figure, figure_at, judged
from loadworthy_plugins.oil_system.relief import at_relief, relief_from
from loadworthy_plugins.oil_system.requirement import floor_pressure
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from loadworthy_plugins.oil_system.held import Held
    from loadworthy_plugins.oil_system.points import Point
    from loadworthy_plugins.oil_system.reference import Corrected

#: Radius of the main journals (m) and density of hot oil (kg/m3) where nobody gives them (judgement).
RADIUS, HOT_DENSITY = 0.028, 800.0


class Required(NamedTuple):
    """A pressure that is asked for at a speed, and by whom: ``maker``, ``record`` or ``rule``."""

    pressure: float
    source: str


def figure_for(held: Held, figures: tuple[Figure, ...], point: Point) -> Figure | None:
    """Return the figure that a point is held to; a regulated pump has one for each of its stages."""
    return figure_at(figures, point.speed, point.stage if held.regulated else "")


def level(held: Held, point: Point, figure: Figure) -> Corrected | None:
    """Return the pressure that is held to a figure; None where it is to be taken as read.

    So far from the figure's temperature a correction would invent pressure; a commanded one, and one that the relief
    valve sets, do not follow viscosity; and no correction lifts a
    lower one above the pressure at which that valve opens.
    """
    oil = held.sweep.oil
    if held.regulated or oil is None or point.mu is None or at_relief(held, point):
        return None
    if abs((point.temperature or 0.0) - figure.temperature) > FARTHEST:
        return None
    told = judged(point, oil, figure, held.share)
    most = relief_from(held)
    return told if most is None or told.pressure <= most else told._replace(pressure=max(point.pressure, most))


def required_at(held: Held, speed: float, stage: str = "") -> Required | None:
    """Return what is asked for at a speed: the maker's figure, else a share of the record, else the rule of thumb."""
    found = figure_at(held.minimum, speed, stage if held.regulated else "")
    if found is not None:
        return Required(found.pressure, "maker")
    if held.regulated:
        return None
    found = figure_at(held.record, speed)
    if found is not None:
        return Required(found.pressure * held.limits[ID + "oil_p_history_share"].number, "record")
    if held.pump != "fixed":
        return None
    limit = held.limits[ID + "oil_p_rule_slope"].number
    return Required(min(limit * speed, held.relief or inf), "rule")


def covered_by_maker_or_record(held: Held, point: Point) -> bool:
    """Tell whether a maker's minimum or a record speaks at a point's speed."""
    return figure_for(held, held.minimum, point) is not None or figure_at(held.record, point.speed) is not None


def floor_at(held: Held, speed: float) -> float:
    """Return the least pressure with which oil reaches the crank axis, Pa gauge."""
    radius = number(held.case.vehicle.get("main_journal_radius")) or RADIUS
    margin = held.limits[ID + "oil_p_floor_margin"].number
    return floor_pressure(speed, radius, HOT_DENSITY, margin)
