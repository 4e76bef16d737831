"""Rules on the sender, the filter, the far gallery, and the stages of a regulated pump."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple, Verdict, evolve, format_value, p_above, p_below
from loadworthy_plugins.oil_system.points import ID, allowed_difference
from loadworthy_plugins.oil_system.reference import figure_at
from loadworthy_plugins.oil_system.results import finding, pressure_words
from loadworthy_plugins.shared_results import bands, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Finding
    from loadworthy_plugins.oil_system.held import Held
    from loadworthy_plugins.oil_system.points import Point

#: A logged pressure this near to the air's with the engine off is absolute, Pa (judgement).
_ABSOLUTE = (80e3, 115e3)
#: A drop over the filter below this share of its limit clears the filter; a commanded pressure is reached within this
#: share of it (judgement).
_HALF, _REACHED = 0.5, 0.1


def sender_rules(held: Held) -> Iterator[Finding]:
    """Judge what stands beside the sweep on one sheet."""
    yield from _disagree(held)
    yield from _zero(held)
    yield from _filter(held)
    yield from _gallery(held)
    if held.regulated:
        yield from _stages(held)


def _disagree(held: Held) -> Iterator[Finding]:
    sheet = held.sheet
    gauge, sender = sheet.reading("mechanical_gauge_pressure"), sheet.reading("sender_pressure")
    if gauge is None or sender is None:
        return
    readings = (
        used(sheet, "mechanical_gauge_pressure", gauge.value, gauge.u, "Pa gauge"),
        used(sheet, "sender_pressure", sender.value, sender.u, "Pa gauge"),
    )
    if gauge.u is None or sender.u is None:
        yield finding("sender_disagree", sheet, unknown="uncertainty not known", readings=readings)
        return
    difference = sender.value - gauge.value
    allowed = allowed_difference(gauge.value, held.limits)
    # The limit allows for what both instruments may err: nothing is added to it.
    limit = evolve(held.limits[ID + "sender_disagree"], value=allowed)
    fired = float(abs(difference) > allowed)
    flatters = difference > 0.0
    yield finding(
        "sender_disagree",
        sheet,
        verdicts=(limit.judge(abs(difference), 0.0)._replace(p_beyond=fired),),
        text=f"sender reads {pressure_words(sender.value)} where the gauge reads {pressure_words(gauge.value)}"
        if fired
        else "sender agrees with the gauge",
        bands=bands(
            gauge_low=fired if flatters else 0.0,
            gauge_normal=0.0 if flatters else fired,
            agrees=1.0 - fired,
        ),
        clears=not (gauge.refused or sender.refused),
        readings=readings,
        steps=(*step("difference", difference, "Pa"), *step("allowed", allowed, "Pa")),
    )


def _zero(held: Held) -> Iterator[Finding]:
    off = held.sheet.reading("sender_engine_off")
    if off is None:
        return
    limit = held.limits[ID + "sender_zero"]
    fired = float(abs(off.value) > limit.number)
    text = "sender reads zero with the engine off"
    if fired:
        absolute = _ABSOLUTE[0] <= off.value <= _ABSOLUTE[1]
        text = "sender does not read zero with the engine off" + (": it reads absolute pressure" if absolute else "")
    yield finding(
        "sender_zero",
        held.sheet,
        verdicts=(limit.judge(abs(off.value), 0.0)._replace(p_beyond=fired),),
        text=text,
        names=(("oil-pressure-sender-fault", None),) if fired else (),
        clears=not off.refused,
        readings=(used(held.sheet, "sender_engine_off", off.value, off.u, "Pa gauge"),),
    )


def _filter(held: Held) -> Iterator[Finding]:
    sheet = held.sheet
    before, after = sheet.reading("pressure_before_filter"), sheet.reading("pressure_after_filter")
    if before is None or after is None:
        return
    readings = (
        used(sheet, "pressure_before_filter", before.value, before.u, "Pa gauge"),
        used(sheet, "pressure_after_filter", after.value, after.u, "Pa gauge"),
    )
    if before.u is None or after.u is None:
        yield finding("filter_drop", sheet, unknown="uncertainty not known", readings=readings)
        return
    drop, u = before.value - after.value, (before.u**2 + after.u**2) ** 0.5
    limit = held.limits[ID + "filter_drop_max"]
    verdict = limit.judge(drop, u)
    hot = bool(held.sweep.points) and held.sweep.hot(held.limits)
    # Cold oil only raises the drop, so a drop that is small on cold oil is small on hot oil.
    below = p_below(drop, u, _HALF * limit.number)
    yield finding(
        "filter_drop",
        sheet,
        verdicts=(verdict,),
        text=f"drop over the oil filter {format_value(drop, 'pressure_difference')}"
        + ("" if hot else ", oil not shown to be hot"),
        bands=bands(over=verdict.p_beyond if hot else 0.0, below_half=below),
        max_grade=None if hot else "watch",
        clears=not (before.refused or after.refused),
        readings=readings,
        steps=step("drop", drop, "Pa"),
    )


def _gallery(held: Held) -> Iterator[Finding]:
    sheet = held.sheet
    near, far = sheet.reading("gallery_pressure"), sheet.reading("far_gallery_pressure")
    if near is None or far is None:
        return
    readings = (
        used(sheet, "gallery_pressure", near.value, near.u, "Pa gauge"),
        used(sheet, "far_gallery_pressure", far.value, far.u, "Pa gauge"),
    )
    if near.u is None or far.u is None or near.value <= 0.0:
        yield finding("far_gallery", sheet, unknown="uncertainty not known, or no pressure", readings=readings)
        return
    share = 1.0 - far.value / near.value
    u = (far.u**2 + (far.value / near.value * near.u) ** 2) ** 0.5 / near.value
    limit = held.limits[ID + "gallery_drop_max"]
    verdict = limit.judge(share, u)
    yield finding(
        "far_gallery",
        sheet,
        verdicts=(verdict,),
        text=f"far end of the gallery {pressure_words(far.value)}, gauge point {pressure_words(near.value)}",
        bands=bands(below=verdict.p_beyond, near=1.0 - verdict.p_beyond),
        clears=not (near.refused or far.refused),
        readings=readings,
        steps=step("share lost", share, "1"),
    )


class _Stage(NamedTuple):
    """How probably a point misses its set-point on either side; None where no set-point is known."""

    below: float
    above: float


def _set_point(held: Held, point: Point) -> _Stage | None:
    if point.commanded is not None:
        margin = max(held.limits[ID + "sender_disagree"].number, _REACHED * point.commanded)
        low, high = point.commanded - margin, point.commanded + margin
    else:
        least = figure_at(held.minimum, point.speed, point.stage)
        greatest = figure_at(held.maximum, point.speed, point.stage)
        if least is None and greatest is None:
            return None
        low = least.pressure if least is not None else 0.0
        high = greatest.pressure if greatest is not None else float("inf")
    below = p_below(point.pressure, point.u, low)
    return _Stage(below, p_above(point.pressure, point.u, high) if high != float("inf") else 0.0)


def _stages(held: Held) -> Iterator[Finding]:
    """A regulated pump is held to its command, stage by stage; never to a rule of thumb."""
    by_stage: dict[str, list[_Stage]] = {}
    for point in held.sweep.points:
        if point.stage:
            told = _set_point(held, point)
            if told is not None:
                by_stage.setdefault(point.stage, []).append(told)
    low, high = by_stage.get("low"), by_stage.get("high")
    if low is None and high is None:
        yield finding("stages", held.sheet, unknown="no commanded stage with a maker's figure or a set-point")
        return
    low_below = max((s.below for s in low or ()), default=0.0)
    low_above = max((s.above for s in low or ()), default=0.0)
    high_below = max((s.below for s in high or ()), default=0.0)
    not_reached = high_below * (1.0 - low_below) if low else 0.0
    stuck_high = low_above
    reached = (1.0 - max(low_below, low_above, high_below)) if low and high else 0.0
    text = "commanded stages reached"
    if stuck_high >= 0.5:
        text = "pressure stays high at the low stage: engine safe, economy lost"
    elif high_below >= 0.5:
        text = "high stage commanded and not reached" + (", low stage normal" if low and low_below < 0.5 else "")
    elif not (low and high):
        text = f"only the {'low' if low else 'high'} stage tested"
    fix = Verdict("fix_first", max(high_below, low_below))
    watch = Verdict("watch", stuck_high)
    total = not_reached + stuck_high + reached
    scale = 1.0 / total if total > 1.0 else 1.0
    yield finding(
        "stages",
        held.sheet,
        verdicts=(fix, watch),
        text=text,
        bands=bands(high_not_reached=not_reached * scale, stuck_high=stuck_high * scale, reached=reached * scale),
        clears=bool(low and high) and held.sweep.trusted,
        readings=tuple(used(held.sheet, p.key, p.pressure, p.u, "Pa gauge") for p in held.sweep.points if p.stage),
    )
