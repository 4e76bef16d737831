"""On-board test results: scaling of their values, and how far each is from its limit.

Scalings after ISO 15031-5 annex E as they stand in the library scapy 2.8.0.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy_plugins.fault_memory.answers import Outcome

_V: Final = 0.122e-3
#: Scaling id -> (factor, offset, unit) in the unit's own scale; from 80 on values are signed.
_SCALES: Final[Mapping[int, tuple[float, float, str]]] = {
    0x01: (1.0, 0.0, ""), 0x02: (0.1, 0.0, ""), 0x03: (0.01, 0.0, ""), 0x04: (0.001, 0.0, ""),
    0x05: (3.05e-5, 0.0, ""), 0x06: (3.05e-4, 0.0, ""), 0x07: (0.25, 0.0, "rpm"), 0x08: (0.01, 0.0, "km/h"),
    0x09: (1.0, 0.0, "km/h"), 0x0A: (_V, 0.0, "V"), 0x0B: (1e-3, 0.0, "V"), 0x0C: (10e-3, 0.0, "V"),
    0x0D: (1 / 256.0, 0.0, "mA"), 0x0E: (1.0, 0.0, "mA"), 0x0F: (10.0, 0.0, "mA"), 0x10: (1e-3, 0.0, "s"),
    0x11: (0.1, 0.0, "s"), 0x12: (1.0, 0.0, "s"), 0x13: (1e-3, 0.0, "ohm"), 0x14: (1.0, 0.0, "ohm"),
    0x15: (1e3, 0.0, "ohm"), 0x16: (0.1, -40.0, "degC"), 0x17: (0.01, 0.0, "kPa"), 0x18: (0.0117, 0.0, "kPa"),
    0x19: (0.079, 0.0, "kPa"), 0x1A: (1.0, 0.0, "kPa"), 0x1B: (10.0, 0.0, "kPa"), 0x1C: (0.01, 0.0, "deg"),
    0x1D: (0.5, 0.0, "deg"), 0x1E: (3.05e-5, 0.0, "lambda"), 0x1F: (0.05, 0.0, "air/fuel"),
    0x20: (1 / 256.0, 0.0, ""), 0x24: (1.0, 0.0, "counts"), 0x25: (1.0, 0.0, "km"), 0x27: (0.01, 0.0, "g/s"),
    0x28: (1.0, 0.0, "g/s"), 0x2F: (0.01, 0.0, "%"), 0x30: (0.001526, 0.0, "%"), 0x31: (1.0, 0.0, "mL"),
    0x34: (1.0, 0.0, "min"), 0x35: (10e-3, 0.0, "s"), 0x39: (0.01, -327.68, "%"),
    0x81: (1.0, 0.0, ""), 0x82: (0.1, 0.0, ""), 0x83: (0.01, 0.0, ""), 0x84: (0.001, 0.0, ""),
    0x85: (3.05e-5, 0.0, ""), 0x86: (3.05e-4, 0.0, ""), 0x8A: (_V, 0.0, "V"), 0x8B: (1e-3, 0.0, "V"),
    0x8C: (10e-3, 0.0, "V"), 0x8D: (1 / 256.0, 0.0, "mA"), 0x8E: (1.0, 0.0, "mA"), 0x90: (1e-3, 0.0, "s"),
    0x96: (0.1, 0.0, "degC"), 0x9C: (0.01, 0.0, "deg"), 0x9D: (0.5, 0.0, "deg"), 0xA8: (1.0, 0.0, "g/s"),
    0xAF: (0.01, 0.0, "%"), 0xB0: (0.003052, 0.0, "%"), 0xFD: (1.0, 0.0, "Pa"), 0xFE: (0.25, 0.0, "Pa"),
}  # fmt: skip
_OFFSET_SIGNED: Final = 0x39

#: Monitors by id: (first, last, code of the family, what it is).
_MONITORS: Final = (
    (0x01, 0x10, "", "oxygen sensor"),
    (0x21, 0x24, "P0420", "catalyst"),
    (0x31, 0x34, "P0400", "exhaust-gas recirculation"),
    (0x35, 0x38, "P0011", "cam timing"),
    (0x39, 0x3D, "", "evaporative system"),
    (0x41, 0x50, "", "oxygen sensor heater"),
    (0x81, 0x84, "", "fuel system"),
    (0x85, 0x86, "P2263", "boost pressure"),
    (0x90, 0x99, "", "NOx"),
    (0xA1, 0xA1, "", "misfire of all cylinders"),
    (0xA2, 0xAD, "P030", "misfire"),
    (0xB0, 0xB3, "P2002", "particulate filter"),
)
#: Test of a misfire monitor: mean count over ten driving cycles, and the count of the last one.
MISFIRE_MEAN, MISFIRE_LAST = 0x0B, 0x0C


def monitor(id: int) -> tuple[str, str]:
    """Return (code of its family, empty where a result is only noted; name) of a monitor.

    >>> monitor(0x22), monitor(0x01), monitor(0x02), monitor(0xA4)
    (('P0420', 'catalyst 2'), ('P0130', 'oxygen sensor 1 of bank 1'), ('P0136', 'oxygen sensor 2 of bank 1'), \
('P0303', 'misfire of cylinder 3'))
    """
    for first, last, code, name in _MONITORS:
        if first <= id <= last:
            number = id - first + 1
            if name == "oxygen sensor":
                bank, sensor = divmod(id - 1, 4)
                return ("P0136" if sensor else "P0130"), f"oxygen sensor {sensor + 1} of bank {bank + 1}"
            if name == "misfire":
                return f"{code}{number:X}" if number < 10 else f"P03{number:02d}", f"misfire of cylinder {number}"
            return code, name if first == last else f"{name} {number}"
    return "", f"monitor {id:02X}"


def named(one: Outcome) -> tuple[str, str]:
    """Return (code of its family, name) of a result; in the older layout only the maker knows what a component is.

    >>> from loadworthy_plugins.fault_memory.answers import Outcome
    >>> named(Outcome("", 0x21, 0x01, 0x24, 5, 0, 9)), named(Outcome("", 0x21, 0x01, None, 5, None, 9))
    (('P0420', 'catalyst 1'), ('', 'component 21'))
    """
    return monitor(one.monitor) if one.scaling is not None else ("", f"component {one.monitor:02X}")


def bank_of(id: int) -> int | None:
    """Return the bank that a monitor watches, None where its id does not tell.

    Four oxygen sensors a bank; catalysts and cam timing one id a bank (from memory).

    >>> [bank_of(id) for id in (0x01, 0x04, 0x05, 0x22, 0x36, 0xB1)]
    [1, 1, 2, 2, 2, None]
    """
    if 0x01 <= id <= 0x10:
        return (id - 1) // 4 + 1
    for first in (0x21, 0x35):
        if first <= id < first + 4:
            return id - first + 1
    return None


def signed(scaling: int | None, raw: int) -> int:
    """Return the number that a raw value stands for: from scaling id 80 on it is signed."""
    return raw - 0x10000 if scaling is not None and scaling >= 0x80 and raw & 0x8000 else raw


def scaled(scaling: int | None, raw: int) -> tuple[float, str] | None:
    """Return value and unit of a raw value, None where the scaling is not known here.

    >>> scaled(0x16, 0x0384), scaled(0x96, 0xFF38), scaled(0x84, 0xFF9C)
    ((50.0, 'degC'), (-20.0, 'degC'), (-0.1, ''))
    """
    found = _SCALES.get(scaling) if scaling is not None else None
    if found is None:
        return None
    factor, offset, unit = found
    return signed(scaling, raw) * factor + offset, unit


def has_run(one: Outcome) -> bool:
    """Whether the test ran since the memory was erased: value and both limits zero mean that it did not."""
    return any((one.value, one.low or 0, one.high or 0))


def margin(one: Outcome) -> float | None:
    """Return how far a result is from its nearest limit as a share of the range; negative beyond, None: no limit.

    A limit at the end of the scale is no limit. With one limit the distance is a share of that limit.

    >>> from loadworthy_plugins.fault_memory.answers import Outcome
    >>> round(margin(Outcome("", 0x3D, 0x98, 0xFE, 0x0069, 0x8000, 0x0D8A)), 3)
    0.97
    """
    signs = one.scaling is not None and one.scaling >= 0x80
    ends = (0x8000, 0x7FFF) if signs else (0x0000, 0xFFFF)
    low = None if one.low is None or one.low == ends[0] else _number(one.scaling, one.low)
    high = None if one.high is None or one.high == ends[1] else _number(one.scaling, one.high)
    value = _number(one.scaling, one.value)
    if low is not None and high is not None:
        if high <= low:
            return -1.0 if value > high or value < low else None
        return min(value - low, high - value) / (high - low)
    if high is not None:
        return (high - value) / abs(high) if high else (0.0 if value <= 0 else -1.0)
    if low is not None:
        return (value - low) / abs(low) if low else (0.0 if value == 0 else 1.0 if value > 0 else -1.0)
    return None


def _number(scaling: int | None, raw: int) -> float:
    if scaling == _OFFSET_SIGNED:
        return raw * 0.01 - 327.68
    return float(signed(scaling, raw))


def mean_count(old: float, count: float) -> float:
    """Return the running mean of misfire counts after a cycle. Source: makers' service manuals.

    >>> round(mean_count(4, 30), 1)
    6.6
    """
    return 0.1 * count + 0.9 * old
