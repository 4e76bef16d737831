"""The part of the register about torque over speed: what is allowed, what binds, what lifts it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.conclusions import below
from loadworthy.outputs.page import sentence, thinned
from loadworthy.outputs.words import minutes, percent
from loadworthy.units import display_unit

if TYPE_CHECKING:
    from loadworthy.conclusions import CeilingView, LiftStep
    from loadworthy.outputs.page import Paper
    from loadworthy.outputs.view import View

#: Rows of the table over speed; all of them are in the derivation of ``allowed``.
_ROWS = 12
#: Speeds (rev/min) at multiples of this are printed first.
_ROUND = 500


def torque_part(view: View, paper: Paper) -> None:
    """Write the table of ceilings over speed, the ceilings in words, and the steps that lift them."""
    allowed = view.register.allowed
    if not allowed.speeds:
        paper.part("Ceilings over speed", "no table, plan or demand is unknown")
    else:
        paper.part(f"Ceilings over speed, torque in {display_unit('torque', view.system)} [allowed]")
        _table(view, paper)
        _gain(view, paper)
    _ceilings(view, paper)
    _ladder(view, paper)


def _table(view: View, paper: Paper) -> None:
    allowed = view.register.allowed
    cut = not allowed.carries_plan
    rows = []
    for i in _chosen(view):
        today = view.cell(allowed.base[i], "torque") if allowed.base is not None else "?"
        speed, planned = view.cell(allowed.speeds[i], "rotation"), view.cell(allowed.plan[i], "torque")
        rows.append((speed, today, planned, *((view.allowed(i), _binds(view, i)) if cut else ("",))))
    head = ("rpm", "today", "planned", *(("allowed", "what binds") if cut else ("",)))
    paper.table(head, rows, (0, 1, 2, 3), headed=True)


def _binds(view: View, i: int) -> str:
    unknown = view.unknown_at(i)
    if unknown:
        return unknown[0]
    allowed = view.register.allowed
    return allowed.binding[i] if below(allowed.torque[i], allowed.plan[i]) else ""


def _chosen(view: View) -> list[int]:
    """Return the rows to print: the ends, where another ceiling begins to bind, and round speeds between."""
    speeds = view.register.allowed.speeds
    binding = [_binds(view, i) for i in range(len(speeds))]
    keep = {i for i in range(1, len(speeds)) if binding[i] != binding[i - 1]}
    keep |= {i - 1 for i in keep} | {0, len(speeds) - 1}
    even = {i for i, speed in enumerate(speeds) if abs(speed * 60.0 / _ROUND - round(speed * 60.0 / _ROUND)) < 1e-6}
    if len(keep | even) <= _ROWS:
        return sorted(keep | even)
    return thinned(len(speeds), keep, _ROWS)


def _gain(view: View, paper: Paper) -> None:
    gain, allowed = view.register.allowed.gain, view.register.allowed
    if gain.mean is None or gain.lowest is None:
        text = "How much of the planned gain can be used is not known."
    elif allowed.carries_plan:
        text = "Nothing cuts the plan at any speed."
    elif gain.mean == 0.0:
        text = "None of the planned gain can be used at any speed."
    else:
        worst = f"{percent(gain.lowest)} at the worst speed" if gain.lowest else "none at the worst"
        zero = f" ({len(gain.at_zero)} of {len(allowed.speeds)} speeds)" if gain.at_zero else ""
        text = f"Of the planned gain {percent(gain.mean)} can be used on average, {worst}{zero}."
    paper.paragraph(text)


def _ceilings(view: View, paper: Paper) -> None:
    """Write every ceiling: those that bind with their reason, those behind them, those that are only drawn."""
    ceilings = view.register.ceilings
    bind = {_binds(view, i) for i in range(len(view.register.allowed.speeds))}
    binding = [one for one in ceilings if one.hard and (one.id in bind or one.in_words)]
    behind = [one for one in ceilings if one.hard and one not in binding]
    drawn = [one for one in ceilings if not one.hard]
    for title, group, at_length in (
        ("What binds", binding, True),
        ("Behind it, binding nowhere while that stands", behind, False),
        ("Advisory: drawn, not applied", drawn, True),
    ):
        if group:
            paper.section(title)
        for one in group:
            paper.bullet(f"{_ceiling(view, one, at_length)} [{one.id}]")


def _ceiling(view: View, one: CeilingView, at_length: bool) -> str:
    ceiling = one.ceiling
    words = [_value(view, one)]
    if at_length:
        words.append(view.prose(ceiling.reason))
    if one.why:
        words.append(f"held as received where it cannot be converted: {view.prose(one.why)}")
    words.append(f"until {_until(view, ceiling.until)}" if ceiling.until else "nothing lifts it")
    return sentence("; ".join(words))


def _until(view: View, id: str) -> str:
    """Return the test or the row of required evidence that lifts a ceiling, in words."""
    row = next((row for row in view.register.rows if row.id == id), None)
    return view.tests((id,)) if row is None or id in view.register.catalogue.tests else view.prose(row.text)


def _value(view: View, one: CeilingView) -> str:
    value, quantity = one.ceiling.value, view.register.catalogue.quantities.get(one.ceiling.quantity)
    if isinstance(value, str):
        return "torque as received" if value == "as_received" else f"the {value.replace('_', ' ')} torque"
    # What stands in brackets behind a quantity is for those who compute it.
    what = quantity.text.partition(" (")[0] if quantity is not None else one.ceiling.quantity or "torque"
    if value == 0.0 and what == "torque":
        return "no torque at all"
    unit = quantity.kind if quantity is not None else "" if one.ceiling.quantity else "torque"
    if isinstance(value, (int, float)):
        return f"{what} at most {view.shown(value, unit)}"
    least, most = (view.shown(bound, unit) for bound in (min(value.values), max(value.values)))
    return f"{what} at most {least if least == most else f'{least} to {most} over speed'}"


def _ladder(view: View, paper: Paper) -> None:
    ladder = view.register.ladder
    if ladder.steps:
        paper.part("What lifts the ceilings, in this order")
        for number, step in enumerate(ladder.steps, 1):
            paper.numbered(number, _step(view, step))
    if ladder.blocked_by:
        paper.paragraph(f"Nothing lifts {', '.join(ladder.blocked_by)}.")


def _step(view: View, step: LiftStep) -> str:
    gained = "gain unknown"
    if step.best is not None and step.worst is not None:
        best, worst = (
            f"{view.torque(torque)} at {view.shown(speed, 'rotation')}" for speed, torque in (step.best, step.worst)
        )
        gained = f"gains {best}" if best == worst else f"gains {best}, {worst}"
        if step.best[1] <= 0.0:
            gained = "gains nothing by itself"
    then = dict.fromkeys(id for id in step.next_binding if id)
    next_ = f"then {next(iter(then))} binds" if then else "then nothing binds"
    more = len(step.lifts) - 1
    lifts = f"lifts {step.lifts[0]}{f' and {more} more' if more else ''}"
    return f"{view.prose(step.text)}{minutes(step.minutes)} [{step.until}]: {lifts}; {gained}; {next_}."
