"""A register as plain data for programs: ``loadworthy/register/1``.

Numbers are SI with their unit beside them, keys sorted, 12 significant digits. Torque over speed is an object of
parallel lists; null stands there for "no cut", and ``unknown_at`` lists the indices of the speeds at which a ceiling is
known only in words. Nothing depends on the machine: files are named without their folder.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

from loadworthy.outputs.words import unit_of
from loadworthy.record import Record

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from loadworthy.beliefs import Standing, WeightUse
    from loadworthy.conclusions import CeilingView, LiftStep, Risk
    from loadworthy.declarations import Quantity
    from loadworthy.findings import Ceiling, Gap
    from loadworthy.register import Register
    from loadworthy.waiving import WaiverView

FORMAT = "loadworthy/register/1"
DIGITS = 12


def register_to_dict(register: Register) -> dict[str, Any]:
    """Return the register under the names that other programs rely on."""
    found: dict[str, Any] = clean(_register(register))
    return found


def clean(value: Any) -> Any:
    """Return a value as JSON can hold it: keys sorted, 12 significant digits, nothing that is not finite."""
    if value is None or isinstance(value, (bool, int)):
        return value
    if isinstance(value, str):
        # Text from a file name may hold what no UTF-8 can; JSON would carry it on.
        return value if value.isascii() else value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, float):
        return float(f"{value + 0.0:.{DIGITS}g}") if isfinite(value) else None
    if hasattr(value, "_asdict"):
        return clean(value._asdict())
    if isinstance(value, Record):
        return clean(dict(value.items()))
    if hasattr(value, "items"):
        return {str(key): clean(value[key]) for key in sorted(value, key=str)}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [clean(item) for item in (sorted(value) if isinstance(value, (set, frozenset)) else value)]
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def _register(r: Register) -> dict[str, Any]:
    bearing = {s.id for risk in (*r.risks, *r.unlooked) for s in risk.findings}
    weights = _weights(r)
    return {
        "format": FORMAT,
        "outcome": r.outcome,
        "hold_kind": r.decision.kind,
        "reason": r.decision.reason,
        "outcome_reasons": r.decision.reasons,
        "deciding": r.decision.facts,
        "would_change": r.decision.would_change,
        "case": {"name": r.case.name, "vehicle": dict(r.case.vehicle), "plan": dict(r.case.plan)},
        "as_of": r.as_of,
        "plan_class": r.plan_class,
        "plan_class_reasons": r.plan_class_why,
        "torque_ratio": r.plan_ratio,
        "demand": _demand(r),
        "risks": [_risk(risk, weights) for risk in r.risks],
        "not_looked_into": [_risk(risk, weights) for risk in r.unlooked],
        "unlisted": r.unlisted,
        "ceilings": [_ceiling(view, r) for view in r.ceilings],
        "allowed": _allowed(r),
        "gain": {**r.allowed.gain._asdict(), "unit": "1", "speed_unit": "rev/s"},
        "lift_steps": [_step(step) for step in r.ladder.steps],
        "lift_blocked_by": r.ladder.blocked_by,
        "gaps": [_gap(gap, r) for gap in r.gaps],
        "gates": r.gates,
        "required_evidence": r.rows,
        "plugin_failures": [{**f._asdict(), "detail": without_folder(f.detail)} for f in r.failures],
        "limits_changed": [{**change._asdict(), "unit": unit_of(change.kind)} for change in r.limits_changed],
        "waivers": [_waiver(view) for view in r.waivers],
        "struck_out": [{key: value for key, value in void.items() if key != "unfinished"} for void in r.case.voids],
        "plugins": [{**plugin._asdict(), "source": without_folder(plugin.source)} for plugin in r.plugins],
        "case_digest": r.case_digest,
        "house_digest": r.house_digest,
        "symptoms": r.symptoms,
        "findings": [_finding(s, weights.get(s.id, ())) for s in r.standings if s.id not in bearing],
        "assumptions": [{**a._asdict(), "unit": unit_of(a.unit)} for a in r.assumptions],
        "advice": r.advice,
        "notes": r.notes,
    }


def without_folder(place: str) -> str:
    """Return a file's place without the folder, which differs between machines."""
    return place.replace("\\", "/").rpartition("/")[2]


def _waiver(view: WaiverView) -> dict[str, Any]:
    one = view.waiver
    return {
        "who": one.who,
        "role": one.role,
        "what": one.what,
        "why": one.why,
        "from": one.start,
        "until": one.until,
        "state": view.state,
        "state_why": view.why,
    }


def _weights(r: Register) -> dict[str, list[WeightUse]]:
    """Return all weights by the finding that carries them."""
    found: dict[str, list[WeightUse]] = {}
    for belief in r.beliefs:
        for weight in belief.weights:
            found.setdefault(weight.finding, []).append(weight)
    return found


def _finding(s: Standing, weights: Iterable[WeightUse]) -> dict[str, Any]:
    verdict = s.verdict
    return {
        "id": s.id,
        "plugin": s.plugin,
        "rule": s.finding.rule,
        "subject": s.finding.subject,
        "sheet": s.finding.sheet,
        "state": s.state,
        "why": s.why,
        "grade": s.grade or "unknown",
        "accept": s.accept,
        "borderline": s.borderline,
        "text": s.finding.text or s.finding.unknown,
        "readings": [{**used._asdict(), "unit": unit_of(used.unit)} for used in s.finding.readings],
        "limit": None
        if verdict is None or not verdict.limit
        else {
            "id": verdict.limit,
            "value": verdict.value,
            "unit": unit_of(verdict.unit),
            "origin": verdict.origin,
            "needed_u": verdict.needed_u,
        },
        "p_beyond": s.p_beyond,
        "weights": list(weights),
        "set_aside": s.set_aside,
    }


def _risk(risk: Risk, weights: Mapping[str, list[WeightUse]]) -> dict[str, Any]:
    key = risk.cause, risk.subject
    own = {s.id: [w for w in weights.get(s.id, ()) if (w.cause, w.subject) == key] for s in risk.findings}
    return {
        "id": risk.id,
        "cause": risk.cause,
        "subject": risk.subject,
        "text": risk.text,
        "level": risk.level,
        "probability_level": risk.probability_level,
        "severity": risk.severity,
        "person": risk.person,
        "probability": risk.probability,
        "share": dict(risk.share),
        "active": risk.active,
        "failure_probability": risk.failure_probability,
        "left_alone": risk.left_alone,
        "added_by_plan": risk.added_by_plan,
        "expected_loss": risk.expected_loss,
        "hazard": {"class": risk.hazard, "h0": risk.h0, "m": risk.exponent, "r": risk.ratio, "h_plan": risk.h_plan},
        "driver": risk.driver,
        "capacity": risk.capacity,
        "origin": risk.origin,
        "findings": [_finding(s, own[s.id]) for s in risk.findings],
        "set_aside": risk.set_aside,
        "conflicting": risk.conflicting,
        "remedy": risk.remedy,
        "retest": risk.retest,
    }


def _ceiling(view: CeilingView, r: Register) -> dict[str, Any]:
    ceiling = view.ceiling
    quantity = r.catalogue.quantities.get(ceiling.quantity)
    curve = hasattr(ceiling.value, "speeds")
    finding = ceiling.finding
    return {
        "id": view.id,
        "plugin": view.plugin,
        "quantity": ceiling.quantity,
        "value": None if curve else ceiling.value,
        "curve": {"speed": ceiling.value.speeds, "value": ceiling.value.values, "speed_unit": "rev/s"}
        if curve
        else None,
        "unit": _ceiling_unit(ceiling, quantity),
        "kind": ceiling.kind,
        "origin": ceiling.origin,
        "reason": ceiling.reason,
        "until": ceiling.until,
        "finding": f"{finding[0]}{f'@{finding[1]}' if finding[1] else ''}#{finding[2]}" if finding else None,
        "torque": {
            "speed": r.allowed.speeds,
            "speed_unit": "rev/s",
            "value": view.torque,
            "unit": "N m",
            "unknown_at": [i for i, torque in enumerate(view.torque) if torque is None],
        },
        "note": view.why,
    }


def _ceiling_unit(ceiling: Ceiling, quantity: Quantity | None) -> str:
    if isinstance(ceiling.value, str):
        return ""
    if quantity is not None:
        return unit_of(quantity.kind)
    return "" if ceiling.quantity else "N m"


def _allowed(r: Register) -> dict[str, Any]:
    a = r.allowed
    return {
        "speed": a.speeds,
        "speed_unit": "rev/s",
        "torque": a.torque,
        "plan": a.plan,
        "base": a.base,
        "unit": "N m",
        "binding": a.binding,
        "in_words": a.in_words,
    }


def _step(step: LiftStep) -> dict[str, Any]:
    return {
        "until": step.until,
        "text": step.text,
        "lifts": step.lifts,
        "gained": step.gained,
        "unit": "N m",
        "speed": step.allowed.speeds,
        "speed_unit": "rev/s",
        "worst": step.worst,
        "best": step.best,
        "next_binding": step.next_binding,
        "minutes": step.minutes,
        "gain": {**step.allowed.gain._asdict(), "unit": "1", "speed_unit": "rev/s"},
    }


def _gap(gap: Gap, r: Register) -> dict[str, Any]:
    ceiling = next((v.id for v in r.ceilings if gap.id in (v.ceiling.row, v.ceiling.until)), None)
    return {
        "id": gap.id,
        "section": gap.section,
        "required": gap.required,
        "text": gap.text,
        "test": gap.test,
        "subject": gap.subject,
        "write": gap.write,
        "ceiling": ceiling,
    }


def _demand(r: Register) -> dict[str, Any] | None:
    d = r.demand
    if d is None:
        return None
    return {
        "supplier": r.demand_by,
        "speed": d.speeds,
        "speed_unit": "rev/s",
        "torque": d.torque,
        "plan": d.plan,
        "base": d.base,
        "standard": d.standard,
        "torque_unit": "N m",
        "base_source": d.base_source,
        "basis": d.basis,
        "quantities": {
            id: {
                "unit": unit_of(r.catalogue.quantities[id].kind) if id in r.catalogue.quantities else "",
                **band._asdict(),
            }
            for id, band in d.quantities.items()
        },
    }
