"""Small functions with which every rule of this check words its results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.sdk import Finding, evolve
from loadworthy_plugins.shared_results import bands, percent, seen, step, used

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import ResolvedLimit, Sheet, Verdict

__all__ = [
    "ID",
    "at_least",
    "bands",
    "finding",
    "names",
    "pair_subject",
    "percent",
    "seen",
    "step",
    "used",
    "within_scatter",
]

ID = "compression."
#: A clean verdict for a finding within its scatter may not look like a borderline one.
_WITHIN_SCATTER = 0.049


def finding(rule: str, sheet: Sheet | None, subject: str | None = None, **more: Any) -> Finding:
    """Return a finding of this check's own ``rule`` on a sheet (None: a fact of the vehicle)."""
    return Finding(ID + rule, sheet.id if sheet is not None else "", subject, **more)


def at_least(limit: ResolvedLimit, value: float) -> ResolvedLimit:
    """Return the limit raised to ``value`` where the scatter asks for more than the limit does."""
    return evolve(limit, value=max(limit.number, value))


def within_scatter(verdict: Verdict) -> Verdict:
    """Return the verdict as clean: the decision already allows for the scatter, so nothing is borderline."""
    return verdict._replace(p_beyond=min(verdict.p_beyond, _WITHIN_SCATTER), needed_u=None)


def names(cylinders: Iterable[int]) -> str:
    """Return cylinder numbers in words: ``1, 3 and 4``."""
    words = [str(n) for n in cylinders]
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1]))) if words else "none"


def pair_subject(one: int, other: int) -> str:
    """Return the subject id of two neighbours, the lower number first."""
    low, high = sorted((one, other))
    return f"cylinders {low}+{high}"
