"""Words for what a record holds, so that many like faults make one line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

#: More of one kind nobody reads; the rest is counted.
MOST: Final = 6
_REMEDY: Final = "; write "


def in_one_line(faults: Iterable[str], most: int = MOST) -> str:
    """Return faults in one line: what is mended in the same way together, and no more than ``most`` of a kind.

    >>> in_one_line(("Q1 is no code; write P0171", "line 3 is no data", "Q2 is no code; write P0171"))
    'Q1 is no code, Q2 is no code; write P0171; line 3 is no data'
    >>> in_one_line(("line 1 is no data", "line 2 is no data", "line 3 is no data"), most=1)
    'line 1 is no data and 2 more'
    """
    kinds: dict[str, dict[str, None]] = {}
    for fault in faults:
        words, _, remedy = fault.partition(_REMEDY)
        kinds.setdefault(remedy, {})[words] = None
    lines = []
    for remedy, found in kinds.items():
        shown = (", " if remedy else "; ").join(list(found)[:most])
        more = f" and {len(found) - most} more" if len(found) > most else ""
        lines.append(f"{shown}{more}{_REMEDY if remedy else ''}{remedy}")
    return "; ".join(lines)
