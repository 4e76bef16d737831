"""The wet test: whether a little oil on the rings brings a low cylinder back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.compression.geometry import READING_EXPONENT, effective_ratio, expected_reading

if TYPE_CHECKING:
    from loadworthy_plugins.compression.geometry import Cylinder

#: Deficit of the dry reading below which the recovery says nothing (judgement).
LEAST_DRY_DEFICIT = 0.10
#: Most oil as a share of the displacement (judgement): 5 ml in 500 ml.
MOST_OIL_SHARE = 0.01


def oil_rise_bound(cylinder: Cylinder, intake_closing: float, oil_volume: float, ambient: float = 101325.0) -> float:
    """Return the largest relative rise of the gauge reading by the volume of the oil alone.

    The oil takes part of the chamber; with perfect rings this is an upper bound. ``intake_closing`` rad after
    bottom dead centre, ``oil_volume`` m3, ``ambient`` Pa absolute. Raises ValueError when the oil fills the chamber.

    >>> from math import radians
    >>> from loadworthy_plugins.compression.geometry import Cylinder
    >>> engine = Cylinder(0.086, 0.086, 0.143, 10.0)
    >>> [round(100 * oil_rise_bound(engine, radians(50.0), ml * 1e-6), 1) for ml in (5, 15)]
    [11.9, 45.6]
    """
    wet = effective_ratio(cylinder, intake_closing, oil_volume=oil_volume)
    dry = effective_ratio(cylinder, intake_closing)
    before, after = (expected_reading(ratio, ambient, READING_EXPONENT) for ratio in (dry, wet))
    return after / before - 1.0


class Recovery(NamedTuple):
    """Deficits against the control cylinder dry and wet, the share recovered and its standard uncertainty."""

    dry_deficit: float
    wet_deficit: float
    recovered: float
    u: float

    @property
    def conclusive(self) -> bool:
        """Tell whether the dry deficit is large enough for the recovery to mean anything."""
        return self.dry_deficit >= LEAST_DRY_DEFICIT


def recovery(dry: float, wet: float, control_dry: float, control_wet: float, relative: float = 0.025) -> Recovery:
    """Return how much of a low cylinder's deficit the oil recovers, against a sound cylinder treated alike.

    ``(D_dry - D_wet) / D_dry`` with ``D = 1 - p / p_control``; ``relative`` is the repeatability of one reading, and
    the uncertainty about ``2 relative / D_dry``. A cylinder that is not below its control recovers nothing.

    >>> found = recovery(9.6, 12.1, 12.2, 13.4)
    >>> round(found.dry_deficit, 3), round(found.wet_deficit, 3), round(found.recovered, 3)
    (0.213, 0.097, 0.545)
    """
    dry_deficit = 1.0 - dry / control_dry
    wet_deficit = 1.0 - wet / control_wet
    if dry_deficit <= 0.0:
        return Recovery(dry_deficit, wet_deficit, 0.0, float("inf"))
    return Recovery(dry_deficit, wet_deficit, (dry_deficit - wet_deficit) / dry_deficit, 2.0 * relative / dry_deficit)
