"""Where the air of a leak-down goes, and whether the leak explains the reading on the gauge."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Weight, decibans, p_below
from loadworthy_plugins.compression.cranking import consistency, reading_ratio
from loadworthy_plugins.compression.patterns import neighbours
from loadworthy_plugins.compression.results import bands, finding, pair_subject, percent, seen, step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Finding, Grade, Limits
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.leak import LeakPlace, LeakSet
    from loadworthy_plugins.compression.session import Session

#: Loss with which air at intake and exhaust together means: not at top dead centre, or on the overlap (judgement).
_BOTH_VALVES_LOSS = 0.5
#: Deficit with which air at the oil filler points at the piston (judgement).
_VERY_LOW = 0.30
#: The leak explains the reading within this of one; below 0.90 it does not (judgement).
_EXPLAINED, _NOT_EXPLAINED, _DOUBTFUL = 0.07, 0.90, 1.10


def escape_rules(leak: LeakSet, dry: DrySet | None, session: Session) -> Iterator[Finding]:
    """Judge what was heard at every cylinder, and put each leak beside the reading on the gauge."""
    for place in leak.places:
        if place.listened:
            yield from _valves(leak, place, dry, session.limits)
            yield _oil_filler(leak, place, dry, session.limits)
            yield _coolant(leak, place)
            yield _outside(leak, place)
            yield from _neighbours(leak, place)
    if dry is not None:
        yield from _consistency(leak, dry, session.limits)


def overlap_suspected(leak: LeakSet, place: LeakPlace) -> bool:
    """Tell whether much air at both valves points at the wrong crank position rather than at the valves."""
    both = {"intake", "exhaust"} <= place.escapes
    return both and leak.sheet.get("leak_tdc_held") is not True and (place.share or 1.0) >= _BOTH_VALVES_LOSS


def _matters(leak: LeakSet, place: LeakPlace, dry: DrySet | None, limits: Limits) -> bool:
    """Tell whether an audible escape is more than a hiss: low reading, large leak, or much more than the best."""
    if place.unresolved:
        return True
    read = dry.place(place.cylinder) if dry is not None else None
    if read is not None and read.deficit >= limits["compression.deficit_watch"].number:
        return True
    if place.lost is not None and place.lost >= limits["compression.leak_area_watch"].number:
        return True
    return leak.over_best(place) > limits["compression.leak_valve_audible"].number


def _valves(leak: LeakSet, place: LeakPlace, dry: DrySet | None, limits: Limits) -> Iterator[Finding]:
    overlap = overlap_suspected(leak, place)
    grade: Grade = "fix_first" if _matters(leak, place, dry, limits) else "watch"
    for where in ("intake", "exhaust"):
        heard = where in place.escapes
        yield finding(
            f"escape_{where}",
            leak.sheet,
            leak.engine.subject(place.cylinder),
            verdicts=seen(heard, grade),
            text=(f"air at the {where}" if heard else f"no air at the {where}")
            + (": turn the crank one revolution and measure again before condemning valves" if overlap else ""),
            bands=bands(heard=float(heard and not overlap)),
            max_grade="watch" if overlap else None,
            clears=leak.conditions.clear,
        )


def _oil_filler(leak: LeakSet, place: LeakPlace, dry: DrySet | None, limits: Limits) -> Finding:
    heard = "oil_filler" in place.escapes
    more = place.unresolved or leak.over_best(place) > limits["compression.leak_valve_audible"].number
    if place.lost is not None:
        more = more or place.lost >= limits["compression.leak_area_watch"].number
    normal = place.share is not None and place.share <= limits["compression.leak_only_rings_heard"].number
    read = dry.place(place.cylinder) if dry is not None else None
    band = "heard_and_very_low" if read is not None and read.deficit > _VERY_LOW else "heard"
    text = "no air at the oil filler"
    if heard:
        text = "more air at the oil filler than from its peers" if more else "air at the oil filler"
        text += ": normal, every engine leaks a little there" if normal and not more else ""
    return finding(
        "escape_oil_filler",
        leak.sheet,
        leak.engine.subject(place.cylinder),
        verdicts=seen(heard, "watch" if more else "note"),
        text=text,
        bands=bands(**{band: float(heard and more)}),
        clears=leak.conditions.clear,
    )


def _coolant(leak: LeakSet, place: LeakPlace) -> Finding:
    heard = "coolant" in place.escapes
    return finding(
        "escape_coolant",
        leak.sheet,
        leak.engine.subject(place.cylinder),
        verdicts=seen(heard, "stop"),
        text="bubbles in the coolant" if heard else "no bubbles in the coolant at held pressure",
        bands=bands(heard=float(heard), none=float(not heard)),
        clears=leak.conditions.clear,
    )


def _outside(leak: LeakSet, place: LeakPlace) -> Finding:
    """Report air at the outside: it left through a seat or through the tester, and counts as leak all the same."""
    heard = "outside" in place.escapes
    return finding(
        "escape_outside",
        leak.sheet,
        leak.engine.subject(place.cylinder),
        verdicts=seen(heard, "watch"),
        text="air at the outside: seat of plug or injector, a crack, or the tester's own joint; soap it, measure again"
        if heard
        else "no air at the outside",
        clears=leak.conditions.clear,
    )


def _neighbours(leak: LeakSet, place: LeakPlace) -> Iterator[Finding]:
    """Report air at another plug hole: the gasket between neighbours in metal, else the numbers are doubtful."""
    n = place.cylinder
    adjacent = {a + b - n for a, b in neighbours(leak.engine.banks) if n in (a, b)}
    weights = tuple(
        Weight("head-gasket-between-cylinders", pair_subject(n, other), decibans(25.0), "leak_down")
        for other in place.neighbours
        if other in adjacent or not leak.engine.banks
    )
    heard = bool(place.neighbours)
    where = ", ".join(str(other) for other in place.neighbours)
    odd = heard and leak.engine.banks and not adjacent & set(place.neighbours)
    yield finding(
        "escape_neighbour",
        leak.sheet,
        leak.engine.subject(n),
        verdicts=seen(heard, "stop"),
        text=(f"air at the plug hole of cylinder {where}" if heard else "no air at a neighbour's plug hole")
        + (": no wall in common, check the numbers" if odd else ""),
        weights=weights,
        clears=leak.conditions.clear,
    )


def _consistency(leak: LeakSet, dry: DrySet, limits: Limits) -> Iterator[Finding]:
    """Put each reading beside what its leak explains."""
    if leak.stroke is None or not leak.jet.known or dry.balance is None or not dry.balance.group.members:
        return
    members = [dry.places[i].cylinder for i in dry.balance.group.members]
    peers = [(p.area, p.cylinder) for p in leak.places if p.area is not None and p.cylinder in members]
    if not peers:
        return
    area, reference = min(peers)
    base = dry.place(reference)
    if area is None or base is None or base.reading <= 0.0:
        return
    base_ratio = reading_ratio(leak.stroke, area)
    for place in leak.places:
        read = dry.place(place.cylinder)
        if place.area is None or read is None or place.cylinder == reference:
            continue
        q = consistency(read.reading, base.reading, reading_ratio(leak.stroke, place.area), base_ratio)
        u = (2.0 * dry.repeats.value**2 + place.u_lost**2) ** 0.5
        p = p_below(q, u, _NOT_EXPLAINED) if read.low and q < _NOT_EXPLAINED else 0.0
        peer = place.lost is not None and place.lost < limits["compression.leak_area_watch"].number
        explained = abs(q - 1.0) <= _EXPLAINED and leak.clears
        word = "the leak explains the reading" if explained else "leak and reading differ little"
        if q < _NOT_EXPLAINED:
            word = "low for a reason that does not leak" if read.low else "reading low beside its leak"
        elif q > _DOUBTFUL:
            word = "reads better than its leak allows: not at top dead centre, a flake on a valve, cold, or ring gaps"
        yield finding(
            "consistency",
            leak.sheet,
            leak.engine.subject(place.cylinder),
            verdicts=seen(p >= 0.5, "fix_first"),
            text=f"{percent(q)} of what its leak leaves: {word}",
            bands=bands(low_without_leak=p, explained=(1.0 - p) if explained else 0.0)
            or bands(tight_but_low=float(peer and leak.clears and read.low)),
            steps=(
                *step("reading over that of the tightest of the group", read.reading / base.reading, "1"),
                *step("ratio that its leak explains", reading_ratio(leak.stroke, place.area) / base_ratio, "1"),
                *step("q", q, "1", "reading / explained"),
            ),
            clears=leak.clears and dry.comparable,
        )
