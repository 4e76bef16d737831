"""Where the relief valve sets the pressure: there it tells nothing of leakage, and viscosity corrects nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy_plugins.oil_system.pattern import plateau
from loadworthy_plugins.oil_system.points import ID

if TYPE_CHECKING:
    from loadworthy_plugins.oil_system.held import Held
    from loadworthy_plugins.oil_system.points import Point

#: Pressures within this share of the setting are at it (judgement, as for a plateau).
_AT = 0.05


def plateau_of(held: Held) -> float | None:
    """Return the pressure at which the sweep levels off, Pa gauge; None where it does not."""
    return plateau([(p.speed, p.pressure) for p in held.sweep.points])


def sound_plateau(held: Held) -> float | None:
    """Return the plateau unless it lies too low to be the relief valve's: then its points are judged, not skipped."""
    found = plateau_of(held)
    if found is None:
        return None
    relief = held.relief
    if relief is not None:
        return found if found >= held.limits[ID + "plateau_low"].number * relief else None
    return found if found >= held.limits[ID + "plateau_low_unknown"].number else None


def relief_from(held: Held) -> float | None:
    """Return the pressure from which the relief valve may be open, Pa gauge; None where nothing tells.

    By its setting, or by a plateau that may be it.
    """
    level = held.relief if held.relief is not None else sound_plateau(held)
    return None if level is None else (1.0 - _AT) * level


def at_relief(held: Held, point: Point) -> bool:
    """Tell whether a point stands at the relief valve's setting or on a plateau that may be it."""
    least = relief_from(held)
    return least is not None and point.pressure >= least
