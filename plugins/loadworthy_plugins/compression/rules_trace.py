"""The starter current of each compression: it names a weak cylinder to be gauged, and clears none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Advice, Symptom
from loadworthy_plugins.compression.results import ID, finding, percent, step
from loadworthy_plugins.compression.rules_pattern import one_cylinder_candidates
from loadworthy_plugins.compression.trace import Trace, TraceError, analyse, current_like
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Grade, Result, Sheet, Step
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.engine import Engine
    from loadworthy_plugins.compression.session import Session

#: Above this many cylinders the strokes overlap and the figures are ordinal.
_MOST_CYLINDERS = 6
#: Least standard uncertainty of a relative hump (judgement).
_LEAST_U = 0.02
#: The same from battery voltage, a lower signal (judgement).
_LEAST_U_VOLTAGE = 0.04


def trace_rules(sheet: Sheet, session: Session) -> Iterator[Result]:
    """Judge one recording of the starter current, or of the battery voltage where no current was taken."""
    engine = session.engine
    current, voltage = sheet.get("current"), sheet.get("voltage")
    recorded = voltage if current is None else current
    if recorded is None:
        return
    if engine.cylinders is None or engine.flag("uneven_firing") or not engine.covered:
        why = "number of cylinders not known" if engine.cylinders is None else "only even-firing four-stroke engines"
        yield finding("trace", sheet, unknown=why)
        return
    order = firing_order(engine)
    try:
        found = analyse(
            recorded["values"] if current is not None else current_like(recorded["values"]),
            number(recorded["every"]) or 0.0,
            engine.cylinders,
            sync=[t.value for t in sheet.get("sync_times") or ()],
            firing_order=order,
            sync_cylinder=sheet.get("sync_cylinder"),
        )
    except (TraceError, ZeroDivisionError) as error:
        yield finding("trace", sheet, unknown=str(error))
        return
    floor = _LEAST_U if current is not None else _LEAST_U_VOLTAGE
    more = step("recorded", "starter current" if current is not None else "battery voltage, inverted")
    if voltage is not None and voltage["values"]:
        more += step("lowest battery voltage", min(voltage["values"]), "V")
    yield from _judge(sheet, found._replace(u=tuple(max(floor, u) for u in found.u)), session, more)


def firing_order(engine: Engine) -> tuple[int, ...]:
    """Return the firing order; empty where it is not given or does not name every cylinder once."""
    order = tuple(int(n) for n in engine.values.get("firing_order") or ())
    return order if tuple(sorted(order)) == engine.numbers else ()


def _judge(sheet: Sheet, found: Trace, session: Session, more: tuple[Step, ...]) -> Iterator[Result]:
    limit = session.limits["compression.trace_weak"]
    ordinal = len(found.relative) > _MOST_CYLINDERS
    gauge = session.dry_of(sheet)
    even = (limit.judge(found.least_over_most, min(found.u)), found.least_over_most)
    steps = (
        *more,
        *step("cranking speed", found.speed, "rev/s", "2 / (cylinders x period)"),
        *(s for i, m in enumerate(found.relative, 1) for s in step(f"hump {i} over the median", m, "1")),
    )
    if found.cylinders is None:
        weakest = min(range(len(found.relative)), key=found.relative.__getitem__)
        weak = found.relative[weakest] < limit.number
        text = f"humps from {percent(min(found.relative))} to {percent(max(found.relative))} of the median"
        if weak:
            text += f"; weak at position {weakest + 1} after the sync-less start"
        grade: Grade = "note" if ordinal else "fix_first"
        worst = min(found.relative)
        verdicts = (limit.judge(worst, found.u[weakest], grade), even[0]._replace(grade=grade))
        yield finding(
            "trace", sheet, verdicts=verdicts, text=text, steps=steps, max_grade=_cap(gauge, None), clears=False
        )
        if weak and not ordinal:
            yield Symptom("compression-low-one-cylinder", ID + "trace", sheet.id, verdicts[0].p_beyond)
        return
    for position, cylinder in enumerate(found.cylinders):
        yield from _position(sheet, found, position, cylinder, session, gauge, steps)
    yield finding(
        "trace",
        sheet,
        verdicts=(even[0]._replace(grade="note" if ordinal else "fix_first"),),
        text=f"smallest over largest hump {even[1]:.2f}" + (": uneven, gauge all" if even[1] < limit.number else ""),
        steps=steps,
        max_grade=_cap(gauge, None),
        clears=False,
    )


def _cap(gauge: DrySet | None, cylinder: int | None) -> Grade | None:
    """Return ``watch`` where valid gauge readings show the cylinder (or all) even: the verdict was pending."""
    if gauge is None or not gauge.comparable or not gauge.complete:
        return None
    place = gauge.place(cylinder) if cylinder is not None else None
    low = place.low if place is not None else bool(gauge.low)
    return None if low else "watch"


def _position(
    sheet: Sheet,
    found: Trace,
    position: int,
    cylinder: int,
    session: Session,
    gauge: DrySet | None,
    steps: tuple[Step, ...],
) -> Iterator[Result]:
    limit = session.limits["compression.trace_weak"]
    subject = session.engine.subject(cylinder)
    ordinal = len(found.relative) > _MOST_CYLINDERS
    height, u = found.relative[position], found.u[position]
    verdict = limit.judge(height, u, "note" if ordinal else "fix_first")
    weak = height < limit.number
    text = f"hump {percent(height)} of the median"
    if weak and found.followed_by_high(position):
        text += ", the next one high: confirmed"
    cap = _cap(gauge, cylinder)
    yield finding("trace", sheet, subject, verdicts=(verdict,), text=text, max_grade=cap, clears=False)
    if weak and not ordinal:
        yield Symptom(
            "compression-low-one-cylinder",
            ID + "trace",
            sheet.id,
            verdict.p_beyond,
            subject,
            candidates=one_cylinder_candidates(session.engine, cylinder),
        )
    if weak and cap is not None:
        yield Advice(
            "the starter current shows this cylinder weak, the gauge shows it even: check the identity, or one plug "
            "was out",
            subject,
            "dry-compression",
            sheet.id,
        )
