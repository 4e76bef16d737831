"""Laying out text: 80 columns, no colour, nothing that could move a cursor.

Free text of a case goes through `wrap` or `columns`, which let no control character pass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

WIDTH = 80


def printable(text: str) -> str:
    """Return text on one line, each character that cannot be printed (controls, marks of direction) as a blank.

    >>> printable(f"left {chr(27)}[31mright")
    'left  [31mright'
    """
    return text if text.isprintable() else "".join(char if char.isprintable() else " " for char in text)


def wrap(text: str, indent: str = "", hang: str | None = None, width: int = WIDTH) -> list[str]:
    """Break text into lines of at most ``width``; ``hang`` begins all but the first. A longer word is cut.

    A number stays with its unit, and an id in brackets in one piece where there is room.

    >>> wrap("one two three", "- ", "  ", 9)
    ['- one two', '  three']
    >>> wrap("carry 340 N m [the id]", width=12)
    ['carry', '340 N m', '[the id]']
    """
    hang = indent if hang is None else hang
    lines: list[str] = []
    line = indent
    empty = True
    for word in _pieces(printable(text).split(), width - len(hang)):
        if not empty and len(line) + 1 + len(word) > width:
            lines.append(line)
            line, empty = hang, True
        while len(line) + len(word) > width:
            room = max(1, width - len(line))
            lines.append(line + word[:room])
            line, word = hang, word[room:]
        line += word if empty else f" {word}"
        empty = False
    return [*lines, line.rstrip()]


def _pieces(words: list[str], room: int) -> Iterator[str]:
    """Yield words, joined where a break between them would be misread."""
    piece = ""
    for word in words:
        if piece and (_open(piece) or _belongs(piece, word)) and len(piece) + 1 + len(word) <= room:
            piece = f"{piece} {word}"
            continue
        if piece:
            yield piece
        piece = word
    if piece:
        yield piece


def _open(piece: str) -> bool:
    return piece[0] == "[" and "]" not in piece


def _belongs(before: str, word: str) -> bool:
    """Say whether a word is the unit, or the second half of the unit, of what stands before it."""
    unit = word.rstrip(".,;:)")
    last = before.rpartition(" ")[2]
    return (unit in _UNITS and last[-1].isdigit()) or (last, unit) in _SPLIT_UNITS


_UNITS = frozenset(
    ("%", "N", "rpm", "bar", "kPa", "psi", "lb", "min", "km", "mi", "K", "kW", "mech", "degC", "degF", "dB")
)
_SPLIT_UNITS = frozenset((("N", "m"), ("lb", "ft"), ("mech", "hp"), ("bar", "gauge"), ("psi", "gauge"), ("bar", "abs")))


def sentence(text: str) -> str:
    """Return text with a capital at its beginning and a full stop at its end.

    >>> sentence("nothing stands"), sentence("why not?")
    ('Nothing stands.', 'Why not?')
    """
    text = text.strip()
    end = "" if text.endswith((".", "?", "!")) else "."
    return f"{text[:1].upper()}{text[1:]}{end}" if text else ""


def labelled(label: str, text: str, indent: str = "", width: int = 0) -> list[str]:
    """Return text behind a label of its own column.

    >>> labelled("Remedy", "set the clearance", "  ", 8)
    ['  Remedy  set the clearance']
    """
    start = indent + printable(label).ljust(width)
    return wrap(text, start, " " * len(start))


def columns(
    rows: Iterable[tuple[str, ...]], right: tuple[int, ...] = (), indent: str = "  ", gap: str = "  "
) -> list[str]:
    """Return rows as aligned columns, the last one wrapped; ``right`` are the indices of columns set to the right.

    >>> columns([("a", "1", "one"), ("bc", "10", "ten")], right=(1,))
    ['  a    1  one', '  bc  10  ten']
    """
    table = [tuple(printable(cell) for cell in row) for row in rows]
    if not table:
        return []
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]) - 1)]
    out = []
    for row in table:
        cells = (c.rjust(w) if i in right else c.ljust(w) for i, (c, w) in enumerate(zip(row, widths, strict=False)))
        start = indent + "".join(cell + gap for cell in cells)
        out += wrap(row[-1], start, " " * len(start)) if row[-1] else [start.rstrip()]
    return out


def thinned(count: int, keep: Iterable[int], most: int) -> list[int]:
    """Return indices below ``count`` to print: those to ``keep``, both ends, and evenly spread others up to ``most``.

    >>> thinned(9, (3,), 5)
    [0, 3, 5, 8]
    """
    if count <= most:
        return list(range(count))
    chosen = {0, count - 1, *keep}
    extra = most - len(chosen)
    chosen.update(round(i * (count - 1) / (extra + 1)) for i in range(1, extra + 1))
    return sorted(chosen)


class Paper:
    """What a register is written on: each method adds one thing and says what it is, not how it looks.

    This one makes text for reading; others make the same register in other forms. ``lines`` is what stands on it.
    """

    _INDENT, _LABEL = " " * 6, 11

    def __init__(self) -> None:
        self.lines: list[str] = []
        self._label = ""

    def title(self, text: str) -> None:
        """Add the title of the whole."""
        self.lines += wrap(text, "", "  ")

    def lead(self, text: str, *, apart: bool = False) -> None:
        """Add a line that stands by itself, outside any part; ``apart`` from the one before."""
        self.lines += ["", *wrap(text)] if apart else wrap(text)

    def part(self, text: str, nothing: str = "") -> None:
        """Begin a part; ``nothing`` is said in it where it is empty."""
        self.lines.append("")
        self.lines += wrap(f"{text}: {nothing}" if nothing else text)

    def section(self, text: str) -> None:
        """Begin a section of a part."""
        self.lines += wrap(text, "  ", "    ")

    def paragraph(self, text: str) -> None:
        """Add a paragraph."""
        self.lines += wrap(text, "  ")

    def numbered(self, number: int, text: str) -> None:
        """Add a thing of an ordered list."""
        self.lines += wrap(text, f"  {number}  ", "     ")

    def below(self, text: str) -> None:
        """Add a line to the thing before it."""
        self.lines += wrap(text, "     ")

    def bullet(self, text: str) -> None:
        """Add a thing of a list without order."""
        self.lines += wrap(text, "  - ", "    ")

    def entry(self, number: int, marks: Sequence[str], text: str) -> None:
        """Begin an entry with its rank and what it is marked with; `told` tells about it."""
        head = f"  {number:>2}  {marks[0]:<9}{marks[1]:<15}"
        self.lines += wrap(text, head, " " * len(head))
        self._label = ""

    def told(self, label: str, text: str) -> None:
        """Tell something about the entry; a label that repeats is not written again."""
        again = label == self._label
        self.lines += labelled("" if again else label, text, self._INDENT, self._LABEL)
        self._label = label

    def table(
        self,
        head: tuple[str, ...],
        rows: Sequence[tuple[str, ...]],
        right: tuple[int, ...] = (),
        *,
        headed: bool = False,
    ) -> None:
        """Add a table; unless ``headed`` what the columns hold is plain from what they say."""
        self.lines += columns([head, *rows] if headed else rows, right)

    def under(self, head: tuple[str, ...], rows: Sequence[tuple[str, ...]], right: tuple[int, ...] = ()) -> None:
        """Add a table to the section before it."""
        self.lines += columns(rows, right, "    ")

    def end(self) -> None:
        """Begin the colophon."""
        self.lines.append("")

    def foot(self, label: str, text: str) -> None:
        """Add a line of the colophon."""
        self.lines += labelled(label, text, "", 9)
