"""Monitor status of service 01, parameter 01 or 41, and how old the memory is.

``complete`` means decided since the memory was erased, not passed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from loadworthy.sdk import Limits

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


def joined(sent: Iterable[Status], typed: Iterable[Status]) -> Status:
    """Return the monitor status of all units of one kind as one; what was sent and what was typed is the same reading.

    Codes of several units add up, of the two sources the greater number counts; the lamp is on where one says so.
    """
    sources = [tuple(source) for source in (sent, typed)]
    every = [one for source in sources for one in source]
    supported, complete = together(every)
    return Status(
        any(one.lamp for one in every),
        max(sum(one.codes for one in source) for source in sources),
        all(one.compression for one in every),
        supported,
        complete,
        tuple(dict.fromkeys(name for one in every for name in one.contradictions)),
    )


#: Greatest value that the counter of warm-ups can show: there it holds.
HELD: Final = 255
#: Field of the sheet -> (name, parameter of service 01, factor to SI) of the counters since the memory was erased.
COUNTERS: Final[Mapping[str, tuple[str, int, float]]] = {
    "warm_ups_since_clear": ("warm_ups", 0x30, 1.0),
    "distance_since_clear": ("distance", 0x31, 1e3),
    "time_since_clear": ("time", 0x4E, 60.0),
    "distance_lamp_on": ("lamp_distance", 0x21, 1e3),
    "time_lamp_on": ("lamp_time", 0x4D, 60.0),
}


def counters_of(sent: Mapping[int, bytes], stated: Mapping[str, float]) -> dict[str, float]:
    """Return the counters in SI by name, from bytes by parameter and values by field of the sheet.

    Of two sources of one counter the younger memory is the cautious reading.

    >>> counters_of({0x31: bytes((0, 100))}, {"distance_since_clear": 150e3, "warm_ups_since_clear": 3.0})
    {'warm_ups': 3.0, 'distance': 100000.0}
    """
    found: dict[str, float] = {}
    for field, (name, parameter, factor) in COUNTERS.items():
        values = [int.from_bytes(sent[parameter], "big") * factor] if parameter in sent else []
        values += [stated[field]] if field in stated else []
        if values:
            found[name] = min(values)
    return found


class Age(NamedTuple):
    """How much the memory has seen since it was erased: exposure 0 to 1 and its class."""

    exposure: float
    kind: str
    known: bool


def exposed_in_full(limits: Limits) -> tuple[tuple[float, float, float], float]:
    """Return full exposure (warm-ups, m, s) and the exposure below which a memory is recent, as this house has them."""
    warm_ups, distance, time, recent = (
        limits[f"fault_memory.exposure_{name}"].number for name in ("warm_ups", "distance", "time", "recent")
    )
    return (warm_ups, distance, time), recent


def exposure(
    warm_ups: float | None,
    distance: float | None,
    time: float | None,
    share: float | None,
    full: tuple[float, float, float] = FULL_EXPOSURE,
    recent: float = RECENT_BELOW,
) -> Age:
    """Return exposure and class of a memory: ``recent``, ``partial`` or ``settled`` (judgement).

    ``distance`` in m, ``time`` in s since the memory was erased, ``share`` of complete monitors. The least of the known
    counters, each over what is full exposure, counts; none known: 0.5 where every monitor is complete, else 0.1.

    >>> exposure(6, 150e3, 200 * 60, None).exposure, exposure(2, 30e3, 45 * 60, 0.5)[:2]
    (0.6, (0.15, 'recent'))
    """
    known = [value / due for value, due in zip((warm_ups, distance, time), full, strict=True) if value is not None]
    if not known:
        return Age(0.5 if share == 1.0 else 0.1, "partial", False)
    found = min(1.0, *known)
    if found < recent:
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
