"""Comparing two registers of one vehicle: whether the evidence is worse, and what improved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.decide import OUTCOMES
from loadworthy.standing import severity

if TYPE_CHECKING:
    from loadworthy.register import Register

_LEVELS = ("low", "medium", "serious", "high")
#: Figures that differ by less than this share are equal: rounding of sums.
ROUNDING = 1e-9


def improvements(before: Register, after: Register, *, tolerance: float = ROUNDING, beliefs: bool = True) -> list[str]:
    """Return what got better from ``before`` to ``after``: outcome, allowed torque, P or level of any cause."""
    found = []
    if OUTCOMES.index(after.outcome) < OUTCOMES.index(before.outcome):
        found.append(f"outcome {before.outcome} -> {after.outcome}")
    if before.allowed.speeds == after.allowed.speeds:
        for speed, a, b in zip(before.allowed.speeds, before.allowed.torque, after.allowed.torque, strict=True):
            if b > a * (1 + tolerance) and not after.allowed.in_words:
                found.append(f"allowed at {speed:.4g} rev/s {a:.6g} -> {b:.6g}")
    if beliefs:
        now = {(b.cause, b.subject): b.p for b in after.beliefs}
        for one in before.beliefs:
            p = now.get((one.cause, one.subject))
            if p is not None and p < one.p * (1 - tolerance):
                found.append(f"P of {one.cause}@{one.subject} {one.p:.6g} -> {p:.6g}")
        levels = {r.id: r.level for r in after.risks}
        for risk in before.risks:
            level = levels.get(risk.id)
            if level is not None and _LEVELS.index(level) < _LEVELS.index(risk.level):
                found.append(f"level of {risk.id} {risk.level} -> {level}")
    return found


def is_worse(before: Register, after: Register) -> bool:
    """Return whether the evidence of ``after`` is worse in the sense of the method, section 1.

    No weight of any cause and no grade falls, no ceiling rises, nothing that ran became unknown, and nothing unknown
    clean: that exonerates. Sheets need ids of their own, else a changed reading changes the name of its sheet.
    """
    own = {s.id: s for s in after.standings}
    for one in before.standings:
        now = own.get(one.id)
        if now is None or (one.state != "unknown" and now.state == "unknown"):
            return False
        if one.state == "unknown" and now.own_grade == "clean":
            return False
        if severity(now.own_grade) < severity(one.own_grade) or (
            one.accept and not now.accept and now.own_grade == one.own_grade
        ):
            return False
        if one.fired and not now.fired:
            return False
    weights = {(w.finding, b.cause, b.subject): w.raw_db for b in after.beliefs for w in b.weights}
    old = {(w.finding, b.cause, b.subject): w.raw_db for b in before.beliefs for w in b.weights}
    for key in weights.keys() | old.keys():
        if weights.get(key, 0.0) < old.get(key, 0.0) - 1e-12:
            return False
    seen = {v.id: v.p_beyond for v in after.symptoms}
    if any(seen.get(v.id, 0.0) < v.p_beyond for v in before.symptoms):
        return False
    ceilings = {v.id: v.torque for v in after.ceilings}
    for view in before.ceilings:
        now_torque = ceilings.get(view.id)
        if now_torque is not None and any(
            b is not None and a is not None and b > a for a, b in zip(view.torque, now_torque, strict=False)
        ):
            return False
    return True
