"""Small functions with which every rule of this check words its results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.sdk import Finding, Step, Used, Verdict, evolve

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from loadworthy.sdk import Grade, ResolvedLimit, Sheet

ID = "compression."
#: A clean verdict for a finding within its scatter may not look like a borderline one.
_WITHIN_SCATTER = 0.049


def finding(rule: str, sheet: Sheet | None, subject: str | None = None, **more: Any) -> Finding:
    """Return a finding of this check's own ``rule`` on a sheet (None: a fact of the vehicle)."""
    return Finding(ID + rule, sheet.id if sheet is not None else "", subject, **more)


def seen(fired: bool, grade: Grade = "note") -> tuple[Verdict, ...]:
    """Return the verdict of something observed: it is so, or it is not."""
    return (Verdict(grade, float(fired)),)


def at_least(limit: ResolvedLimit, value: float) -> ResolvedLimit:
    """Return the limit raised to ``value`` where the scatter asks for more than the limit does."""
    return evolve(limit, value=max(limit.number, value))


def within_scatter(verdict: Verdict) -> Verdict:
    """Return the verdict as clean: the decision already allows for the scatter, so nothing is borderline."""
    return verdict._replace(p_beyond=min(verdict.p_beyond, _WITHIN_SCATTER), needed_u=None)


def used(sheet: Sheet, field: str, value: float | str, u: float | None = None, unit: str = "", key: str = "") -> Used:
    """Return a reading as it was used, with its place on the sheet."""
    place = f"{sheet.id}.{field}[{key}]" if key else f"{sheet.id}.{field}"
    return Used(place, value, u, unit)


def bands(**probabilities: float) -> Mapping[str, float]:
    """Return probabilities of a rule's bands, without those that are nothing."""
    return {name: p for name, p in probabilities.items() if p > 0.0}


def percent(share: float) -> str:
    """Return a share in words of whole percent."""
    return f"{100.0 * share:.0f} %"


def names(cylinders: Iterable[int]) -> str:
    """Return cylinder numbers in words: ``1, 3 and 4``."""
    words = [str(n) for n in cylinders]
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1]))) if words else "none"


def pair_subject(one: int, other: int) -> str:
    """Return the subject id of two neighbours, the lower number first."""
    low, high = sorted((one, other))
    return f"cylinders {low}+{high}"


def step(
    label: str, value: float | str | None, unit: str = "", formula: str = "", source: str = ""
) -> tuple[Step, ...]:
    """Return a step of a derivation, or nothing where there is no value."""
    return () if value is None else (Step(label, value, unit, formula, source),)
