"""A reading's standard uncertainty from what is known of it (method, section 2; JCGM 100:2008, 4.3 and 5.1).

Floats only, all in one unit.
"""

from __future__ import annotations

from math import fsum, sqrt
from typing import TYPE_CHECKING

from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

_SQRT3 = 1.7320508075688772
_SQRT12 = 3.4641016151377544


class Gauge(NamedTuple):
    """What an instrument contributes: class and calibration as standard uncertainties, resolution as it is."""

    from_class: float | None = None
    calibration: float | None = None
    resolution: float | None = None

    @property
    def known(self) -> bool:
        """Whether the instrument states anything at all."""
        return self.from_class is not None or self.calibration is not None or self.resolution is not None


class Combined(NamedTuple):
    """The mean of the repeats, its standard uncertainty (None: unknown) and the parts of that."""

    mean: float
    u: float | None
    parts: tuple[tuple[str, float], ...]


def from_class(percent: float, span: float) -> float:
    """Return the standard uncertainty of an accuracy class: limits of error of ``percent`` of the span.

    A rectangular distribution within the limits, JCGM 100:2008, 4.3.7. Class 1.6 of 25 bar (EN 837-1:1996):

    >>> round(from_class(1.6, 25.0), 4)
    0.2309
    """
    return percent / 100.0 * span / _SQRT3


def combine(
    values: Sequence[float],
    *,
    stated: float | None = None,
    gauge: Gauge | None = None,
    default: float | None = None,
    default_relative: float | None = None,
    spread: float | None = None,
) -> Combined:
    """Combine what is known of one reading or of its repeats.

    ``stated`` on the sheet goes before the ``gauge``, that before the field's defaults (``default_relative`` of the
    value); none of them: u is None, for repeating tells nothing of the gauge's own error. ``spread`` is the
    uncertainty of the unit itself. Repeats add max(s^2/n, resolution^2/12) and leave the rest as it is.

    >>> gauge = Gauge(from_class=from_class(1.6, 25.0), resolution=0.1)
    >>> mean, u, parts = combine([12.1, 12.3, 11.8], gauge=gauge)
    >>> round(mean, 3), round(u, 4), [(name, round(part, 4)) for name, part in parts]
    (12.067, 0.2728, [('class', 0.2309), ('repeats', 0.1453)])
    """
    n = len(values)
    mean = values[0] if n == 1 else fsum(values) / n
    scatter = sqrt(fsum((x - mean) ** 2 for x in values) / (n - 1) / n) if n > 1 else 0.0
    parts: list[tuple[str, float]] = []
    resolution = 0.0
    if stated is not None:
        parts.append(("stated", stated))
    elif gauge is not None and gauge.known:
        if gauge.from_class is not None:
            parts.append(("class", gauge.from_class))
        if gauge.calibration is not None:
            parts.append(("calibration", gauge.calibration))
        resolution = (gauge.resolution or 0.0) / _SQRT12
    elif default is not None or default_relative is not None:
        usual = sqrt((default or 0.0) ** 2 + ((default_relative or 0.0) * mean) ** 2)
        if usual > 0.0:
            parts.append(("section default", usual))
    if resolution > scatter:
        parts.append(("resolution", resolution))
    known = bool(parts)
    if scatter > 0.0 and scatter >= resolution:
        # A gauge's resolution stands for its scatter, so the larger of the two makes it known.
        known = known or resolution > 0.0
        parts.append(("repeats", scatter))
    if spread:
        parts.append(("unit", spread))
    if not known:
        return Combined(mean, None, tuple(parts))
    return Combined(mean, sqrt(fsum(part * part for _, part in parts)), tuple(parts))
