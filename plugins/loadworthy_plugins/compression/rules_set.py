"""Rules on a session of dry readings as a whole: spread, repeats, gauges, drift, first puffs, heat."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import Step
from loadworthy_plugins.compression.balance import ASSUMED_REPEATABILITY, median
from loadworthy_plugins.compression.balance import spread as spread_of
from loadworthy_plugins.compression.dry import cylinder_values, zeroed
from loadworthy_plugins.compression.geometry import effective_ratio, expected_reading, hose_pump_up
from loadworthy_plugins.compression.outliers import supporting
from loadworthy_plugins.compression.results import bands, finding, percent, seen, step, used
from loadworthy_plugins.compression.vehicle import USUAL_FIRST_PUFF
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Finding, Limits, Verdict
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.leak import LeakSet
    from loadworthy_plugins.compression.session import Session

#: 95 % critical difference of two readings in units of repeatability (ISO 5725-6:1994).
_CRITICAL = 2.8


def set_rules(dry: DrySet, leak: LeakSet | None, session: Session) -> Iterator[Finding]:
    """Judge one session as a whole."""
    yield from _spread(dry, session.limits)
    yield from _repeats(dry)
    yield from _second_gauge(dry)
    if dry.drift is not None:
        yield _drift(dry)
    yield from _first_puff(dry)
    yield from _hot_and_cold(dry, session)
    yield from _after_warm_run(dry)
    if leak is not None:
        yield _sound_set(dry, leak, session)


def _spread(dry: DrySet, limits: Limits) -> Iterator[Finding]:
    """Report the trade's rules, which differ; and judge the maker's own greatest difference."""
    values = [place.standard for place in dry.places]
    if len(values) < 2 or max(values) <= 0.0:
        return
    found = spread_of(values)
    u = dry.repeats.value * sqrt(2.0)
    mean = sum(values) / len(values)
    fuel = "diesel" if dry.engine.diesel else "petrol"
    verdicts: tuple[Verdict, ...] = (
        limits["compression.rule_min_over_max_strict"].judge(found.min_over_max, 0.0),
        limits["compression.rule_min_over_max_70"].judge(found.min_over_max, 0.0),
        limits["compression.rule_below_mean"].judge(1.0 - found.min_over_mean, 0.0),
        limits[f"compression.rule_abs_{fuel}"].judge(found.range, 0.0),
    )
    most = dry.engine.value("compression_spec_max_difference")
    if most is not None:
        verdicts += (limits["compression.spec_spread"].maker(most).judge(found.range, u * mean),)
    yield finding(
        "spread",
        dry.sheet,
        verdicts=verdicts,
        text=f"lowest over highest {found.min_over_max:.3f}, spread {percent(found.range_over_mean)} of the mean; "
        "trade rules differ",
        steps=(
            Step("lowest over highest", found.min_over_max, "1"),
            Step("lowest over mean", found.min_over_mean, "1"),
            Step("spread over mean", found.range_over_mean, "1"),
            Step("spread", found.range, "Pa"),
            *_supporting(values),
        ),
        clears=dry.comparable and dry.complete,
    )


def _supporting(values: Sequence[float]) -> tuple[Step, ...]:
    """Return what self-scaled outlier tests say: supporting only, blind to two low ones of four."""
    found = supporting(values)
    if found is None:
        return ()
    return (
        Step("Dixon's ratio (supporting only)", found.dixon, "1", f"critical, two-sided 5 %: {found.dixon_critical}"),
        Step("Grubbs' G (supporting only)", found.grubbs, "1", f"critical, two-sided 5 %: {found.grubbs_critical}"),
    )


def _repeats(dry: DrySet) -> Iterator[Finding]:
    if not dry.pairs:
        return
    apart = [abs(a - b) / ((a + b) / 2.0) for a, b in dry.pairs if a + b > 0.0]
    most = max(apart, default=0.0)
    scatter = most > _CRITICAL * ASSUMED_REPEATABILITY or not dry.repeats.comparable
    yield finding(
        "repeats",
        dry.sheet,
        verdicts=seen(scatter, "watch" if not dry.repeats.comparable else "note"),
        text=f"repeats differ by up to {percent(most)}"
        + ("" if dry.repeats.comparable else ": not comparable, repeat the set"),
        bands=bands(scatter=float(scatter)),
        steps=step("repeatability in use", dry.repeats.value, "1", "sqrt(sum (d/mean)^2 / 2m)", "ISO 5725-6:1994"),
    )


def _second_gauge(dry: DrySet) -> Iterator[Finding]:
    other = cylinder_values(dry.sheet, "second_gauge_reading")
    apart = [
        abs(other[p.cylinder].value / p.reading - 1.0) for p in dry.places if p.cylinder in other and p.reading > 0.0
    ]
    if not apart:
        return
    differs = max(apart) > _CRITICAL * ASSUMED_REPEATABILITY
    yield finding(
        "second_gauge",
        dry.sheet,
        verdicts=seen(differs),
        text=f"two gauges differ by up to {percent(max(apart))}",
        bands=bands(differs=float(differs), agrees=float(not differs)),
    )


def _drift(dry: DrySet) -> Finding:
    assert dry.drift is not None
    drifting = dry.drift.drifting
    return finding(
        "drift",
        dry.sheet,
        verdicts=seen(drifting, "watch"),
        text="readings fall with the order of taking (battery): measure again before any verdict worse than watch"
        if drifting
        else "no trend with the order of taking",
        steps=step("trend per step", dry.drift.per_step if drifting else None, "Pa"),
        clears=dry.conditions.clear,
    )


def _first_puff(dry: DrySet) -> Iterator[Finding]:
    """Compare first puffs between cylinders on the same hose; fewer than three with what the hose's volume gives."""
    first = zeroed(dry.sheet, "first_puff_reading")
    ratios = {p.cylinder: first[p.cylinder] / p.reading for p in dry.places if p.cylinder in first and p.reading > 0.0}
    expected = median(list(ratios.values())) if len(ratios) >= 3 else _by_hose(dry)
    if expected is None:
        return
    for cylinder, ratio in ratios.items():
        odd = not USUAL_FIRST_PUFF[0] <= ratio <= USUAL_FIRST_PUFF[1]
        low = ratio < expected * (1.0 - _CRITICAL * dry.repeats.value * sqrt(2.0))
        yield finding(
            "first_puff",
            dry.sheet,
            dry.engine.subject(cylinder),
            verdicts=seen(low or odd),
            text=f"first stroke {percent(ratio)} of the final value, expected {percent(expected)}"
            + (", usual 50 to 85 %" if odd else ""),
            bands=bands(low=float(low)),
            readings=(used(dry.sheet, "first_puff_reading", first[cylinder], None, "Pa gauge", str(cylinder)),),
            steps=step("by the volume of the hose", _by_hose(dry), "1", "(CR V_c + y V_h)/(V_c + V_h)"),
        )


def _by_hose(dry: DrySet) -> float | None:
    """Return first over final reading for a sound cylinder and this hose behind the check valve; None if unknown."""
    hose, engine = number(dry.sheet.get("hose_volume")), dry.engine
    if hose is None or engine.cylinder is None or engine.closing is None or dry.air is None:
        return None
    if dry.sheet.get("check_valve_at_cylinder_end") is False:
        return None
    ratio = effective_ratio(engine.cylinder, engine.closing[1])
    puff = next(hose_pump_up(ratio, dry.air, engine.cylinder.clearance, hose))
    return puff / expected_reading(ratio, dry.air)


def _hot_and_cold(dry: DrySet, session: Session) -> Iterator[Finding]:
    """Compare a warm session with a cold one of the same engine: clearances close with heat."""
    warm_from = session.limits["compression.least_coolant_temp"].number
    coolant = number(dry.sheet.get("coolant_temp"))
    if coolant is None or coolant < warm_from:
        return
    cold = [
        one
        for one in session.dry
        if (t := number(one.sheet.get("coolant_temp"))) is not None
        and t < warm_from
        and session.belong(one.sheet, dry.sheet)
    ]
    for place in dry.places:
        others = [(one, found) for one in cold if (found := one.place(place.cylinder)) is not None]
        if not others:
            continue
        better = any(
            place.low and place.deficit - found.deficit > _CRITICAL * max(place.spread, found.spread)
            for _, found in others
        )
        yield finding(
            "hot_and_cold",
            dry.sheet,
            dry.engine.subject(place.cylinder),
            verdicts=seen(better),
            text="low when warm, better cold" if better else "warm and cold alike",
            bands=bands(worse_hot=float(better)),
        )


def _after_warm_run(dry: DrySet) -> Iterator[Finding]:
    """Report low cylinders measured again after a warm run: recovery is a result, not a gauge error."""
    for cylinder, word in dry.engine.by_cylinder(dry.sheet.get("after_warm_run")).items():
        if word not in ("recovered", "still_low"):
            continue
        recovered = word == "recovered"
        yield finding(
            "after_warm_run",
            dry.sheet,
            dry.engine.subject(cylinder),
            verdicts=seen(recovered, "watch"),
            text="recovered after a warm run: wash, sticking valve or carbon flake; watch it"
            if recovered
            else "still low after a warm run",
            bands=bands(**{word: 1.0}),
        )


def _sound_set(dry: DrySet, leak: LeakSet, session: Session) -> Finding:
    """Clear wear where everything is even, and every leak is like that of a sound cylinder."""
    sound = session.sound(dry, leak)
    words = (dry.sheet.get("valve_clearance") or {}).values()
    clearances = len(list(words)) == len(dry.places) and all(word == "in_range" for word in words)
    return finding(
        "sound_set",
        dry.sheet,
        verdicts=seen(False),
        text="even, and every cylinder leaks like a sound one; ring lands, rods and a gasket under load are not cleared"
        if sound
        else "not everything is even and tight",
        bands=bands(**{"sound_and_clearances" if clearances else "sound": float(sound)}),
    )
