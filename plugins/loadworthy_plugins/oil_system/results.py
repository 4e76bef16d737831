"""Small functions with which every rule of this check words its results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.sdk import Finding, format_value

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import Limits, Sheet, Verdict

ID = "oil_system."


def finding(rule: str, sheet: Sheet | None, subject: str | None = None, **more: Any) -> Finding:
    """Return a finding of this check's own ``rule`` on a sheet (None: a fact of the vehicle)."""
    return Finding(ID + rule, sheet.id if sheet is not None else "", subject, **more)


def verdicts(limits: Limits, names: Iterable[str], y: float, u: float) -> tuple[Verdict, ...]:
    """Return the verdicts of a reading against limits of this check, by local name."""
    return tuple(limits[ID + name].judge(y, u) for name in names)


def pressure_words(value: float) -> str:
    """Return an oil pressure in words."""
    return format_value(value, "pressure_gauge")


def at_speed(speed: float) -> str:
    """Return an engine speed (rev/s) in words."""
    return f"at {60.0 * speed:.0f} rpm"


def most(found: Iterable[Verdict]) -> float:
    """Return the greatest probability of being beyond a limit."""
    return max((verdict.p_beyond for verdict in found), default=0.0)
