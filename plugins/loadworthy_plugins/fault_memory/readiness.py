"""Monitor status of service 01, parameter 01 or 41, and how old the memory is.

``complete`` means decided since the memory was erased, not passed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

#: Continuous monitors by bit of the second byte.
CONTINUOUS: Final = ("misfire", "fuel system", "components")
#: Other monitors by bit of the third byte, spark and compression ignition (open encyclopaedia, two copies).
SPARK: Final = (
    "catalyst",
    "heated catalyst",
    "evaporative",
    "secondary air",
    "air conditioning or particulate filter",
    "oxygen sensor",
    "oxygen sensor heater",
    "exhaust-gas recirculation or valve timing",
)
COMPRESSION: Final = (
    "catalyst",
    "NOx or reduction",
    "",
    "boost pressure",
    "",
    "exhaust gas sensor",
    "particulate filter",
    "exhaust-gas recirculation or valve timing",
)
#: Warm-ups, distance (m) and time (s) at which a memory has been exposed in full (judgement).
FULL_EXPOSURE: Final = (10.0, 200e3, 300 * 60.0)
#: Below this exposure the memory is recent, by counters (judgement).
RECENT_BELOW: Final = 0.3


class Status(NamedTuple):
    """Monitor status of one unit: lamp commanded, number of codes, kind of ignition, monitors supported and complete.

    ``contradictions`` are bits that say incomplete of what is not supported.
    """

    lamp: bool
    codes: int
    compression: bool
    supported: frozenset[str]
    complete: frozenset[str]
    contradictions: tuple[str, ...] = ()

    @property
    def share(self) -> float | None:
        """The share of complete monitors among the supported ones, without the continuous; None: there are none."""
        return share_complete(self.supported, self.complete)


def share_complete(supported: frozenset[str], complete: frozenset[str]) -> float | None:
    """Return complete over supported, without the continuous monitors; None where none is supported."""
    due = supported.difference(CONTINUOUS)
    return len(due & complete) / len(due) if due else None


def status_of(data: bytes) -> Status:
    """Return the monitor status of four bytes.

    Bits after the open encyclopaedia's table of the standard's parameters.

    >>> found = status_of(bytes.fromhex("82 07 65 05"))
    >>> found.lamp, found.codes, found.compression, sorted(found.complete - set(CONTINUOUS)), found.share
    (True, 2, False, ['oxygen sensor', 'oxygen sensor heater'], 0.5)
    """
    a, b, c, d = data
    names = COMPRESSION if b & 8 else SPARK
    supported = {name for bit, name in enumerate(CONTINUOUS) if b >> bit & 1}
    complete = {name for bit, name in enumerate(CONTINUOUS) if b >> bit & 1 and not b >> (4 + bit) & 1}
    odd = [name for bit, name in enumerate(CONTINUOUS) if b >> (4 + bit) & 1 and not b >> bit & 1]
    for bit, name in enumerate(names):
        if name and c >> bit & 1:
            supported.add(name)
            if not d >> bit & 1:
                complete.add(name)
        elif d >> bit & 1:
            odd.append(name or f"bit {bit}")
    return Status(bool(a & 0x80), a & 0x7F, bool(b & 8), frozenset(supported), frozenset(complete), tuple(odd))


def together(units: Iterable[Status]) -> tuple[frozenset[str], frozenset[str]]:
    """Return monitors supported and complete over several units: complete in every unit that supports it."""
    found = tuple(units)
    supported = frozenset(name for one in found for name in one.supported)
    complete = frozenset(
        name for name in supported if all(name in one.complete for one in found if name in one.supported)
    )
    return supported, complete


class Age(NamedTuple):
    """How much the memory has seen since it was erased: exposure 0 to 1 and its class."""

    exposure: float
    kind: str
    known: bool


def exposure(warm_ups: float | None, distance: float | None, time: float | None, share: float | None) -> Age:
    """Return exposure and class of a memory: ``recent``, ``partial`` or ``settled`` (judgement).

    ``distance`` in m, ``time`` in s since the memory was erased, ``share`` of complete monitors. The least of the known
    counters, each over what is full exposure, counts; none known: 0.5 where every monitor is complete, else 0.1.

    >>> exposure(6, 150e3, 200 * 60, None).exposure, exposure(2, 30e3, 45 * 60, 0.5)[:2]
    (0.6, (0.15, 'recent'))
    """
    known = [
        value / full for value, full in zip((warm_ups, distance, time), FULL_EXPOSURE, strict=True) if value is not None
    ]
    if not known:
        return Age(0.5 if share == 1.0 else 0.1, "partial", False)
    found = min(1.0, *known)
    if found < RECENT_BELOW:
        return Age(found, "recent", True)
    return Age(found, "settled" if found == 1.0 and share in (None, 1.0) else "partial", True)


#: Plausible mean speed since erasing (m/s), judged from an hour on.
_SPEEDS: Final = (5 / 3.6, 130 / 3.6)


def counter_fault(
    distance: float | None, time: float | None, lamp_distance: float | None, lamp_time: float | None
) -> str:
    """Say which counters contradict one another; empty: none. Distances in m, times in s."""
    if None not in (distance, lamp_distance) and (lamp_distance or 0.0) > (distance or 0.0):
        return "the distance with the lamp on is longer than the distance since erasing"
    if None not in (time, lamp_time) and (lamp_time or 0.0) > (time or 0.0):
        return "the time with the lamp on is longer than the time since erasing"
    if distance is not None and time is not None and time > 3600.0:
        speed = distance / time
        if not _SPEEDS[0] <= speed <= _SPEEDS[1]:
            return f"distance over time since erasing gives {3.6 * speed:.0f} km/h"
    return ""
