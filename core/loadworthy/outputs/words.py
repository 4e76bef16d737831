"""Words and numbers as people read them. Units are chosen by kind; nothing here judges."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.units import KINDS, format_value, si_unit

if TYPE_CHECKING:
    from collections.abc import Iterable

WIDTH = 80
SEVERITY = {
    1: "person hurt or vehicle out of control",
    2: "main unit lost",
    3: "component lost or stranded",
    4: "less than promised",
}


def likelihood(p: float) -> str:
    """Return a probability in words: unlikely below 0.1, likely above 0.5, nearly certain above 0.95.

    >>> [likelihood(p) for p in (0.05, 0.3, 0.6, 0.99)]
    ['unlikely', 'possible', 'likely', 'nearly certain']
    """
    if p < 0.1:
        return "unlikely"
    if p <= 0.5:
        return "possible"
    return "likely" if p <= 0.95 else "nearly certain"


def two(p: float) -> str:
    """Return a probability with two significant digits.

    >>> two(0.7527), two(0.00995), two(0.9999)
    ('0.75', '0.010', '1.0')
    """
    if p == 0.0:
        return "0"
    from math import floor, log10

    digits = 1 - floor(log10(abs(float(f"{p:.1e}"))))
    return f"{p:.{max(1, digits)}f}" if digits <= 6 else f"{p:.1e}"


def shown(value: object, kind: str, system: str = "si") -> str:
    """Return a value of a unit kind (or none) as text in the asked system of units."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    if kind in KINDS:
        return format_value(float(value), kind, system=system)
    return f"{value:.4g}" if kind in ("", "number", "1") else f"{value:.4g} {kind}"


def unit_of(kind: str) -> str:
    """Return the SI unit of a kind for programs; what is no kind is a unit already."""
    return si_unit(kind) if kind in KINDS else ("1" if kind in ("", "number") else kind)


def printable(text: str) -> str:
    """Return text on one line without control characters: a case's free text must not move the cursor."""
    return "".join(char if char.isprintable() else " " for char in text)


def wrap(text: str, indent: str = "", hang: str | None = None, width: int = WIDTH) -> list[str]:
    """Break text into lines of at most ``width``; ``hang`` indents all but the first. A longer word is cut.

    >>> wrap("one two three", "- ", "  ", 9)
    ['- one two', '  three']
    """
    hang = indent if hang is None else hang
    lines: list[str] = []
    line = indent
    empty = True
    for word in printable(text).split():
        while len(hang) + len(word) > width and len(word) > width - len(hang):
            room = max(1, width - len(line) - (0 if empty else 1))
            if not empty and room < 20:
                lines.append(line)
                line, empty, room = hang, True, width - len(hang)
            line += ("" if empty else " ") + word[:room]
            word = word[room:]
            lines.append(line)
            line, empty = hang, True
        if not word:
            continue
        if not empty and len(line) + 1 + len(word) > width:
            lines.append(line)
            line, empty = hang, True
        line += word if empty else f" {word}"
        empty = False
    if not empty or not lines:
        lines.append(line.rstrip() if empty else line)
    return lines


def columns(rows: Iterable[tuple[str, ...]], right: tuple[int, ...] = (), indent: str = "  ") -> list[str]:
    """Return rows as aligned columns, the last one wrapped; ``right`` are indices that are set to the right."""
    table = [tuple(printable(cell) for cell in row) for row in rows]
    if not table:
        return []
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    out = []
    for row in table:
        start = indent + "".join(
            (cell.rjust(widths[i]) if i in right else cell.ljust(widths[i])) + "  " for i, cell in enumerate(row[:-1])
        )
        out += wrap(row[-1], start, " " * len(start)) if row[-1] else [start.rstrip()]
    return out
