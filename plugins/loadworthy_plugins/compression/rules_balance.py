"""Rules on dry readings, cylinder by cylinder: balance, mirror, majority, maker's minimum, high readings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Symptom, p_above
from loadworthy_plugins.compression.engine import band_closing
from loadworthy_plugins.compression.geometry import reading_band
from loadworthy_plugins.compression.results import (
    ID,
    at_least,
    bands,
    finding,
    percent,
    seen,
    step,
    used,
    within_scatter,
)
from loadworthy_plugins.compression.rules_pattern import one_cylinder_candidates, rise_of_all, together
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Finding, Grade, Limits, ResolvedLimit, Result, Verdict
    from loadworthy_plugins.compression.dry import DrySet, Place
    from loadworthy_plugins.compression.leak import LeakSet
    from loadworthy_plugins.compression.session import Session

#: Probability that the readings above the group are the sound ones, where nothing else is known (judgement).
_ONE_OF_TWO_VIEWS = 0.5
_REFERENCES = {
    "group": "the median of the cylinders that agree",
    "highest": "the highest reading",
    "record": "this engine's own record",
    "spec_nominal": "the maker's nominal value",
    "spec_min": "the maker's minimum",
}


def balance_rules(dry: DrySet, leak: LeakSet | None, session: Session) -> Iterator[Result]:
    """Judge every cylinder of one session against the reference, high and low, and against the maker's minimum."""
    limits = session.limits
    at_spec = dry.at_spec and not dry.low and not dry.high and not session.sound(dry, leak)
    at_spec = at_spec and not clears_on_balance(dry, limits)
    for place in dry.places:
        yield _balance(dry, place, limits, at_spec, _ring_leakage(dry, leak))
        if place.low and place.cylinder not in together(dry):
            yield Symptom(
                "compression-low-one-cylinder",
                ID + "balance",
                dry.sheet.id,
                place.p_low,
                dry.engine.subject(place.cylinder),
                candidates=one_cylinder_candidates(dry.engine, place.cylinder),
            )
        absolute = _absolute(dry, place, limits)
        if absolute is not None:
            yield absolute
        yield from _single_high(dry, place, limits)
    for missing in dry.missing:
        yield finding("balance", dry.sheet, dry.engine.subject(missing), unknown="no reading of this cylinder")
    if dry.balance is not None:
        yield _mirror(dry, limits)
        yield from _mirrored_symptoms(dry, limits)
        yield _majority(dry, leak)


def clears_on_balance(dry: DrySet, limits: Limits) -> str:
    """Return why even readings clear nothing; empty where they do.

    A group clears its members when something known from elsewhere confirms it, or when the whole set is even and lies
    inside the band that the engine's geometry allows.
    """
    if not dry.comparable:
        steady = "the readings drift with the order of taking" if dry.drift and dry.drift.drifting else ""
        scatter = "" if dry.repeats.comparable else "repeats scatter too much"
        copied = "all readings identical and not confirmed" if dry.copied else ""
        return "; ".join(filter(None, (dry.conditions.words, steady, scatter, copied)))
    rise = rise_of_all(dry)
    if dry.engine.flag("oil_use_high") and (rise is None or rise[0] > 0.0):
        return "oil in the bores raises the readings and hides worn rings"
    known = dry.sound_value is not None or dry.known.spec_min is not None
    if dry.balance is None:
        return "" if known else "no maker's figure and no record to compare with"
    if not dry.balance.group.members:
        return "no two readings agree"
    mirror = dry.balance.mirror
    whole = len(dry.balance.group.members) == len(dry.places) == dry.engine.cylinders
    if mirror is not None and not dry.mirror_own:
        deepest = max(d.deficit for d in mirror.deviations)
        if not dry.balance.identifiable or deepest >= limits["compression.deficit_stop"].number:
            return "the readings above the group may be the sound ones"
    if known:
        return ""
    if not dry.balance.identifiable and not whole:
        return "the set cannot tell low from high: maker's figure, record or leak-down needed"
    return _outside_band(dry)


def _outside_band(dry: DrySet) -> str:
    """Return why the level of the set is not believed without a maker's figure; empty inside the geometric band."""
    engine = dry.engine
    if engine.cylinder is None or dry.air is None or dry.balance is None:
        return "no maker's minimum, no record, and the geometry is not known"
    dead = engine_dead_volume(dry)
    band = reading_band(engine.cylinder, band_closing(engine), dry.air, dead_volume=dead)
    level = sorted(p.reading for p in dry.places)[len(dry.places) // 2]
    if band.low <= level <= band.high:
        return ""
    side = "below" if level < band.low else "above"
    return f"no maker's minimum, no record, and the level lies {side} what the geometry allows"


def engine_dead_volume(dry: DrySet) -> float:
    """Return the volume between chamber and check valve, m3: with the valve at the gauge the hose belongs to it."""
    found = number(dry.sheet.get("adaptor_dead_volume")) or 0.0
    if dry.sheet.get("check_valve_at_cylinder_end") is False:
        found += number(dry.sheet.get("hose_volume")) or 0.0
    return found


def _ring_leakage(dry: DrySet, leak: LeakSet | None) -> bool:
    """Tell whether an engine not yet run in is evenly low with air at the oil filler: not condemned, run it in."""
    if dry.engine.flag("run_in_complete") is not False or not dry.evenly_low:
        return False
    return leak is not None and any("oil_filler" in p.escapes for p in leak.places)


def _cap(dry: DrySet, place: Place, run_in: bool) -> Grade | None:
    """Return the sharpest grade that the conditions of the test allow; None for any."""
    if place.excused:
        return "watch"
    return "fix_first" if dry.conditions.wrong or run_in else None


def _balance(dry: DrySet, place: Place, limits: Limits, at_spec: bool, run_in: bool) -> Finding:
    watch = at_least(limits["compression.deficit_watch"], place.least)
    verdicts: tuple[Verdict, ...] = (watch.judge(place.deficit, place.spread),)
    if place.low:
        verdicts += tuple(
            limits[f"compression.deficit_{name}"].judge(place.deficit, place.spread) for name in ("fix", "stop")
        )
    else:
        verdicts = (within_scatter(verdicts[0]),)
    against = clears_on_balance(dry, limits)
    alone = place.low and place.cylinder not in together(dry)
    source = dry.balance.reference_from if dry.balance is not None else "highest"
    reference = dry.balance.reference if dry.balance is not None else dry.sound_value or dry.known.spec_min
    if place.mirrored and dry.balance is not None and dry.balance.mirror is not None:
        reference = dry.balance.mirror.reference
    what = "the readings above the group" if place.mirrored else _REFERENCES[source]
    side = "below" if place.deficit >= 0 else "above"
    text = f"{percent(abs(place.deficit))} {side} {what}"
    if place.low:
        beyond = limits["compression.deficit_watch"].judge(place.deficit, place.spread).p_beyond
        text += f"; probability of being low at all {beyond:.2f}"
    if place.excused and place.low:
        text += "; readings fall with the order of taking: measure again"
    return finding(
        "balance",
        dry.sheet,
        dry.engine.subject(place.cylinder),
        verdicts=verdicts,
        text=text + (f"; clears nothing: {against}" if against and not place.low else ""),
        bands=bands(low=place.p_low if alone else 0.0, even_at_spec=1.0 - place.p_low if at_spec else 0.0),
        readings=(used(dry.sheet, "dry_reading", place.reading, place.u, "Pa gauge", str(place.cylinder)),),
        steps=(
            *step("reading at standard atmosphere", place.standard, "Pa gauge", "p_g x 101 325 / p_a"),
            *step("air pressure at the place", dry.air, "Pa absolute"),
            *step("reference", reference, "Pa gauge", what, _source(dry)),
            *step("deficit", place.deficit, "1", "1 - p / p_ref"),
            *step("repeatability of one reading", dry.repeats.value, "1", source="ISO 5725-6:1994; judgement"),
            *step("standard uncertainty of the deficit", place.spread, "1", "s_r sqrt(1 + 1/k)"),
            *step("least deficit beyond the scatter", place.least, "1"),
        ),
        max_grade=_cap(dry, place, run_in),
        clears=not against and not place.refused,
    )


def _absolute(dry: DrySet, place: Place, limits: Limits) -> Finding | None:
    """Judge one reading against the maker's minimum, else against the floor of the trade."""
    limit, grade = _absolute_limit(dry, limits)
    if limit is None:
        return None
    subject = dry.engine.subject(place.cylinder)
    if place.u is None:
        return finding("absolute", dry.sheet, subject, unknown="uncertainty of the gauge not known")
    verdict = limit.judge(place.standard, place.u, grade)
    if place.standard >= limit.number + place.u:
        verdict = within_scatter(verdict)  # a margin of one standard uncertainty of the gauge is enough here
    return finding(
        "absolute",
        dry.sheet,
        subject,
        verdicts=(verdict,),
        text="at standard atmosphere against " + ("the maker's minimum" if limit.origin == "maker" else "the floor"),
        readings=(used(dry.sheet, "dry_reading", place.reading, place.u, "Pa gauge", str(place.cylinder)),),
        steps=(
            *step("reading at standard atmosphere", place.standard, "Pa gauge", "p_g x 101 325 / p_a"),
            *step("air pressure at the place", dry.air, "Pa absolute"),
            *step("least reading", limit.number, "Pa gauge", limit.origin, _source(dry)),
        ),
        max_grade=_cap(dry, place, False),
        clears=dry.comparable and not place.refused,
    )


def _source(dry: DrySet) -> str:
    """Return where the maker's figures stand, as the case says."""
    return dry.engine.word("compression_spec_source")


def _absolute_limit(dry: DrySet, limits: Limits) -> tuple[ResolvedLimit | None, Grade | None]:
    engine = dry.engine
    if dry.known.spec_min is not None:
        return limits["compression.spec_short"].maker(dry.known.spec_min), None
    late = engine.late_closing(limits["compression.late_closing"].number)
    if engine.diesel is None or late or engine.flag("motor_generator_start") or engine.flag("pre_chamber"):
        return None, None
    floor = limits[f"compression.floor_{'diesel' if engine.diesel else 'petrol'}"]
    alone = any(p.standard >= floor.number for p in dry.places)
    return floor, "stop" if alone else "fix_first"


def liquid_excluded(dry: DrySet, cylinder: int) -> bool:
    """Tell whether the borescope found this cylinder dry."""
    found = (dry.sheet.get("borescope") or {}).get(str(cylinder)) or ()
    return ("dry" in found or "clean" in found) and "liquid" not in found


def _single_high(dry: DrySet, place: Place, limits: Limits) -> Iterator[Result]:
    subject = dry.engine.subject(place.cylinder)
    limit = limits["compression.single_high"]
    z_limit = dry.balance.z_limit if dry.balance is not None else 2.5
    verdict = at_least(limit, z_limit * place.spread).judge(place.rise, place.spread)
    if place.high:
        if liquid_excluded(dry, place.cylinder):
            verdict = verdict._replace(grade="watch")
    else:
        verdict = within_scatter(verdict._replace(p_beyond=min(verdict.p_beyond, place.p_high)))
    band = "high_after_standing" if dry.engine.flag("stood_unused") else "high"
    yield finding(
        "single_high",
        dry.sheet,
        subject,
        verdicts=(verdict,),
        text=f"{percent(abs(place.rise))} {'above' if place.rise > 0 else 'below'} median, record and nominal"
        + (": liquid in the cylinder must be excluded" if verdict.grade == "fix_first" and place.high else ""),
        bands=bands(**{band: place.p_high if place.high else 0.0}),
        readings=(used(dry.sheet, "dry_reading", place.reading, place.u, "Pa gauge", str(place.cylinder)),),
        clears=dry.comparable and not place.refused,
    )
    if place.high:
        yield Symptom("compression-high-one-cylinder", ID + "single_high", dry.sheet.id, place.p_high, subject)


def _mirror(dry: DrySet, limits: Limits) -> Finding:
    """Judge the engine by the readings that stand above the group: a crowd of bad cylinders may agree."""
    assert dry.balance is not None
    mirror = dry.balance.mirror
    if mirror is None or dry.mirror_own:
        return finding(
            "mirror", dry.sheet, verdicts=seen(False), text="no reading stands above the group", clears=dry.comparable
        )
    deepest = max(d.deficit for d in mirror.deviations)
    watch = at_least(limits["compression.deficit_watch"], dry.balance.least(0.0, mirror.spread))
    verdicts: tuple[Verdict, ...] = (watch.judge(deepest, mirror.spread),)
    if deepest >= watch.number:
        verdicts += tuple(
            limits[f"compression.deficit_{name}"].judge(deepest, mirror.spread) for name in ("fix", "stop")
        )
    else:
        verdicts = (within_scatter(verdicts[0]),)
    excused = dry.drift is not None and dry.drift.drifting and all(p.excused for p in dry.places)
    return finding(
        "mirror",
        dry.sheet,
        verdicts=verdicts,
        text=f"if the readings above the group are the sound ones, others are {percent(deepest)} low",
        steps=(
            *step("median of the readings above", mirror.reference, "Pa gauge"),
            *step("deepest deficit from it", deepest, "1", "1 - p / p_above"),
            *step("standard uncertainty of the deficit", mirror.spread, "1"),
        ),
        max_grade="watch" if excused else "fix_first" if dry.conditions.wrong else None,
        clears=dry.comparable,
    )


def _mirrored_symptoms(dry: DrySet, limits: Limits) -> Iterator[Symptom]:
    """Suspect the crowd as well as the high reading, each by half: nobody can tell yet which of them is sound."""
    mirror = dry.balance.mirror if dry.balance is not None else None
    if dry.balance is None or mirror is None or dry.mirror_own:
        return
    least = dry.balance.least(limits["compression.deficit_watch"].number, mirror.spread)
    for place, seen_from_above in zip(dry.places, mirror.deviations, strict=True):
        if seen_from_above.deficit >= least and not place.low:
            yield Symptom(
                "compression-low-one-cylinder",
                ID + "mirror",
                dry.sheet.id,
                _ONE_OF_TWO_VIEWS * p_above(seen_from_above.deficit, mirror.spread, least),
                dry.engine.subject(place.cylinder),
                candidates=one_cylinder_candidates(dry.engine, place.cylinder),
                text="low, if the readings above it are the sound ones",
            )


def _majority(dry: DrySet, leak: LeakSet | None) -> Finding:
    """Say where nobody can tell which cylinders are the odd ones."""
    assert dry.balance is not None
    known = dry.sound_value is not None or dry.known.spec_min is not None
    odd = bool(dry.low or dry.high or dry.balance.mirror or not dry.balance.group.members)
    settled = leak is not None and leak.jet.known and not leak.missing
    unresolved = odd and not known and not dry.balance.identifiable and not settled
    return finding(
        "majority",
        dry.sheet,
        verdicts=seen(unresolved, "fix_first"),
        text=(
            "the set cannot tell low from high: maker's figure, record or leak-down needed"
            if unresolved
            else "the group is a majority, or something else decides"
        )
        + ("; a lower set of the same size agrees as well, the higher one is taken" if dry.balance.group.tied else ""),
        clears=dry.comparable,
    )
