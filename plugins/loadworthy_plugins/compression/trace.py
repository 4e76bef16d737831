"""Relative compression from the current of the starter motor.

Every compression slows the starter and raises its current. The height of each hump over the valleys beside it, as a
share of the median hump, shows a weak cylinder by its place in the firing order. Current is not pressure, equal
loss everywhere is invisible, two weak ones in sequence hide each other, and an even trace clears nothing.
"""

from __future__ import annotations

from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.middle import median

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Fewest samples a second (common practice, no source).
LEAST_RATE = 500.0
#: Length of the moving mean, s; time after inrush that is discarded, s.
SMOOTHING = 0.010
DISCARDED = 0.5
#: Least hump over (P95 - P5); least spacing and greatest single spacing over the median one.
LEAST_HUMP = 0.25
LEAST_SPACING = 0.6
MISSING_SPACING = 1.5
#: Cycles differ by less than this once cranking is steady; fewest whole cycles that are folded.
STEADY_WITHIN = 0.05
FEWEST_CYCLES = 4
#: A hump after a weak one at least this far above the median confirms it: the weak piston gives no push.
NEXT_HIGH = 1.05


class TraceError(ValueError):
    """The recording cannot be judged; the text says why."""


class Trace(NamedTuple):
    """A folded recording. Positions follow the firing order from the first hump used, or from the synchronised one.

    ``speed`` rev/s, ``relative`` the mean hump per position over the median of them, ``u`` its standard uncertainty
    from the spread between ``cycles``; ``cylinders`` names the position where a synchronising signal
    allows it, else None.
    """

    speed: float
    relative: tuple[float, ...]
    u: tuple[float, ...]
    cycles: int
    cylinders: tuple[int, ...] | None

    @property
    def least_over_most(self) -> float:
        """Smallest over largest relative hump."""
        return min(self.relative) / max(self.relative)

    def followed_by_high(self, position: int) -> bool:
        """Tell whether the hump after ``position`` stands above the median, which confirms a weak cylinder."""
        return self.relative[(position + 1) % len(self.relative)] >= NEXT_HIGH


def _smooth(samples: Sequence[float], width: int) -> list[float]:
    """Return the moving mean over an odd number of samples, shorter windows at the ends."""
    half = width // 2
    sums = [0.0]
    for sample in samples:
        sums.append(sums[-1] + sample)
    count = len(samples)
    result = []
    for i in range(count):
        low, high = max(0, i - half), min(count, i + half + 1)
        result.append((sums[high] - sums[low]) / (high - low))
    return result


def _quantile(values: Sequence[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[round(share * (len(ordered) - 1))]


def humps(samples: Sequence[float], least: float) -> tuple[list[int], list[int]]:
    """Return the indices of the maxima that stand out by ``least`` on both sides, and of the minima between them.

    >>> humps([0, 5, 1, 6, 5.5, 6.2, 0], 2.0)
    ([1, 5], [2])
    """
    tops: list[int] = []
    bottoms: list[int] = []
    top = bottom = 0
    rising = True
    for i, value in enumerate(samples):
        if rising:
            if value > samples[top]:
                top = i
            elif samples[top] - value >= least:
                tops.append(top)
                bottom, rising = i, False
        elif value < samples[bottom]:
            bottom = i
        elif value - samples[bottom] >= least:
            bottoms.append(bottom)
            top, rising = i, True
    return tops, bottoms[: max(0, len(tops) - 1)]


def current_like(voltage: Sequence[float]) -> list[float]:
    """Return the fall of a battery voltage below its highest value: it goes with the current through the battery.

    Behind a resistance R the voltage is ``U_0 - R I``, so relative humps are those of the current.

    >>> current_like([12.5, 9.5, 10.0])
    [0.0, 3.0, 2.5]
    """
    highest = max(voltage, default=0.0)
    return [highest - value for value in voltage]


class _Event(NamedTuple):
    time: float
    amplitude: float


def _places(samples: Sequence[float]) -> list[int]:
    """Return the index of every compression: humps that stand out, and places between where one is missing."""
    width = _quantile(samples, 0.95) - _quantile(samples, 0.05)
    tops, _ = humps(samples, LEAST_HUMP * width) if width > 0.0 else ([], [])
    if len(tops) < 4:
        raise TraceError("no compression humps in the recording")
    spacing = median([b - a for a, b in pairwise(tops)])
    kept = [tops[0]]
    for top in tops[1:]:
        if top - kept[-1] >= LEAST_SPACING * spacing:
            kept.append(top)
        elif samples[top] > samples[kept[-1]]:
            kept[-1] = top
    spacing = median([b - a for a, b in pairwise(kept)])
    places = [kept[0]]
    for top in kept[1:]:
        before, gap = places[-1], top - places[-1]
        missing = round(gap / spacing) - 1 if gap > MISSING_SPACING * spacing else 0
        for k in range(1, missing + 1):
            middle = before + round(k * gap / (missing + 1))
            reach = round(spacing / 4.0)
            places.append(max(range(middle - reach, middle + reach), key=samples.__getitem__))
        places.append(top)
    return places


def _events(samples: Sequence[float], start: int, every: float) -> list[_Event]:
    """Return every compression with its time and its hump over the valleys beside it, but for the first and last."""
    places = _places(samples)
    valleys = [min(samples[a:b]) for a, b in pairwise(places)]
    return [
        _Event((start + here) * every, max(0.0, samples[here] - (before + after) / 2.0))
        for here, before, after in zip(places[1:], valleys, valleys[1:], strict=False)
    ]


def _steady(events: list[_Event], cylinders: int) -> list[_Event]:
    """Return the events from where whole cycles last the same within 5 %, and check that they do to the end."""
    lengths = [b.time - a.time for a, b in zip(events, events[cylinders:], strict=False)]
    if len(lengths) < 1:
        raise TraceError("fewer than four steady engine cycles")
    typical = median(lengths)
    first = 0
    while first < len(lengths) and abs(lengths[first] / typical - 1.0) > STEADY_WITHIN:
        first += 1
    events = events[first:]
    if len(events) < FEWEST_CYCLES * cylinders:
        raise TraceError("fewer than four steady engine cycles")
    if any(abs(length / typical - 1.0) > 2.0 * STEADY_WITHIN for length in lengths[first:]):
        raise TraceError("cranking speed not steady, or humps missing")
    return events


def _first_of_sync(events: list[_Event], sync: Sequence[float], cylinders: int) -> int:
    """Return the position (0 to cylinders - 1) of the compression nearest to the synchronising events.

    The nearest, not the next: a hump may come a few degrees before top dead centre, earlier than a late spark.
    """
    votes: dict[int, int] = {}
    for time in sync:
        if events[0].time <= time <= events[-1].time:
            nearest = min(range(len(events)), key=lambda i: abs(events[i].time - time))
            votes[nearest % cylinders] = votes.get(nearest % cylinders, 0) + 1
    if not votes:
        raise TraceError("no synchronising event within the recording")
    best = max(sorted(votes), key=votes.__getitem__)
    if votes[best] < 0.75 * sum(votes.values()):
        raise TraceError("synchronising events do not repeat every engine cycle: wrong number of humps")
    return best


def analyse(
    samples: Sequence[float],
    every: float,
    cylinders: int,
    *,
    sync: Sequence[float] = (),
    firing_order: Sequence[int] = (),
    sync_cylinder: int | None = None,
) -> Trace:
    """Fold a cranking-current recording of an even-firing four-stroke engine.

    ``samples`` (A) are ``every`` seconds apart; ``sync`` are times (s) of an event of ``sync_cylinder`` shortly before
    its top dead centre. Raises TraceError where the recording cannot be judged.
    """
    if cylinders < 3:
        raise TraceError("needs at least three cylinders")
    if every <= 0.0 or 1.0 / every < LEAST_RATE * (1.0 - 1e-9):
        raise TraceError("fewer than 500 samples a second")
    smooth = _smooth(samples, 2 * int(SMOOTHING / every / 2.0) + 1)
    threshold = _quantile(smooth, 0.95) / 2.0
    on = next((i for i, value in enumerate(smooth) if value >= threshold), 0)
    start = on + round(DISCARDED / every)
    used = smooth[start:]
    if len(used) < 10:
        raise TraceError("recording too short")
    events = _steady(_events(used, start, every), cylinders)
    offset = 0
    identity: tuple[int, ...] | None = None
    if sync and sync_cylinder in firing_order and len(firing_order) == cylinders:
        offset = _first_of_sync(events, sync, cylinders)
        turn = firing_order.index(sync_cylinder)
        identity = (*firing_order[turn:], *firing_order[:turn])
    whole = (len(events) - offset) // cylinders
    if whole < FEWEST_CYCLES:
        raise TraceError("fewer than four steady engine cycles")
    folded = [[events[offset + c * cylinders + j].amplitude for c in range(whole)] for j in range(cylinders)]
    means = [sum(column) / whole for column in folded]
    middle = median(means)
    if middle <= 0.0:
        raise TraceError("most compressions do not show")
    scatter = [
        sqrt(sum((a - mean) ** 2 for a in column) / (whole - 1) / whole) / middle
        for column, mean in zip(folded, means, strict=True)
    ]
    first, last = events[offset], events[offset + (whole - 1) * cylinders]
    period = (last.time - first.time) / ((whole - 1) * cylinders)
    return Trace(
        speed=2.0 / (cylinders * period),
        relative=tuple(mean / middle for mean in means),
        u=tuple(scatter),
        cycles=whole,
        cylinders=identity,
    )
