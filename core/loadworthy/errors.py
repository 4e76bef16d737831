"""The errors that loadworthy raises, all of one family.

Every error carries its faults as data, so that a program can show each at its place.
"""

from __future__ import annotations

from loadworthy.record import NamedTuple

#: More lines than this nobody reads; `LoadworthyError.faults` has them all.
MOST_SHOWN = 200


class Fault(NamedTuple):
    """One thing that is wrong, where it is and what to write instead.

    ``code`` is a short stable word (``unknown-key``, ``bad-value`` ...), ``place`` a dotted path such as
    ``sheets[2].date``, ``line`` the line in the file where it could be found, ``write`` the mend.
    """

    code: str
    problem: str
    place: str = ""
    line: int | None = None
    write: str = ""

    def __str__(self) -> str:
        """Return one line for people: place, line, problem, mend."""
        where = self.place
        if self.line is not None:
            where = f"{where} (line {self.line})" if where else f"line {self.line}"
        text = f"{where}: {self.problem}" if where else self.problem
        return f"{text}; {self.write}" if self.write else text


class LoadworthyError(Exception):
    """Base of every error that loadworthy raises on purpose."""

    def __init__(self, message: str, faults: tuple[Fault, ...] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.faults = faults

    def lines(self) -> tuple[str, ...]:
        """Return the message and every fault, a line each; of very many the first."""
        more = len(self.faults) - MOST_SHOWN
        rest = (f"  and {more} more; mend these first",) if more > 0 else ()
        return (self.message, *(f"  {fault}" for fault in self.faults[:MOST_SHOWN]), *rest)

    def __str__(self) -> str:
        """Return these lines as one text."""
        return "\n".join(self.lines())


class CaseError(LoadworthyError):
    """A case cannot be read or written as it stands."""


class HouseError(LoadworthyError):
    """House settings cannot be used as they stand."""


class DeclarationError(LoadworthyError):
    """Plugins declare things that contradict each other or are incomplete."""


class PluginError(LoadworthyError):
    """A plugin cannot be loaded at all."""
