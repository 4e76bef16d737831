"""Small functions with which the bundled checks word their results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.sdk import Step, Used, Verdict

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.sdk import Grade, Reading, Sheet


def number(value: Any) -> float | None:
    """Return a reading's value or a bare number as float; None for anything else."""
    value = getattr(value, "value", value)
    return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def seen(fired: bool, grade: Grade = "note") -> tuple[Verdict, ...]:
    """Return the verdict of something observed: it is so, or it is not."""
    return (Verdict(grade, float(fired)),)


def used(sheet: Sheet, field: str, value: float | str, u: float | None = None, unit: str = "", key: str = "") -> Used:
    """Return a reading as it was used, with its place on the sheet."""
    place = f"{sheet.id}.{field}[{key}]" if key else f"{sheet.id}.{field}"
    return Used(place, value, u, unit)


def bands(**probabilities: float) -> Mapping[str, float]:
    """Return probabilities of a rule's bands, without those that are nothing."""
    return {name: p for name, p in probabilities.items() if p > 0.0}


def percent(share: float, digits: int = 0) -> str:
    """Return a share in words of percent."""
    return f"{100.0 * share:.{digits}f} %"


def step(
    label: str, value: float | str | None, unit: str = "", formula: str = "", source: str = ""
) -> tuple[Step, ...]:
    """Return a step of a derivation, or nothing where there is no value."""
    return () if value is None else (Step(label, value, unit, formula, source),)


def reading_of(value: Any) -> Reading | None:
    """Return a reading, or None where the field holds none."""
    return value if hasattr(value, "u_parts") else None
