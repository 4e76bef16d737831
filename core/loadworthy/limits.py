"""Limits as rules receive them: resolved from default, maker and house, with their origin.

A rule judges a reading with ``ResolvedLimit.judge``; the probabilities follow JCGM 106:2012.
"""

from __future__ import annotations

from math import isclose
from typing import TYPE_CHECKING

from loadworthy.findings import Verdict
from loadworthy.record import Record, evolve, frozen
from loadworthy.stats import p_above, p_below

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.findings import Grade


#: A reading that differs from its limit by less than this share differs by rounding (another unit), not by measurement.
ROUNDING = 1e-9
#: A reading this many standard uncertainties inside its limit is clean: 95 % one-sided of the normal law.
DECIDED_AT = 1.645


@frozen(eq=False, repr=False, slots=False)
class ResolvedLimit(Record):
    """A threshold in force. ``origin`` is ``default``, ``maker`` or ``house``; ``reason`` the house's own words.

    ``high`` is the upper bound of a two-sided limit, ``value`` then the lower one.
    """

    id: str
    value: float | str | None
    kind: str
    worse: str
    grade: Grade | None
    origin: str = "default"
    default: float | str | None = None
    reason: str = ""
    high: float | None = None

    @property
    def number(self) -> float:
        """The value as a number. Raises TypeError where the limit has none."""
        if not isinstance(self.value, (int, float)):
            raise TypeError(f"limit {self.id} has no number")
        return float(self.value)

    @property
    def looser(self) -> bool:
        """Whether the house (or maker) value lets more pass than the default."""
        if self.origin != "house" or not isinstance(self.value, (int, float)):
            return False
        if not isinstance(self.default, (int, float)):
            return False
        return self.value > self.default if self.worse == "above" else self.value < self.default

    def maker(self, value: float) -> ResolvedLimit:
        """Return the limit with the maker's figure in place of the default."""
        return evolve(self, value=value, origin="maker")

    def judge(self, y: float, u: float, grade: Grade | None = None) -> Verdict:
        """Return the verdict of reading ``y`` with standard uncertainty ``u`` (same unit; 0 for exact counts).

        p_beyond is the probability that the true value lies beyond the limit, by the normal law (JCGM 106:2012,
        section 7). Raises ValueError without a grade.
        """
        grade = grade or self.grade
        if grade is None:
            raise ValueError(f"limit {self.id} is a setting and has no grade")
        limit = self.number
        p = self._beyond(y, u, limit)
        default_p = None
        if self.looser and isinstance(self.default, (int, float)):
            default_p = self._beyond(y, u, float(self.default))
        return Verdict(
            grade=grade,
            p_beyond=p,
            limit=self.id,
            value=limit,
            unit=self.kind,
            origin=self.origin,
            needed_u=self._distance(y, limit) / DECIDED_AT,
            default_p=default_p,
        )

    def _distance(self, y: float, limit: float) -> float:
        distance = abs(limit - y)
        return distance if self.high is None else min(distance, abs(self.high - y))

    def _beyond(self, y: float, u: float, limit: float) -> float:
        high = self.high if self.high is not None else limit
        for bound in (limit, high):
            # At the very limit p is 0.5, where the grade begins: 9 bar must be that in every unit.
            if isclose(y, bound, rel_tol=ROUNDING):
                y = bound
        if self.worse == "above":
            return p_above(y, u, limit)
        if self.worse == "below":
            return p_below(y, u, limit)
        return min(1.0, p_below(y, u, limit) + p_above(y, u, high))


class Limits:
    """The limits in force, by id. Asking for one that nobody declares gives None: the rule is then unknown."""

    __slots__ = ("_limits",)

    def __init__(self, limits: Mapping[str, ResolvedLimit]) -> None:
        self._limits = dict(limits)

    def get(self, id: str) -> ResolvedLimit | None:
        """Return the limit ``plugin.name``, or None where no installed plugin declares it."""
        return self._limits.get(id)

    def __getitem__(self, id: str) -> ResolvedLimit:
        """Return the limit ``plugin.name``; KeyError where undeclared (a plugin's own limits always exist)."""
        return self._limits[id]

    def __iter__(self) -> Iterator[ResolvedLimit]:
        """Iterate over all limits in order of id."""
        return iter(sorted(self._limits.values(), key=lambda limit: limit.id))

    def __len__(self) -> int:
        """Return the number of limits."""
        return len(self._limits)
