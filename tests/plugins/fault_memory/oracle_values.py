"""Reference readings of single bytes, lists and values, beside `oracle_replies`: plain, slow, from the published rules.

Codes after ISO 15031-6, status bits after ISO 14229-1, readiness and test results after SAE J1979 / ISO 15031-5.
"""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from typing import NamedTuple

PADDING = frozenset({0x00, 0x55, 0xAA, 0xCC, 0xFF})


def code_text(high: int, low: int) -> str:
    """Spell two bytes: 01 71 is P0171, C1 00 is U0100 (ISO 15031-6: the two top bits are the letter)."""
    return f"{'PCBU'[high >> 6]}{high >> 4 & 3}{high & 15:X}{low >> 4:X}{low & 15:X}"


def code_bytes(code: str) -> bytes:
    """Two bytes of a spelled code: P219A is 21 9A."""
    if not re.fullmatch("[PCBU][0-3][0-9A-F]{3}", code):
        raise ValueError(code)
    return bytes(["PCBU".index(code[0]) << 6 | int(code[1]) << 4 | int(code[2], 16), int(code[3:], 16)])


def _nonzero(pairs: bytes) -> list[str]:
    """Codes of whole pairs; half a pair is dropped, 0000 is padding and never a code."""
    spelled = [code_text(pairs[i], pairs[i + 1]) for i in range(0, len(pairs) - 1, 2) if any(pairs[i : i + 2])]
    return spelled


def _is_padding(rest: bytes) -> bool:
    return not rest or (len(set(rest)) == 1 and rest[0] in PADDING)


def read_can_list(body: bytes) -> tuple[list[str], bool]:
    """Codes after the service byte on CAN, and whether the list is whole: count, then two bytes a code."""
    if not body:
        return [], False
    count, rest = body[0], body[1:]
    counted, surplus = rest[: 2 * count], rest[2 * count :]
    codes = _nonzero(counted)
    # Reading: a 0000 among the counted codes is not a code, so that "n above the codes received = truncated" holds.
    whole = len(codes) == count
    if not _is_padding(surplus):
        # Reading: "surplus that is not uniform padding: taken too" is all of it, an AA AA after a code as well;
        # a byte left over is half a code, so something is missing.
        codes += _nonzero(surplus)
        whole = whole and len(surplus) % 2 == 0
    return codes, whole


def read_older_list(body: bytes) -> tuple[list[str], bool]:
    """Codes after the service byte on older protocols: three codes, padded with 0000."""
    return _nonzero(body), len(body) == 6


def read_unknown_list(body: bytes, known: AbstractSet[str]) -> tuple[list[str], bool]:
    """The list of a line that shows no protocol: by its length, service byte included, and by the code table."""
    length = 1 + len(body)
    if length % 2 == 0:
        return read_can_list(body)
    if length != 7:
        # Reading: odd and not 7 fits neither layout; no code of it can be named.
        return [], False
    older, _ = read_older_list(body)
    can, can_whole = read_can_list(body)
    # Reading: "fits CAN" asks also that no counted code is 0000 (43 01 00 00 .. cannot be one code).
    if not (body[0] <= 2 and can_whole and _is_padding(body[1 + 2 * body[0] :])):
        return older, True
    if not can and not older:
        return [], True
    fitting = [codes for codes in (can, older) if all(code in known for code in codes)]
    # Reading: no code at all is "all in the table", so 43 00 AA AA AA AA AA is an empty CAN list.
    return (fitting[0], True) if len(fitting) == 1 else ([], False)


def kind_of(code: str) -> str:
    """Who defines a code: standard, maker, both or reserved (ISO 15031-6 groups by letter and first digit)."""
    letter, digit = code[0], code[1]
    if letter == "P":
        if digit == "3":
            return "standard" if code[2] in "456789ABCDEF" else "maker"
        return "maker" if digit == "1" else "standard"
    if digit == "0":
        return "standard"
    if digit in "12":
        return "maker"
    return "both" if letter == "U" else "reserved"


def exponent(status: int, mask: int) -> tuple[str, float]:
    """Name and exponent of a status byte under the availability mask: the first line of the table that matches."""
    seen = status & mask

    def bit(number: int) -> bool:
        return bool(seen >> number & 1)

    if bit(3) and bit(0):
        return "confirmed_failing_now", 1.0
    if bit(3) and (bit(2) or bit(7) or not mask >> 7 & 1):
        return "confirmed", 0.85
    if bit(3):
        return "confirmed_lamp_off", 0.7
    if bit(0) or bit(1) or bit(2):
        return "pending", 0.5
    if bit(5):
        return "failed_since_clear_only", 0.35
    return ("not_tested_since_clear" if bit(4) else "passed"), 0.0


#: Monitors of byte C (supported) and D (not complete), bit 0 first; "" = none.
SPARK = (
    "catalyst",
    "heated catalyst",
    "evaporative",
    "secondary air",
    "air conditioning",
    "oxygen sensor",
    "oxygen sensor heater",
    "EGR/VVT",
)
COMPRESSION = (
    "NMHC catalyst",
    "NOx/SCR",
    "",
    "boost pressure",
    "",
    "exhaust gas sensor",
    "particulate filter",
    "EGR/VVT",
)
CONTINUOUS = ("misfire", "fuel system", "components")


class Readiness(NamedTuple):
    """PID 01: lamp commanded on, number of codes, ignition, and per supported monitor whether it is complete."""

    lamp: bool
    codes: int
    ignition: str
    continuous: dict[str, bool]
    monitors: dict[str, bool]

    @property
    def ratio(self) -> float | None:
        """Complete over supported monitors of C and D; None when none is supported."""
        return sum(self.monitors.values()) / len(self.monitors) if self.monitors else None


def readiness(a: int, b: int, c: int, d: int) -> Readiness:
    """Read the four bytes of PID 01; a set bit in the upper part of B and in D means *not* complete."""
    compression = bool(b >> 3 & 1)
    table = COMPRESSION if compression else SPARK
    return Readiness(
        lamp=bool(a >> 7),
        codes=a & 0x7F,
        ignition="compression" if compression else "spark",
        continuous={name: not b >> (4 + i) & 1 for i, name in enumerate(CONTINUOUS) if b >> i & 1},
        monitors={name: not d >> i & 1 for i, name in enumerate(table) if name and c >> i & 1},
    )


class OnBoardResult(NamedTuple):
    """One record of service 06 on CAN: identifiers, scale id and the signed or unsigned raw numbers."""

    monitor: int
    test: int
    unit: int
    value: int
    low: int
    high: int

    def margin(self) -> float | None:
        """Distance to the nearer limit on raw integers, over the span or the one limit; None if not run or no limit."""
        if not (self.value or self.low or self.high):
            return None
        signed = self.unit >= 0x80
        ends = (-0x8000, 0x7FFF) if signed else (0, 0xFFFF)
        below, above = self.value - self.low, self.high - self.value
        if self.low not in ends and self.high not in ends:
            return min(below, above) / (self.high - self.low)
        if self.high not in ends:
            return above / abs(self.high)
        return below / abs(self.low) if self.low not in ends else None


def read_results(message: bytes) -> list[OnBoardResult]:
    """Records of a whole 46 message, nine bytes each."""
    if message[0] != 0x46 or (len(message) - 1) % 9:
        raise ValueError(message.hex())
    found = []
    for start in range(1, len(message), 9):
        record = message[start : start + 9]
        signed = 0x80 <= record[2] <= 0xFE
        numbers = [int.from_bytes(record[i : i + 2], "big", signed=signed) for i in (3, 5, 7)]
        found.append(OnBoardResult(record[0], record[1], record[2], *numbers))
    return found


LAMPS = ("malfunction", "red stop", "amber", "protect")


def read_dm1(data: bytes) -> tuple[list[str], list[tuple[int, int, int]]]:
    """Lamps that are on, and (SPN, FMI, count) per code, of a DM1 message (SAE J1939-73); bit 7 of a count refuses."""
    lamps = [name for i, name in enumerate(LAMPS) if data[0] >> (6 - 2 * i) & 3 == 1]
    codes = []
    for start in range(2, len(data) - 3, 4):
        b0, b1, b2, b3 = data[start : start + 4]
        if b3 & 0x80:
            raise ValueError("conversion bit set: the numbering of the parameter is not the standard one")
        codes.append((b0 + 256 * b1 + 65536 * (b2 >> 5), b2 & 0x1F, b3 & 0x7F))
    return lamps, codes
