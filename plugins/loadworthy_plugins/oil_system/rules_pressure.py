"""Rules on pressure against what is asked for: maker, absolute minimum, trade, own record, physics."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Any

from loadworthy.sdk import NamedTuple, Symptom, evolve, p_below
from loadworthy_plugins.oil_system.asked import covered_by_maker_or_record, figure_for, floor_at, level
from loadworthy_plugins.oil_system.points import ID
from loadworthy_plugins.oil_system.reference import Figure, figure_at
from loadworthy_plugins.oil_system.results import at_speed, finding, most, pressure_words
from loadworthy_plugins.shared_results import step, used

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Finding, Result, Step, Used, Verdict
    from loadworthy_plugins.oil_system.held import Held
    from loadworthy_plugins.oil_system.points import Point
    from loadworthy_plugins.oil_system.reference import Corrected

#: Findings on low pressure that call for the causes of low pressure.
_CALLS = ("maker_min", "absolute_min", "hot_idle", "record_share", "plateau_low")


class Judged(NamedTuple):
    """One point against one figure."""

    point: Point
    verdict: Verdict
    value: float
    u: float
    asked: float
    corrected: Corrected | None = None


def pressure_rules(held: Held) -> Iterator[Result]:
    """Judge one sheet, and name who lowers oil pressure where it is low."""
    for found in pressure_findings(held):
        yield found
        yield from low_symptom(found)


def low_symptom(found: Finding) -> Iterator[Symptom]:
    """Return the symptom of low pressure where a finding shows it."""
    p = most(found.verdicts)
    if found.rule.removeprefix(ID) in _CALLS and p >= 0.05 and not found.unknown:
        yield Symptom(
            "oil-pressure-low-hot", found.rule, found.sheet, p, group="oil pressure", text="oil pressure low when hot"
        )


def pressure_findings(held: Held) -> Iterator[Finding]:
    """Judge one sheet against everything that is asked for."""
    yield from _maker_min(held)
    yield from _maker_max(held)
    yield from _absolute(held)
    yield from _hot_idle(held)
    yield from _record(held)
    yield from _thumb(held)
    yield from _floor(held)


def _worst(found: list[Judged]) -> Judged:
    """Return the point that is most probably beyond; of equal ones the least above what is asked for."""
    return max(found, key=lambda one: (one.verdict.p_beyond, one.asked - one.value, -one.point.speed))


def _stated(held: Held, rule: str, found: list[Judged], text: str, **more: Any) -> Finding:
    """Word what the worst of several points says."""
    worst = _worst(found)
    options: dict[str, Any] = {"clears": not held.why_not_clear(), **more}
    how = "corrected for its oil" if worst.corrected is not None else "as read"
    found_at = f"oil pressure {pressure_words(worst.value)} {at_speed(worst.point.speed)}"
    told = f"{found_at}, {how}: {text} {pressure_words(worst.asked)}"
    return finding(
        rule,
        held.sheet,
        verdicts=(worst.verdict,),
        text=told,
        readings=tuple(_used(held, one) for one in found),
        steps=_steps(worst),
        **options,
    )


def _used(held: Held, one: Judged) -> Used:
    return used(held.sheet, one.point.key, one.point.pressure, one.point.u, "Pa gauge")


def _steps(one: Judged) -> tuple[Step, ...]:
    told = one.corrected
    return (
        *step("engine speed", one.point.speed, "rev/s"),
        *step("asked for", one.asked, "Pa gauge"),
        *step("pressure judged", one.value, "Pa gauge", "p y^2, the lower of two oils" if told else "as read"),
        *(step("with all flow through bearings", told.low, "Pa gauge") if told else ()),
        *(step("with half through orifices", told.high, "Pa gauge") if told else ()),
    )


def _against(held: Held, rule: str, figures: tuple[Figure, ...], factor: float = 1.0) -> list[Judged]:
    limit = held.limits[ID + rule]
    out = []
    for point in held.sweep.points:
        figure = figure_for(held, figures, point)
        if figure is None:
            continue
        told = level(held, point, figure)
        value, u = (point.pressure, point.u) if told is None else (told.pressure, told.u)
        asked = figure.pressure * factor
        verdict = limit.maker(asked).judge(value, u)
        out.append(Judged(point, verdict, value, u, asked, told))
    return out


def _maker_min(held: Held) -> Iterator[Finding]:
    found = _against(held, "oil_p_maker_min", held.minimum)
    if found:
        yield _stated(held, "maker_min", found, "the maker asks for at least")


def _maker_max(held: Held) -> Iterator[Finding]:
    found = _against(held, "oil_p_maker_max", held.maximum)
    if found:
        yield _stated(held, "maker_max", found, "the maker allows at most")


def _absolute(held: Held) -> Iterator[Finding]:
    limit = held.limits[ID + "oil_p_absolute_min"]
    points = held.sweep.points or held.sweep.struck
    found = []
    for point in points:
        if figure_for(held, held.minimum, point) is None:
            verdict = limit.judge(point.pressure, point.u)
            found.append(Judged(point, verdict, point.pressure, point.u, limit.number))
    if not found:
        return
    struck = not held.sweep.points
    text = "no engine may have less than"
    yield _stated(
        held,
        "absolute_min",
        found,
        f"by a sender that failed its test; {text}" if struck else text,
        clears=not struck and not held.why_not_clear(),
    )


def _hot_idle(held: Held) -> Iterator[Finding]:
    idle = held.sweep.idle
    if idle is None or held.regulated or figure_for(held, held.minimum, idle) is not None:
        return
    told = level(held, idle, Figure(idle.speed, 0.0, None, 373.15, "", "trade"))
    value, u = (idle.pressure, idle.u) if told is None else (told.pressure, told.u)
    found = []
    for name in ("oil_p_hot_idle_low_watch", "oil_p_hot_idle_low_fix"):
        limit = held.limits[ID + name]
        found.append(Judged(idle, limit.judge(value, u), value, u, limit.number, told))
    one = _stated(held, "hot_idle", found, "a hot idle has at least", max_grade=held.cap or None)
    yield evolve(one, verdicts=tuple(f.verdict for f in found))


def _record(held: Held) -> Iterator[Finding]:
    """Hold the points that no maker's figure covers to a share of this engine's own record."""
    if held.regulated:
        return
    share = held.limits[ID + "oil_p_history_share"]
    found = []
    for point in held.sweep.points:
        if figure_for(held, held.minimum, point) is not None:
            continue
        figure = figure_at(held.record, point.speed)
        if figure is None:
            continue
        told = level(held, point, figure)
        value, u = (point.pressure, point.u) if told is None else (told.pressure, told.u)
        verdict = share.judge(value / figure.pressure, u / figure.pressure) if figure.pressure > 0.0 else None
        if verdict is not None:
            found.append(Judged(point, verdict, value, u, share.number * figure.pressure, told))
    if found:
        yield _stated(held, "record_share", found, "a share of its own record is")


def _thumb(held: Held) -> Iterator[Finding]:
    """The rule of thumb is for fixed pumps, below the relief valve, and only ever a note."""
    if held.pump != "fixed":
        return
    limit = held.limits[ID + "oil_p_rule_slope"]
    relief = held.relief or inf
    found = []
    for point in held.sweep.points:
        asked = min(limit.number * point.speed, relief)
        p = p_below(point.pressure, point.u, asked)
        verdict = limit.judge(point.pressure / point.speed, point.u / point.speed)._replace(p_beyond=p)
        found.append(Judged(point, verdict, point.pressure, point.u, asked))
    if found:
        yield _stated(held, "rule_of_thumb", found, "rule of thumb, advisory,")


def _floor(held: Held) -> Iterator[Finding]:
    """Oil must reach the axis of the crank against its own rotation; speeds with a maker's figure are his affair."""
    found = []
    limit = held.limits[ID + "oil_p_floor_margin"]
    for point in held.sweep.points:
        asked = floor_at(held, point.speed)
        p = p_below(point.pressure, point.u, asked)
        covered = covered_by_maker_or_record(held, point)
        verdict = held.limits[ID + "oil_p_absolute_min"].maker(asked).judge(point.pressure, point.u)
        verdict = verdict._replace(
            grade="note" if covered else "fix_first", limit=limit.id, p_beyond=p, origin="default"
        )
        found.append(Judged(point, verdict, point.pressure, point.u, asked))
    if found:
        worst = max(found, key=lambda one: (one.verdict.grade != "note" and one.verdict.p_beyond, one.verdict.p_beyond))
        yield _stated(held, "physics_floor", [worst], "the oil reaches the crank axis from")
