"""How far long work has come, told on a terminal and nowhere else."""

from __future__ import annotations

import sys
from time import monotonic
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import TextIO

#: Shorter work (s) is not worth a word.
PATIENCE = 1.0
#: A line is rewritten no sooner than this (s), a plain line said again no sooner than that.
_AGAIN, _AGAIN_PLAIN = 0.1, 10.0


class Progress:
    """Tells "12 of 240: name" on a terminal while work goes on that takes longer than about a second.

    The line is rewritten and finally erased; ``plain``: whole lines are said instead, seldom, and stay. Whoever prints
    anything else calls `clear` first. Use `watched`, which says nothing where nobody would read it.
    """

    def __init__(
        self, total: int, stream: TextIO, *, plain: bool = False, clock: Callable[[], float] = monotonic
    ) -> None:
        self._total = total
        self._stream = stream
        self._clock = clock
        self._plain = plain
        self._wanted = True
        self._next = clock() + PATIENCE
        self._length = 0

    def at(self, number: int, name: str = "") -> None:
        """Say that work on one of the things begins; the first has the number 1."""
        if not self._wanted:
            return
        now = self._clock()
        if now < self._next:
            return
        text = f"{number} of {self._total}{f': {name}' if name else ''}"
        if self._plain:
            self._write(f"{self._fitting(text)}\n")
            self._next = now + _AGAIN_PLAIN
        else:
            line = self._fitting(text)
            self._write(f"\r{line}{' ' * (self._length - len(line))}")
            self._length = len(line)
            self._next = now + _AGAIN

    def clear(self) -> None:
        """Erase the line, if there is one."""
        if self._length:
            self._write(f"\r{' ' * self._length}\r")
            self._length = 0

    def _fitting(self, text: str) -> str:
        """Return text that the terminal can show on one line."""
        from shutil import get_terminal_size

        from loadworthy.cli.output import in_ascii
        from loadworthy.outputs.page import printable

        # Beyond ASCII a character may be two columns wide, and its line could not be erased.
        return in_ascii(printable(text))[: get_terminal_size().columns - 1]

    def _write(self, text: str) -> None:
        try:
            self._stream.write(text)
            self._stream.flush()
        except OSError:
            # Work goes on without an audience.
            self._wanted, self._length = False, 0


def watched(total: int) -> Progress | None:
    """Return the progress of so many things on the error stream, or None unless that is a terminal and they are many.

    With ``NO_COLOR`` or ``TERM=dumb`` it is plain.
    """
    stream = sys.stderr
    if total < 2 or stream is None or not stream.isatty():
        return None
    from loadworthy.cli.output import plain_terminal

    return Progress(total, stream, plain=plain_terminal())
