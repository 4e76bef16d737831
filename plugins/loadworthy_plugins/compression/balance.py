"""Comparing the cylinders of one engine with each other: who agrees, who is low, who is high.

The largest set of readings that agree within their known repeatability (critical range factors, ISO 5725-6:1994)
gives a reference; a known sound value (maker's figure, the engine's own record) is never replaced by a lower
crowd, and readings that stand above the crowd hold a mirror up to it. Readings are any one unit of gauge
pressure, all alike; deficits are relative.
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.middle import median

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

#: Critical range factors for the range of k readings at 95 %, k = 2 to 12 (ISO 5725-6:1994, clause 5.2).
CRITICAL_RANGE = (2.8, 3.3, 3.6, 3.9, 4.0, 4.2, 4.3, 4.4, 4.5, 4.6, 4.6)
#: Relative repeatability of one reading: assumed, least believed, and most with which a set is comparable (judgement).
ASSUMED_REPEATABILITY = 0.025
LEAST_REPEATABILITY = 0.010
MOST_REPEATABILITY = 0.040
#: A deviation smaller than this is no finding however well it is known (judgement).
LEAST_DEFICIT = 0.05
#: A known value confirms a group's median within this share of it (judgement).
CONFIRMS_WITHIN = 0.05


class Repeatability(NamedTuple):
    """Relative repeatability of one reading: the value used, whether it was measured, whether the set compares."""

    value: float
    measured: bool
    comparable: bool


def repeatability(pairs: Iterable[tuple[float, float]]) -> Repeatability:
    """Return the relative repeatability from readings taken twice on the same cylinder.

    ``sqrt(sum((d/mean)^2) / (2 m))`` from at least three pairs, never below 0.01; else 0.025 is assumed. Above
    0.04 the set is not comparable and 0.04 is used: a poor hand must not widen the group.

    >>> round(repeatability([(12.0, 12.3), (11.0, 10.8), (9.0, 9.2)]).value, 4)
    0.0154
    """
    squares = [((a - b) / ((a + b) / 2.0)) ** 2 for a, b in pairs if a + b > 0.0]
    if len(squares) < 3:
        return Repeatability(ASSUMED_REPEATABILITY, measured=False, comparable=True)
    found = max(sqrt(sum(squares) / (2.0 * len(squares))), LEAST_REPEATABILITY)
    return Repeatability(min(found, MOST_REPEATABILITY), measured=True, comparable=found <= MOST_REPEATABILITY)


class Group(NamedTuple):
    """The largest set of readings that agree: indices in rising order, empty for ``scatter``.

    ``tied`` says that a lower set of the same size agreed as well.
    """

    members: tuple[int, ...]
    tied: bool


def consistent_group(readings: Sequence[float], relative: float) -> Group:
    """Return the largest run of sorted readings whose range is within the critical range.

    ``relative`` is the repeatability. Of runs of equal size the higher is taken, because faults usually lower
    the pressure. Cylinders that all read zero agree about nothing.

    >>> consistent_group([445.0, 440.0, 405.0, 435.0], 0.02).members
    (0, 1, 3)
    """
    order = sorted(range(len(readings)), key=lambda i: (readings[i], i))
    for size in range(len(order), 1, -1):
        factor = CRITICAL_RANGE[min(size, 12) - 2] * relative
        found = None
        count = 0
        for start in range(len(order) - size, -1, -1):
            run = order[start : start + size]
            mean = sum(readings[i] for i in run) / size
            if mean > 0.0 and readings[run[-1]] - readings[run[0]] <= factor * mean:
                count += 1
                found = found or run
        if found:
            return Group(tuple(sorted(found)), tied=count > 1)
    return Group((), tied=False)


class Known(NamedTuple):
    """Sound values known from elsewhere, in the unit of the readings; None where not known."""

    record: float | None = None
    spec_nominal: float | None = None
    spec_min: float | None = None


UNKNOWN = Known()


class Deviation(NamedTuple):
    """One cylinder against a reference: relative deficit (negative: above it) and the same in standard deviations."""

    deficit: float
    z: float


class Mirror(NamedTuple):
    """The view from the readings above the crowd: who they are, their median, every deficit from it."""

    above: tuple[int, ...]
    reference: float
    spread: float
    deviations: tuple[Deviation, ...]


class Balance(NamedTuple):
    """How the cylinders compare.

    ``reference`` and ``reference_from`` (group, record, spec_nominal, spec_min or highest) judge the low side, with
    ``spread`` the standard uncertainty of a deficit; ``high_reference`` judges the high side. ``z_limit`` is the
    least z of a finding. ``identifiable``: the group is a majority of more than three, so that it can
    be told who is odd.
    """

    group: Group
    group_median: float
    reference: float
    reference_from: str
    spread: float
    z_limit: float
    deviations: tuple[Deviation, ...]
    high_reference: float
    highs: tuple[Deviation, ...]
    mirror: Mirror | None
    identifiable: bool

    def least(self, floor: float, spread: float | None = None) -> float:
        """Return the smallest deficit that is a finding: ``floor``, or what the scatter cannot explain."""
        return max(floor, self.z_limit * (self.spread if spread is None else spread))

    def low(self, index: int) -> bool:
        """Tell whether a cylinder is low against the reference."""
        return self.deviations[index].deficit >= self.least(LEAST_DEFICIT)

    def high(self, index: int, floor: float = LEAST_DEFICIT) -> bool:
        """Tell whether a cylinder is high: above median, record and nominal by ``floor`` and by the scatter."""
        return -self.highs[index].deficit >= self.least(floor)


def _deviations(readings: Sequence[float], reference: float, spread: float) -> tuple[Deviation, ...]:
    deficits = [1.0 - reading / reference for reading in readings]
    return tuple(Deviation(deficit, deficit / spread) for deficit in deficits)


def compare(
    readings: Sequence[float], relative: float, known: Known = UNKNOWN, cylinders: int | None = None
) -> Balance:
    """Compare the readings of one engine (gauge, one unit, at least two, some above zero).

    ``relative`` is the repeatability of one reading, ``known`` sound values from elsewhere (readings and known
    values both corrected to standard atmosphere), ``cylinders`` the number that the engine has, where not all
    were read. Raises ValueError when there is nothing to compare.

    Cylinder 3 of TM 5-3895-359-14&P, Table 2 (445, 440, 405, 435 psi; the manual finds No. 3 low):

    >>> found = compare([445.0, 440.0, 405.0, 435.0], 0.02)
    >>> found.reference, round(found.deviations[2].deficit, 4), round(found.deviations[2].z, 2)
    (440.0, 0.0795, 3.44)
    >>> [found.low(i) for i in range(4)]
    [False, False, True, False]
    """
    if len(readings) < 2 or max(readings) <= 0.0:
        raise ValueError("balance needs at least two readings, one of them above zero")
    group = consistent_group(readings, relative)
    size = len(group.members) or 1
    middle = median([readings[i] for i in group.members]) if group.members else max(readings)
    choices = [
        (middle, "group" if group.members else "highest"),
        (known.record, "record"),
        (known.spec_nominal, "spec_nominal"),
        (known.spec_min, "spec_min"),
    ]
    reference, source = max((c for c in choices if c[0] is not None), key=lambda c: c[0] or 0.0)
    assert reference is not None
    spread = relative * sqrt(1.0 + 1.0 / size)
    count = len(readings)
    z_limit = 2.5 if count <= 6 else 3.0
    high_reference = max(middle, known.record or 0.0, known.spec_nominal or 0.0)
    return Balance(
        group=group,
        group_median=middle,
        reference=reference,
        reference_from=source,
        spread=spread,
        z_limit=z_limit,
        deviations=_deviations(readings, reference, spread),
        high_reference=high_reference,
        highs=_deviations(readings, high_reference, spread),
        mirror=_mirror(readings, relative, middle, spread, z_limit, known),
        identifiable=count > 3 and 2 * len(group.members) > (cylinders or count),
    )


def _mirror(
    readings: Sequence[float], relative: float, middle: float, spread: float, z_limit: float, known: Known
) -> Mirror | None:
    """Return the view from the readings above the group, unless a known value confirms the group."""
    for sound in (known.record, known.spec_nominal):
        if sound is not None and abs(sound / middle - 1.0) <= CONFIRMS_WITHIN:
            return None
    least = max(LEAST_DEFICIT, z_limit * spread)
    above = tuple(i for i, reading in enumerate(readings) if reading / middle - 1.0 >= least)
    if not above:
        return None
    reference = median([readings[i] for i in above])
    own_spread = relative * sqrt(1.0 + 1.0 / len(above))
    return Mirror(above, reference, own_spread, _deviations(readings, reference, own_spread))


class Spread(NamedTuple):
    """The three figures by which trade rules judge a set, and the plain spread in the unit of the readings."""

    min_over_max: float
    min_over_mean: float
    range_over_mean: float
    range: float


def spread(readings: Sequence[float]) -> Spread:
    """Return the usual figures of a set of readings, one of them above zero.

    >>> found = spread([445.0, 440.0, 405.0, 435.0])
    >>> round(found.min_over_max, 3), found.range
    (0.91, 40.0)
    """
    low, high, mean = min(readings), max(readings), sum(readings) / len(readings)
    return Spread(low / high, low / mean, (high - low) / mean, high - low)
