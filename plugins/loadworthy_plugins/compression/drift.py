"""Readings that fall with the order of taking: the battery, not the cylinders."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.middle import median

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Total fall over the order of taking that counts as drift (judgement).
LEAST_FALL = 0.04
#: 95 % critical difference of two readings in units of repeatability (ISO 5725-6:1994).
REPEAT_FACTOR = 2.8


class Drift(NamedTuple):
    """Whether a set drifts, by how much per step (unit of the readings), and the readings without that trend."""

    drifting: bool
    per_step: float
    without: tuple[float, ...]


def drift(readings: Sequence[float], relative: float, repeat: float | None = None, steps: int | None = None) -> Drift:
    """Judge readings given in the order in which they were taken.

    The set drifts when at least four readings never rise, most of them fall and the total fall exceeds 4 %, or
    when the ``repeat`` of the first cylinder, ``steps`` later, differs from it by more than 2.8 ``relative``. The trend
    is the median step, or that of the repeat where this is smaller; a trend only excuses itself. Repeats that
    contradict the median step leave no trend.

    >>> found = drift([12.0, 11.9, 11.8, 8.0], 0.025)
    >>> found.drifting, round(found.per_step, 3), [round(p, 2) for p in found.without]
    (True, -0.1, [12.0, 12.0, 12.0, 8.3])
    """
    first = readings[0]
    differences = [b - a for a, b in pairwise(readings)]
    typical = median(differences) if differences else 0.0
    falling = (
        len(readings) >= 4
        and all(d <= 0.0 for d in differences)
        and typical < 0.0
        and first - readings[-1] > LEAST_FALL * first
    )
    repeated = repeat is not None and abs(repeat - first) > REPEAT_FACTOR * relative * first
    if not falling and not repeated:
        return Drift(False, 0.0, tuple(readings))
    per_step = typical
    if repeat is not None:
        by_repeat = (repeat - first) / (steps or len(readings))
        if by_repeat * typical <= 0.0:
            per_step = 0.0
        elif abs(by_repeat) < abs(typical):
            per_step = by_repeat
    return Drift(True, per_step, tuple(p - i * per_step for i, p in enumerate(readings)))
