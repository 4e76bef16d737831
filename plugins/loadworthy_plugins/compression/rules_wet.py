"""The wet test: rings or not, where it may be done at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import bands as normal_bands
from loadworthy_plugins.compression.dry import zeroed
from loadworthy_plugins.compression.patterns import neighbours
from loadworthy_plugins.compression.results import bands, finding, pair_subject, percent, seen, step, used
from loadworthy_plugins.compression.wet import Recovery, oil_rise_bound, recovery
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.sdk import Finding
    from loadworthy_plugins.compression.dry import DrySet, Place
    from loadworthy_plugins.compression.leak import LeakSet

#: Share of the deficit recovered above which it is the rings, and below which it is not (judgement).
RINGS_FROM, NOT_RINGS_TO = 0.5, 0.2
#: A control cylinder is low by no more than this (judgement).
CONTROL_WITHIN = 0.05


def barred(dry: DrySet) -> str:
    """Return why a wet test of this engine says nothing; empty where it may be done."""
    engine = dry.engine
    if engine.diesel:
        return "a diesel: the chamber is tiny and oil may fire"
    if engine.flag("pre_chamber"):
        return "a divided chamber holds the oil"
    if engine.word("cylinder_arrangement") in ("flat", "other"):
        return "oil pools on one side of a lying cylinder"
    return ""


def recoveries(dry: DrySet) -> dict[int, Recovery]:
    """Return how much oil recovers of each low cylinder; empty where the test is barred or lacks what it needs."""
    wet = zeroed(dry.sheet, "wet_reading")
    if not wet or barred(dry):
        return {}
    control = _control(dry, wet)
    found = {}
    for place in dry.places:
        if not place.low or place.cylinder not in wet or place.reading <= 0.0:
            continue
        if control is not None:
            reading = wet[control.cylinder]
            found[place.cylinder] = recovery(
                place.reading, wet[place.cylinder], control.reading, reading, dry.repeats.value
            )
            continue
        corrected = _without_oil_volume(dry, wet[place.cylinder])
        sound = place.reading / (1.0 - place.deficit) if place.deficit < 1.0 else None
        if corrected is not None and sound is not None and corrected > place.reading:
            found[place.cylinder] = recovery(place.reading, corrected, sound, sound, dry.repeats.value)
    return found


def _control(dry: DrySet, wet: Mapping[int, float]) -> Place | None:
    """Return the good cylinder that got oil as well: the one nearest the reference."""
    good = [
        p
        for p in dry.places
        if wet.get(p.cylinder, 0.0) > 0.0 and p.reading > 0.0 and abs(p.deficit) < CONTROL_WITHIN and not p.high
    ]
    return min(good, key=lambda p: (abs(p.deficit), p.cylinder), default=None)


def _without_oil_volume(dry: DrySet, wet: float) -> float | None:
    """Return a wet reading less the most that the volume of the oil can raise it; None where that is not known."""
    oil = number(dry.sheet.get("oil_volume"))
    engine = dry.engine
    if oil is None or engine.cylinder is None or engine.closing is None:
        return None
    try:
        return wet / (1.0 + oil_rise_bound(engine.cylinder, engine.closing[1], oil))
    except ValueError:
        return None


def _shares(found: Recovery) -> tuple[float, float, float]:
    """Return the probabilities of (not rings, between, rings)."""
    low, middle, high = normal_bands(found.recovered, found.u, (NOT_RINGS_TO, RINGS_FROM))
    return low, middle, high


def wet_rules(dry: DrySet, leak: LeakSet | None) -> Iterator[Finding]:
    """Judge the wet readings of every low cylinder, and of low neighbours."""
    wet = zeroed(dry.sheet, "wet_reading")
    if not wet:
        return
    why = barred(dry)
    found = recoveries(dry)
    for place in dry.places:
        if place.low and place.cylinder in wet:
            yield from _one(dry, place, wet[place.cylinder], found.get(place.cylinder), why, leak)
    for one, other in neighbours(dry.engine.banks):
        both = [found[n] for n in (one, other) if n in found and found[n].conclusive]
        if len(both) == 2:
            p = min(_shares(r)[0] for r in both)
            yield finding(
                "wet_pair",
                dry.sheet,
                pair_subject(one, other),
                verdicts=seen(p >= 0.5),
                text="oil does not bring the neighbours back" if p >= 0.5 else "oil brings a neighbour back",
                bands=bands(not_rings=p),
            )


def _one(
    dry: DrySet, place: Place, wet: float, found: Recovery | None, why: str, leak: LeakSet | None
) -> Iterator[Finding]:
    subject = dry.engine.subject(place.cylinder)
    if why:
        yield finding("wet", dry.sheet, subject, unknown=f"no wet test on this engine: {why}")
        return
    if found is None:
        yield finding(
            "wet", dry.sheet, subject, unknown="no good cylinder got oil as well, and its volume explains the rise"
        )
        return
    if not found.conclusive:
        yield finding(
            "wet", dry.sheet, subject, unknown="the dry deficit is too small for the recovery to say anything"
        )
        return
    not_rings, between, rings = _shares(found)
    washed = bool(dry.sheet.get("wet_plug_or_long_cranking"))
    band = "rings_and_washed" if washed else "rings"
    word = "the ring path" if found.recovered >= RINGS_FROM else "not the rings"
    if NOT_RINGS_TO < found.recovered < RINGS_FROM:
        word = "inconclusive"
    yield finding(
        "wet",
        dry.sheet,
        subject,
        verdicts=seen(found.recovered >= RINGS_FROM),
        text=f"oil recovers {percent(found.recovered)} of the deficit: {word}",
        bands=bands(**{band: rings, "not_rings": not_rings}),
        readings=(used(dry.sheet, "wet_reading", wet, None, "Pa gauge", str(place.cylinder)),),
        steps=(
            *step("dry deficit against the control", found.dry_deficit, "1", "1 - dry / dry control"),
            *step("wet deficit against the control", found.wet_deficit, "1", "1 - wet / wet control"),
            *step("recovered", found.recovered, "1", "(D_dry - D_wet) / D_dry"),
            *step("its standard uncertainty", found.u, "1", "2 s_r / D_dry"),
        ),
    )
    escaped = leak.place(place.cylinder) if leak is not None else None
    if escaped is not None and "oil_filler" in escaped.escapes:
        p = not_rings + between
        yield finding(
            "wet_with_escape",
            dry.sheet,
            subject,
            verdicts=seen(p >= 0.5),
            text="air at the oil filler, and oil does not bring the reading back" if p >= 0.5 else "oil brings it back",
            bands=bands(partly=p),
        )
