"""Derivation of what is allowed: outcome, plan class, demand over speed, ceilings and their conversion to torque."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from loadworthy.case import Curve
from loadworthy.loads import demanded
from loadworthy.outputs.page import columns, sentence, wrap
from loadworthy.outputs.why_risk import DIGITS, number, steps
from loadworthy.outputs.words import figure, spread

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.conclusions import CeilingView
    from loadworthy.findings import Band, Demand
    from loadworthy.outputs.view import View

_RULES = {
    "hold": "any stop; a high risk to persons with a finding at fix first or above; or faults that leave no gain at "
    "any speed",
    "incomplete": "required evidence is missing and not waived, a check failed, or plan, today's torque or demand "
    "cannot be computed",
    "limited": "less than the plan is allowed somewhere; anything to be repaired first or accepted; a waiver in force; "
    "a verdict changed by a looser limit or a review; an active risk at serious or above",
    "clear": "none of these",
}


def outcome(view: View) -> Iterator[str]:
    """Yield the rules of the outcome and every fact, with what it forces."""
    decision = view.register.decision
    kind = f", {decision.kind}" if decision.kind else ""
    yield from wrap(f"Outcome {decision.outcome}{kind}: the worst that any fact forces (method, section 9)")
    for name, rule in _RULES.items():
        yield from wrap(rule, f"  {name:<12}", " " * 14)
    yield ""
    yield "Facts"
    for fact in decision.reasons:
        about = f" [{view.id(fact.id)}]" if fact.id else ""
        change = f" Changes with: {view.change(fact.change)}." if fact.change else ""
        yield from wrap(f"{sentence(view.fact(fact, brief=False))}{change}{about}", f"  {fact.outcome:<12}", " " * 14)
    yield from _evidence(view)


def _evidence(view: View) -> Iterator[str]:
    r = view.register
    if not r.rows:
        return
    yield ""
    yield from wrap(f"Evidence asked for by a plan of class {r.plan_class} (R required, A advised, - not asked)")
    for row in r.rows:
        why = f": {row.why}" if row.why else ""
        yield from wrap(f"{row.text}: {row.state.replace('_', ' ')}{why} [{row.id}]", f"  {row.level}  ", "     ")


def plan_class(view: View) -> Iterator[str]:
    """Yield the class of the plan, its ratio and bounds, and the reasons."""
    r = view.register
    ratio = "unknown" if r.plan_ratio is None else number(r.plan_ratio)
    yield from wrap(f"Plan class {r.plan_class}: decides which evidence is required (method, section 8)")
    yield from wrap(
        f"largest ratio of planned to today's torque, where today's is above 20 % of its peak: {ratio}", "  "
    )
    yield "  none to 1.02, mild to 1.15, strong to 1.35, extreme above (judgement)"
    for reason in r.plan_class_why:
        yield from wrap(reason, "  - ", "    ")


def demand(view: View) -> Iterator[str]:
    """Yield every demanded quantity over speed, at the plan and as it is today, and all assumptions."""
    r = view.register
    table = r.demand
    if table is None:
        yield from wrap("There is no demand: plan and vehicle do not say enough to compute it")
    else:
        source = table.base_source or "unknown"
        yield from wrap(f"Demand by {r.demand_by or 'nobody'}, basis {table.basis}; today's torque from {source}")
        yield from wrap("low, nominal and high at the planned torque, two standard uncertainties each way", "  ")
        for id in sorted(table.quantities):
            yield from _quantity(view, table, id, table.quantities[id])
    if r.assumptions:
        yield ""
        yield "Assumptions"
    for one in r.assumptions:
        u = "" if one.u is None else f", u {spread(one.u, one.unit, view.system)}"
        why = f": {one.why}" if one.why else ""
        yield from wrap(
            f"{one.what} = {view.shown(one.value, one.unit, DIGITS)}{u}{why} ({one.origin})", "  - ", "    "
        )


def _quantity(view: View, table: Demand, id: str, band: Band) -> Iterator[str]:
    quantities = view.register.catalogue.quantities
    declared = quantities.get(id)
    kind = declared.kind if declared is not None else ""
    yield ""
    yield from wrap(f"{declared.text if declared else 'declared by no installed plugin'} [{id}]")
    rows: list[tuple[str, ...]] = [("speed", "torque", "low", "nominal", "high", "today")]
    for i, speed in enumerate(table.speeds):
        planned = demanded(table, id, i, table.plan[i], quantities)
        today = demanded(table, id, i, table.base[i], quantities) if table.base is not None else None
        cells = [view.shown(x, kind, 4) for x in planned] if planned is not None else ["unknown"] * 3
        rows.append(
            (
                view.shown(speed, "rotation"),
                view.torque(table.plan[i]),
                *cells,
                view.shown(today.nominal, kind, 4) if today is not None else "unknown",
            )
        )
    yield from columns(rows, right=(0, 1, 2, 3, 4, 5))


def allowed(view: View) -> Iterator[str]:
    """Yield the allowed torque at every speed, the usable gain and the steps that lift it."""
    r = view.register
    a = r.allowed
    yield from wrap("Allowed torque: the least that all hard ceilings allow at each speed (method, section 7)")
    if not a.speeds:
        yield "  no speeds: plan or demand is unknown"
    rows = [("speed", "today", "planned", "allowed", "gain", "what binds")]
    for i, speed in enumerate(a.speeds):
        gain = a.gain.values[i]
        rows.append(
            (
                view.shown(speed, "rotation"),
                view.torque(a.base[i]) if a.base is not None else "unknown",
                view.torque(a.plan[i]),
                "no cut" if a.torque[i] == inf else view.torque(a.torque[i]),
                "?" if gain is None else figure(gain, 3),
                a.binding[i],
            )
        )
    if a.speeds:
        yield from columns(rows, right=(0, 1, 2, 3, 4))
    if a.in_words:
        yield from wrap(f"known only in words, so that less may be allowed: {', '.join(a.in_words)}", "  ", "    ")
    yield from wrap("gain = (allowed - today)/(planned - today), 0 to 1; 1 where the plan is allowed", "  ", "    ")
    if a.gain.mean is not None and a.gain.lowest is not None:
        text = f"lowest {number(a.gain.lowest)}, mean over speed {number(a.gain.mean)} (trapezoid)"
        yield from wrap(text, "  ")
    yield from _ladder(view)


def _ladder(view: View) -> Iterator[str]:
    ladder = view.register.ladder
    if ladder.steps or ladder.blocked_by:
        yield ""
        yield from wrap(
            "What lifts it: of what binds where less than the plan is allowed, the ceiling at the smallest gain first, "
            "with everything that the same test or row lifts"
        )
    for order, step in enumerate(ladder.steps, 1):
        yield from wrap(f"{step.text} [{step.until}] lifts {', '.join(step.lifts)}", f"  {order}  ", "     ")
        gained = [
            f"{view.shown(n, 'rotation')} {view.torque(t)}"
            for n, t in zip(step.allowed.speeds, step.gained, strict=True)
            if t is not None
        ]
        if gained:
            yield from wrap(f"gains {', '.join(gained)}", "     ")
        gain = step.allowed.gain
        if gain.mean is not None and gain.lowest is not None:
            yield from wrap(f"usable gain then: lowest {number(gain.lowest)}, mean {number(gain.mean)}", "     ")
    if ladder.blocked_by:
        yield from wrap(f"nothing lifts {', '.join(ladder.blocked_by)}", "  ", "    ")


def ceiling(view: View, one: CeilingView) -> Iterator[str]:
    """Yield a ceiling: value, reason, what lifts it, and its conversion to torque at each speed."""
    given = one.ceiling
    yield from wrap(f"Ceiling {one.id}: {view.prose(given.reason)}")
    yield from wrap(f"{given.kind}, because of a {given.origin}; set by {one.plugin}", "  ", "    ")
    yield from wrap(f"value: {_value(view, one)}", "  ", "    ")
    if given.until:
        yield from wrap(f"until {view.tests((given.until,))} [{given.until}]", "  ", "    ")
    else:
        yield "  nothing lifts it"
    if given.finding is not None:
        rule, subject, sheet = given.finding
        id = f"{rule}{f'@{subject}' if subject else ''}#{sheet}"
        yield from wrap(f"stands as long as its finding [{view.id(id)}]", "  ", "    ")
    if given.row:
        yield from wrap(f"stands as long as this row of required evidence is unproven [{given.row}]", "  ", "    ")
    if given.basis == "demonstrated":
        yield from wrap("taken from what was demonstrated, so never below today's torque", "  ", "    ")
    if one.why:
        yield from wrap(f"holds torque as received where it cannot be converted: {one.why}", "  ", "    ")
    yield from _conversion(view, one)
    if given.steps:
        yield ""
        yield "Steps"
        yield from steps(view, given.steps)


def _kind(view: View, one: CeilingView) -> str:
    quantity = view.register.catalogue.quantities.get(one.ceiling.quantity)
    if quantity is not None:
        return str(quantity.kind)
    return "" if one.ceiling.quantity else "torque"


def _value(view: View, one: CeilingView) -> str:
    value = one.ceiling.value
    quantity = view.register.catalogue.quantities.get(one.ceiling.quantity)
    what = quantity.text if quantity is not None else one.ceiling.quantity or "torque"
    if value == "as_received":
        return "torque as received, that is today's torque at each speed"
    if value == "standard":
        return "the maker's standard torque at each speed"
    if isinstance(value, Curve):
        points = ", ".join(
            f"{view.shown(n, 'rotation')} {view.shown(x, _kind(view, one), 4)}"
            for n, x in zip(value.speeds, value.values, strict=True)
        )
        return f"{what} over speed: {points}; beyond its ends: {one.ceiling.outside.replace('_', ' ')}"
    return f"{what} {view.shown(value, _kind(view, one), DIGITS)}"


def _conversion(view: View, one: CeilingView) -> Iterator[str]:
    table = view.register.demand
    if table is None or not one.torque:
        yield "  not converted to torque: there is no demand"
        return
    yield ""
    yield from wrap(
        "Torque at each speed: the largest up to which the high edge of demand stays within the ceiling, linear "
        "between load steps; 0 below the lowest step, no cut above the highest (method, section 7)"
    )
    rows = [("speed", "torque", "planned", "high demand at the plan")]
    kind = _kind(view, one)
    for i, torque in enumerate(one.torque):
        at_plan = demanded(table, one.ceiling.quantity, i, table.plan[i], view.register.catalogue.quantities)
        words = "unknown" if torque is None else "no cut" if torque == inf else view.torque(torque)
        if i in one.as_received:
            words += " as received"
        high = view.shown(at_plan.high, kind, 4) if at_plan is not None else ""
        rows.append((view.shown(table.speeds[i], "rotation"), words, view.torque(table.plan[i]), high))
    yield from columns(rows, right=(0, 1, 2))
