"""What the bundled checks ask of the table of demand."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def along(steps: Sequence[float], row: Sequence[float], torque: float) -> float:
    """Return a row of the demand at a torque: linear between load steps, in proportion below them, the last above.

    >>> [along((100.0, 200.0), (1.0, 3.0), torque) for torque in (50.0, 150.0, 300.0)]
    [0.5, 2.0, 3.0]
    """
    if torque <= steps[0]:
        return row[0] * max(0.0, torque) / steps[0]
    for k in range(1, len(steps)):
        if torque <= steps[k]:
            return row[k - 1] + (row[k] - row[k - 1]) * (torque - steps[k - 1]) / (steps[k] - steps[k - 1])
    return row[-1]
