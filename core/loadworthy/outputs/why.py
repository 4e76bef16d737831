"""How a number came about: readings, limits, formulas, sources and weights behind one id of the register."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.outputs.names import FIGURES, every_id, ids, meant, nearest
from loadworthy.outputs.view import View

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.register import Register

__all__ = ["FIGURES", "every_id", "ids", "meant", "nearest", "why_text"]


def why_text(register: Register, id: str, *, system: str = "si") -> str | None:
    """Return the derivation of one id as text that ends with a newline, or None where it names nothing, or several.

    Short forms and the only beginning of an id will do. What several things share one id is told of each.
    """
    found = meant(register, id)
    if len(found) != 1:
        return None
    parts = ["\n".join(part) for part in _parts(View(register, system), found[0])]
    return "\n\n".join(parts) + "\n" if parts else None


def _parts(view: View, id: str) -> Iterator[Iterable[str]]:
    """Yield the derivation of everything that has this id."""
    from loadworthy.outputs import why_declared, why_finding, why_risk, why_torque

    r = view.register
    if id == "outcome":
        yield why_torque.outcome(view)
    if id == "plan_class":
        yield why_torque.plan_class(view)
    if id == "allowed":
        yield why_torque.allowed(view)
    if id == "demand":
        yield why_torque.demand(view)
    yield from (why_torque.ceiling(view, one) for one in r.ceilings if one.id == id)
    yield from why_risk.parts(view, id)
    yield from (why_finding.finding(view, one) for one in r.standings if one.id == id)
    yield from (why_risk.symptom(view, one) for one in r.symptoms if one.id == id)
    yield from why_declared.evidence(view, id)
    yield from why_declared.declarations(view, id)
