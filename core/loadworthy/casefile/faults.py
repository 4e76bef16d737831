"""Collecting what is wrong with a case while reading goes on, so that every fault is reported at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.errors import CaseError, Fault

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

#: A name longer than this is no slip of the pen, and more names than this are not looked up: both would cost time.
_LONGEST_NAME = 60
_MOST_LOOKUPS = 50


class Faults:
    """The faults and notes of one case, in the order in which they were found.

    A fault forbids the case; a note is only odd (outside the usual range, overdue calibration) and stays with it.
    """

    __slots__ = ("_looked_up", "faults", "notes")

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.notes: list[Fault] = []
        self._looked_up: dict[tuple[str, tuple[str, ...], float], str] = {}

    def add(self, code: str, place: str, problem: str, write: str = "") -> None:
        """Add a fault at a place such as ``sheets[2].date``."""
        self.faults.append(Fault(code, problem, place, None, write))

    def note(self, code: str, place: str, problem: str, write: str = "") -> None:
        """Add something odd that does not forbid the case."""
        self.notes.append(Fault(code, problem, place, None, write))

    def rename_notes(self, first: int, place: str, name: str) -> None:
        """Put ``name`` for ``place`` in the notes from number ``first`` on.

        Notes stay with the case, so their places must not depend on the order of sheets in the file.
        """
        for at in range(first, len(self.notes)):
            note = self.notes[at]
            if note.place.startswith(place):
                self.notes[at] = note._replace(place=name + note.place[len(place) :])

    def nearest(self, word: str, known: Iterable[str], cutoff: float = 0.6) -> str:
        """Return the known name most like ``word``, or an empty string."""
        if len(word) > _LONGEST_NAME:
            return ""
        names = tuple(known)
        asked = (word, names, cutoff)
        if asked in self._looked_up:
            return self._looked_up[asked]
        if len(self._looked_up) >= _MOST_LOOKUPS:
            return ""
        from difflib import get_close_matches

        close = get_close_matches(word, sorted(names), n=1, cutoff=cutoff)
        self._looked_up[asked] = close[0] if close else ""
        return self._looked_up[asked]

    def one_of(self, word: str, known: Iterable[str]) -> str:
        """Return what to write in place of an unknown name: the nearest one, else all of them if they are few."""
        names = sorted(known)
        near = self.nearest(word, names)
        if near:
            return f"did you mean {near}?"
        if not names:
            return ""
        if len(names) <= 12:
            return f"known: {', '.join(names)}"
        return f"known: {', '.join(names[:12])} and {len(names) - 12} more"

    def refuse(self, name: str, line: Callable[[str], int | None] | None = None) -> None:
        """Raise CaseError with all faults if there are any, each with its line where ``line`` finds one."""
        if not self.faults:
            return
        faults = self.faults
        if line is not None:
            faults = [fault._replace(line=line(fault.place)) for fault in faults]
            # In the order of the file; what has no line of its own comes first.
            faults.sort(key=lambda fault: fault.line or 0)
        raise refusal(name, *faults)


def refusal(name: str, *faults: Fault, what: str = "read") -> CaseError:
    """Return the error that refuses a case for these faults; ``what`` cannot be done with it."""
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return CaseError(f"{name or 'case'} cannot be {what}: {count}", faults)


def show(value: Any) -> str:
    """Return a written value for a message: short, in quotes where it is text, without control characters."""
    if isinstance(value, str):
        return f'"{plain(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and value.bit_length() > 200:
        return "a number of more than 60 digits"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, (list, tuple)):
        return "a list" if value else "an empty list"
    if hasattr(value, "keys"):
        return "a table" if value else "an empty table"
    if hasattr(value, "isoformat"):
        return str(value.isoformat())
    return f"a {type(value).__name__}"


def plain(text: str, most: int = 40) -> str:
    """Return a text fit to be printed within a message: short, and without control characters."""
    short = text if len(text) <= most else f"{text[: most - 3]}..."
    return "".join(char if char.isprintable() else "?" for char in short)
