"""What the low and high cylinders of an engine have in common: neighbours, a bank, a cut-off set, all."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    #: Cylinder numbers in physical order along each bank.
    Layout = Sequence[Sequence[int]]


def neighbours(layout: Layout) -> Iterator[tuple[int, int]]:
    """Yield the pairs of cylinders that share a wall, lower number first.

    On a vee numbered odd and even, 1 and 2 face each other across it and are no neighbours.

    >>> list(neighbours([[1, 3, 5], [2, 4, 6]]))
    [(1, 3), (3, 5), (2, 4), (4, 6)]
    """
    for bank in layout:
        for a, b in pairwise(bank):
            yield (a, b) if a < b else (b, a)


def adjacency_ratio(layout: Layout) -> float:
    """Return the likelihood ratio of finding two low cylinders adjacent: one over the chance by luck alone.

    Counting of pairs: n/2 in line, ``n(n-1) / (2(n-2))`` for two equal banks.

    >>> adjacency_ratio([[1, 2, 3, 4]])
    2.0
    >>> adjacency_ratio([[1, 3, 5], [2, 4, 6]])
    3.75
    """
    count = sum(len(bank) for bank in layout)
    pairs = sum(1 for _ in neighbours(layout))
    return count * (count - 1) / 2.0 / pairs if pairs else 1.0


def equal_depth(first: float, second: float, spread: float) -> bool:
    """Tell whether two deficits are equal within the critical difference (2.8 ``spread``, ISO 5725-6)."""
    return abs(first - second) <= 2.8 * spread


def whole(cylinders: Sequence[int], low: Sequence[int]) -> bool:
    """Tell whether a bank or set is low as a whole: it has members, and every one of them is low."""
    return bool(cylinders) and set(cylinders) <= set(low)


def low_pairs(low: Sequence[int], layout: Layout) -> tuple[tuple[tuple[int, int], ...], bool]:
    """Return the adjacent pairs among the ``low`` cylinders, and whether some two of them are not adjacent.

    >>> low_pairs([2, 3], [[1, 2, 3, 4]])
    (((2, 3),), False)
    >>> low_pairs([1, 2], [[1, 3, 5, 7], [2, 4, 6, 8]])
    ((), True)
    """
    wanted = set(low)
    adjacent = tuple(pair for pair in neighbours(layout) if wanted.issuperset(pair))
    return adjacent, len(adjacent) < len(wanted) * (len(wanted) - 1) // 2
