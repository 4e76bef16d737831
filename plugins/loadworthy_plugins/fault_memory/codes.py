"""Trouble codes: two bytes and their spelling, whose meaning a code has, and what a status byte says.

Bytes are hexadecimal in the comments, bit 0 is the lowest.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

LETTERS: Final = "PCBU"
_HEX: Final = frozenset("0123456789ABCDEF")

#: Names of the states of a code with their exponents on the table's weights (judgement).
EXPONENTS: Final = {
    "confirmed_failing_now": 1.0,
    "confirmed": 0.85,
    "confirmed_lamp_off": 0.7,
    "permanent_only": 0.7,
    "pending": 0.5,
    "failed_since_clear_only": 0.35,
    "not_tested_since_clear": 0.0,
    "passed": 0.0,
}
#: First nibble of a failure type that is electrical (public tables of failure types).
ELECTRICAL: Final = 0x1


class Code(NamedTuple):
    """A code as one unit gave it: its spelling, the failure type byte and the status byte where it has them."""

    code: str
    failure_type: int | None = None
    status: int | None = None

    def __str__(self) -> str:
        """Return the spelling, with the failure type where there is one: P0087-11."""
        return self.code if not self.failure_type else f"{self.code}-{self.failure_type:02X}"


def spelled(a: int, b: int) -> str:
    """Return the spelling of a two-byte code. Source: ISO 15031-6 / SAE J2012, through public summaries.

    >>> [spelled(*pair) for pair in ((0x01, 0x71), (0xC1, 0x00), (0x41, 0x23), (0x92, 0x34), (0x0A, 0xFF))]
    ['P0171', 'U0100', 'C0123', 'B1234', 'P0AFF']
    """
    return f"{LETTERS[a >> 6]}{(a >> 4) & 3}{a & 0xF:X}{b:02X}"


def to_bytes(code: str) -> tuple[int, int]:
    """Return the two bytes of a spelling. Raises ValueError where it is none.

    >>> [bytes(to_bytes(code)).hex(" ").upper() for code in ("P219A", "U3FFF", "P3400")]
    ['21 9A', 'FF FF', '34 00']
    """
    problem = spelling_fault(code)
    if problem:
        raise ValueError(problem)
    return LETTERS.index(code[0]) << 6 | int(code[1]) << 4 | int(code[2], 16), int(code[3:], 16)


def spelling_fault(text: str) -> str:
    """Say what is wrong with the spelling of a code (upper case), and what was probably meant; empty: nothing.

    >>> spelling_fault("PO171")
    'PO171 is no code; write P0171 (the digit zero in place of the letter O)'
    >>> spelling_fault("P0300, P0301")
    'P0300, P0301 is no code; write one row for each'
    """
    rest = text[1:]
    if len(text) == 5 and text[0] in LETTERS and rest[0] in "0123" and _HEX.issuperset(rest):
        return "" if text != "P0000" else "P0000 is padding, never a code"
    mended = text[:1] + rest.replace("O", "0").replace("I", "1")
    if mended != text and not spelling_fault(mended):
        letter, digit = ("O", "zero") if "O" in rest else ("I", "one")
        return f"{text} is no code; write {mended} (the digit {digit} in place of the letter {letter})"
    words = text.replace(",", " ").replace(";", " ").split()
    if len(words) > 1 and not any(spelling_fault(word) for word in words):
        return f"{_cut(text)} is no code; write one row for each"
    return (
        f"{_cut(text) or 'an empty text'} is no code; write a letter P, C, B or U, a digit 0 to 3 and three "
        "hexadecimal digits, as in P0171"
    )


def _cut(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:37]}..."


def family_of_meaning(code: str) -> str:
    """Return whose meaning a code has: ``standard``, ``maker``, ``reserved`` or ``both``.

    Source: ISO 15031-6 groups through public summaries and makers' service manuals.

    >>> [family_of_meaning(code) for code in ("P0171", "P1234", "P33FF", "P3400", "B3000", "U3FFF")]
    ['standard', 'maker', 'maker', 'standard', 'reserved', 'both']
    """
    letter, digit = code[0], code[1]
    if digit == "0" or (letter == "P" and (digit == "2" or code[1:3] >= "34")):
        return "standard"
    if digit == "3" and letter != "P":
        return "both" if letter == "U" else "reserved"
    return "maker"


def status_name(status: int, mask: int = 0xFF) -> str:
    """Return the name of a status byte under the unit's availability mask (`EXPONENTS`).

    Bits after ISO 14229-1: 0 failed at last test, 1 failed this cycle, 2 pending, 3 confirmed, 4 not tested since
    clear, 5 failed since clear, 6 not tested this cycle, 7 lamp requested. A bit that the mask lacks says nothing.

    >>> [status_name(status) for status in (0x2F, 0x88, 0x08, 0x64, 0x20, 0x50, 0x00)]
    ['confirmed_failing_now', 'confirmed', 'confirmed_lamp_off', 'pending', 'failed_since_clear_only', \
'not_tested_since_clear', 'passed']
    >>> status_name(0x08, 0x7F)
    'confirmed'
    """
    seen = status & mask
    if seen & 0x08:
        if seen & 0x01:
            return "confirmed_failing_now"
        return "confirmed" if seen & 0x84 or not mask & 0x80 else "confirmed_lamp_off"
    if seen & 0x07:
        return "pending"
    if seen & 0x20:
        return "failed_since_clear_only"
    return "not_tested_since_clear" if seen & 0x10 else "passed"


def is_contradictory(status: int, mask: int = 0xFF) -> bool:
    """Whether a code claims to have failed and not to have been tested since the clear."""
    seen = status & mask
    return bool(seen & 0x10 and seen & 0x28)


def is_intermittent(status: int, mask: int = 0xFF) -> bool:
    """Whether a code failed once and not at the last test: intermittent, or healed."""
    seen = status & mask
    return bool(seen & 0x28) and not seen & 0x01


def from_lists(stored: bool, pending: bool, permanent: bool, lamp_off: bool) -> str:
    """Return the state of a code without status byte from the lists that hold it."""
    if stored:
        if pending:
            return "confirmed_failing_now"
        return "confirmed_lamp_off" if lamp_off else "confirmed"
    return "permanent_only" if permanent else "pending" if pending else "passed"


def at_best_pending(state: str) -> str:
    """Return the state of a code in an answer with a part missing: pending, or less where its status says less.

    >>> at_best_pending("confirmed"), at_best_pending(""), at_best_pending("failed_since_clear_only")
    ('pending', 'pending', 'failed_since_clear_only')
    """
    return state if state and EXPONENTS[state] < EXPONENTS["pending"] else "pending"


def is_stored(state: str, mask: int = 0xFF) -> bool:
    """Whether a unit counts a listed code as stored; ``state`` empty: the list has no status bytes.

    Without the confirmed bit in the mask every code that is one may be.

    >>> is_stored(""), is_stored("confirmed"), is_stored("pending"), is_stored("pending", 0xF7)
    (True, True, False, True)
    """
    return not state or state.startswith("confirmed") or (not mask & 0x08 and EXPONENTS[state] > 0.0)


def distinct(codes: Iterable[str]) -> int:
    """Return how many codes are meant: one without failure type is the same as one with it.

    >>> distinct(("P0087", "P0087-11", "P0171")), distinct(("P0087-11", "P0087-64"))
    (2, 2)
    """
    found = set(codes)
    typed = {code.partition("-")[0] for code in found if "-" in code}
    return len(found - typed)


def stronger(states: Iterable[str]) -> str:
    """Return the state of the largest exponent; of equal ones the first name."""
    return min(states, key=lambda name: (-EXPONENTS[name], name))


class Dm1(NamedTuple):
    """One active fault of a heavy vehicle's broadcast: suspect parameter, failure mode, occurrences; lamps on."""

    suspect_parameter: int
    failure_mode: int
    occurrences: int
    lamps: tuple[str, ...]


def broadcast_faults(data: bytes) -> tuple[Dm1, ...]:
    """Decode active faults of SAE J1939-73 (layout checked against the library can-j1939).

    Raises ValueError for the older conversion method, which cannot be told apart, and for too few bytes.

    >>> broadcast_faults(bytes.fromhex("44 FF 6E 00 00 05 FF FF"))
    (Dm1(suspect_parameter=110, failure_mode=0, occurrences=5, lamps=('malfunction', 'amber')),)
    """
    if len(data) < 6:
        raise ValueError(f"{len(data)} bytes are no list of active faults; the shortest has 6")
    names = ("malfunction", "red stop", "amber", "protect")
    lamps = tuple(name for at, name in enumerate(names) if data[0] >> (6 - 2 * at) & 3 == 1)
    found = []
    for at in range(2, len(data) - 3, 4):
        low, middle, high, count = data[at : at + 4]
        if (low, middle, high, count) == (0, 0, 0, 0) or low == middle == high == 0xFF:
            continue
        if count & 0x80:
            raise ValueError(
                "a fault in the older conversion method; state its suspect parameter from the maker's list"
            )
        found.append(Dm1(low + 256 * middle + 65536 * (high >> 5), high & 0x1F, count & 0x7F, lamps))
    return tuple(found)
