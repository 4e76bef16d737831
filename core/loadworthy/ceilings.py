"""Ceilings to torque over speed, the one that binds, and the order in which they can be lifted (method, section 7)."""

from __future__ import annotations

from itertools import pairwise
from math import inf, isfinite
from typing import TYPE_CHECKING

from loadworthy.case import Curve
from loadworthy.conclusions import Allowed, CeilingView, Gain, Ladder, LiftStep, below
from loadworthy.findings import Gap
from loadworthy.loads import exceeds
from loadworthy.record import EMPTY

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.declarations import Quantity, Requirement, WorkshopTest
    from loadworthy.findings import Ceiling, Demand

__all__ = [
    "Allowed",
    "CeilingView",
    "Gain",
    "Ladder",
    "LiftStep",
    "allow",
    "ceiling_id",
    "draw",
    "first_crossing",
    "lift_steps",
    "usable_gain",
]


# Conversion ----------------------------------------------------------------------------------------------------------


def first_crossing(steps: Sequence[float], high: Sequence[float], value: float) -> float:
    """Return the largest torque up to which demand stays at or below ``value``.

    Linear between load ``steps``, first crossing; 0 where the lowest step is already above (no torque is made up
    below it), infinite (no cut) where the highest is not. ``high`` is the upper edge of the demand at the steps.
    Source: method, section 7, row 26 of its check values.

    >>> [first_crossing((250.0, 300.0, 350.0), (200.0, 240.0, 300.0), v) for v in (190.0, 270.0, 300.0)]
    [0.0, 325.0, inf]
    """
    for i, demand in enumerate(high):
        if exceeds(demand, value):
            if i == 0:
                return 0.0
            before = high[i - 1]
            share = max(0.0, value - before) / (demand - before)
            return steps[i - 1] + share * (steps[i] - steps[i - 1])
    return inf


def ceiling_id(plugin: str, ceiling: Ceiling) -> str:
    """Return ``plugin.name[@subject]``."""
    at = f"@{ceiling.subject}" if ceiling.subject else ""
    return f"{plugin}.{ceiling.name}{at}"


def draw(plugin: str, ceiling: Ceiling, demand: Demand | None, quantities: Mapping[str, Quantity]) -> CeilingView:
    """Return the ceiling as torque over the demand's speeds.

    What cannot be converted (no demand, a quantity that the table does not hold, one that falls as torque rises, a
    value that is no number) holds torque as received, with a gap; it is never dropped. Without base it stays words.
    """
    id = ceiling_id(plugin, ceiling)
    if demand is None:
        why = "" if ceiling.value == "as_received" else "there is no demand to convert it with"
        return CeilingView(id, plugin, ceiling, why=why, gap=_gap(id, ceiling, why))
    torque: list[float | None] = []
    received: list[int] = []
    reasons: dict[str, None] = {}
    for i, speed in enumerate(demand.speeds):
        found, why = _torque(ceiling, demand, i, speed, quantities)
        if found is None:
            received.append(i)
            found = demand.base[i] if demand.base is not None else None
            if why:
                reasons[why] = None
        if ceiling.basis == "demonstrated" and found is not None and demand.base is not None:
            found = max(found, demand.base[i])
        torque.append(found)
    why = "; ".join(reasons)
    return CeilingView(id, plugin, ceiling, tuple(torque), tuple(received), why, _gap(id, ceiling, why))


def _gap(id: str, ceiling: Ceiling, why: str) -> Gap | None:
    if not why:
        return None
    text = f"ceiling {id} on {ceiling.quantity} holds torque as received: {why}"
    # An advisory ceiling cuts nothing, so nothing is withheld from judgement.
    return Gap(f"conversion:{id}", text, required=ceiling.kind == "hard", subject=ceiling.subject)


def _torque(
    ceiling: Ceiling, demand: Demand, i: int, speed: float, quantities: Mapping[str, Quantity]
) -> tuple[float | None, str]:
    """Return the torque at one speed, or None for as received and why it is not what was asked (empty: it is)."""
    value = ceiling.value
    if value == "as_received":
        return None, ""
    if value == "standard":
        if demand.standard is None:
            return None, "the standard torque is unknown"
        return demand.standard[i], ""
    if isinstance(value, Curve):
        outside = _outside(ceiling, value, speed)
        if outside is None or outside == inf:
            return outside, ""
        value = outside
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:
        return None, f"{value!r} is no value"
    role = quantities[ceiling.quantity].role if ceiling.quantity in quantities else ""
    if role == "speed":
        return (0.0 if exceeds(speed, value) else inf), ""
    if role == "load" or not ceiling.quantity:
        steps = demand.torque[i]
        return (inf if steps and exceeds(value, steps[-1]) else float(value)), ""
    return _by_table(ceiling.quantity, value, demand, i)


def _outside(ceiling: Ceiling, curve: Curve, speed: float) -> float | None:
    """Return a curve's value at ``speed``; beyond its ends None (as received), its end value or infinity (no cut)."""
    found = curve.at(speed, None)
    if found is not None or not curve.speeds or ceiling.outside == "as_received":
        return found
    if ceiling.outside == "none":
        return inf
    return curve.values[0] if speed < curve.speeds[0] else curve.values[-1]


def _by_table(quantity: str, value: float, demand: Demand, i: int) -> tuple[float | None, str]:
    band = demand.quantities.get(quantity)
    if band is None:
        return None, f"the demand does not hold {quantity or 'its quantity'}"
    steps, high, nominal = demand.torque[i], band.high[i], band.nominal[i]
    if not steps or not all(map(isfinite, (*high, *nominal))):
        return None, f"the demand for {quantity} is unknown at some speeds"
    if any(exceeds(a, b) for a, b in pairwise(nominal)):
        return None, f"{quantity} falls as torque rises at some speeds"
    return first_crossing(steps, high, value), ""


# What is allowed -----------------------------------------------------------------------------------------------------


def usable_gain(allowed: float, plan: float, base: float) -> float:
    """Return the share of the planned rise that is allowed at one speed, 0 to 1.

    1 where the plan is allowed, else 0 where that is no more than base (or the plan asks for no more), else linear.
    Source: method, section 7.

    >>> usable_gain(345.0, 390.0, 300.0), usable_gain(400.0, 390.0, 300.0), usable_gain(0.0, 390.0, 300.0)
    (0.5, 1.0, 0.0)
    """
    if not below(allowed, plan):
        return 1.0
    if not exceeds(allowed, base) or not exceeds(plan, base):
        return 0.0
    return (allowed - base) / (plan - base)


def allow(views: Iterable[CeilingView], demand: Demand | None) -> Allowed:
    """Return the least that all hard ceilings allow at each speed, which binds, and the usable gain."""
    hard = sorted((v for v in views if v.hard), key=lambda v: v.id)
    words = tuple(dict.fromkeys(v.id for v in hard if v.in_words))
    if demand is None:
        return Allowed((), (), (), (), None, Gain((), None, None, ()), words)
    torque, binding = [], []
    for i in range(len(demand.speeds)):
        least, by = inf, ""
        for view in hard:
            here = view.torque[i] if view.torque else None
            if here is not None and here < least:
                least, by = here, view.id
        torque.append(least)
        binding.append(by)
    gain = _gain(torque, demand, known=not words)
    return Allowed(demand.speeds, tuple(torque), tuple(binding), demand.plan, demand.base, gain, words)


def _gain(torque: Sequence[float], demand: Demand, known: bool) -> Gain:
    values: list[float | None] = []
    for i, allowed in enumerate(torque):
        plan = demand.plan[i]
        if demand.base is None:
            values.append(1.0 if known and not below(allowed, plan) else None)
        else:
            values.append(usable_gain(allowed, plan, demand.base[i]) if known else None)
    sure = [g for g in values if g is not None]
    zero = tuple(n for n, g in zip(demand.speeds, values, strict=True) if g == 0.0)
    if not sure or len(sure) < len(values):
        return Gain(tuple(values), None, None, zero)
    return Gain(tuple(values), min(sure), _mean(demand.speeds, sure), zero)


def _mean(speeds: Sequence[float], values: Sequence[float]) -> float:
    """Return the mean over speed by the trapezoidal rule."""
    span = speeds[-1] - speeds[0]
    if span <= 0.0:
        return values[0]
    area = sum((speeds[i] - speeds[i - 1]) * (values[i] + values[i - 1]) / 2.0 for i in range(1, len(values)))
    return min(max(area / span, min(values)), max(values))


# Lifting -------------------------------------------------------------------------------------------------------------


def lift_steps(
    views: Iterable[CeilingView],
    demand: Demand | None,
    tests: Mapping[str, WorkshopTest] = EMPTY,
    rows: Mapping[str, Requirement] = EMPTY,
) -> Ladder:
    """Return in which order ceilings can be lifted, and what cannot be.

    Of the liftable ceilings that bind where less than the plan is allowed, the one at the smallest usable gain (then
    the lowest speed, then id) comes first; everything that the same retest or row lifts goes with it; and so on until
    the plan is reached or nothing that binds can be lifted. A ceiling known only in words binds before all others.
    """
    left = sorted((v for v in views if v.hard), key=lambda v: v.id)
    steps: list[LiftStep] = []
    before = allow(left, demand)
    while True:
        binding = _binding(left, before)
        liftable = sorted((g, i, v.id, v.ceiling.until) for g, i, v in binding if v.ceiling.until)
        if not liftable:
            blocked = tuple(dict.fromkeys(v.id for _, _, v in sorted(binding, key=lambda b: (b[0], b[1], b[2].id))))
            return Ladder(tuple(steps), blocked)
        until = liftable[0][3]
        lifted = [v.id for v in left if v.ceiling.until == until]
        left = [v for v in left if v.ceiling.until != until]
        after = allow(left, demand)
        steps.append(_step(until, lifted, left, before, after, tests, rows))
        before = after


def _binding(views: Sequence[CeilingView], allowed: Allowed) -> list[tuple[float, int, CeilingView]]:
    """Return (gain, index of speed, ceiling) of what binds wherever the plan is not known to be allowed."""
    words = [v for v in views if v.in_words]
    if not allowed.speeds:
        return [(0.0, 0, v) for v in words]
    by_id = {v.id: v for v in reversed(views)}
    out = []
    for i, least in enumerate(allowed.torque):
        unknown = next((v for v in words if v.torque[i] is None), None)
        if unknown is not None:
            out.append((-1.0, i, unknown))
        elif below(least, allowed.plan[i]):
            gain = allowed.gain.values[i]
            # Without base the share of the plan stands in for the gain: only the order depends on it.
            out.append((least / allowed.plan[i] if gain is None else gain, i, by_id[allowed.binding[i]]))
    return out


def _step(
    until: str,
    lifted: Sequence[str],
    left: Sequence[CeilingView],
    before: Allowed,
    after: Allowed,
    tests: Mapping[str, WorkshopTest],
    rows: Mapping[str, Requirement],
) -> LiftStep:
    gained: list[float | None] = []
    for i, plan in enumerate(before.plan):
        if before.in_words or after.in_words:
            gained.append(None)
        else:
            gained.append(min(after.torque[i], plan) - min(before.torque[i], plan))
    known = [(g, before.speeds[i]) for i, g in enumerate(gained) if g is not None and i in before.short_at]
    worst = min(known, key=lambda k: (k[0], k[1]), default=None)
    best = max(known, key=lambda k: (k[0], -k[1]), default=None)
    next_binding = [""] * len(after.speeds)
    for _, i, view in _binding(left, after):
        if after.speeds:
            next_binding[i] = view.id
    row = rows.get(until)
    test = tests.get(row.test if row is not None and until not in tests else until)
    text = row.text if row is not None else test.text if test is not None else until
    return LiftStep(
        until=until,
        text=text,
        lifts=tuple(dict.fromkeys(lifted)),
        gained=tuple(gained),
        worst=None if worst is None else (worst[1], worst[0]),
        best=None if best is None else (best[1], best[0]),
        next_binding=tuple(next_binding),
        allowed=after,
        minutes=test.minutes if test is not None else None,
    )
