"""What was seen and measured with the plugs out: chamber, ports, pistons, valves, timing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import p_above
from loadworthy_plugins.compression.geometry import short_rod_deficit
from loadworthy_plugins.compression.results import bands, finding, percent, seen, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.sdk import Finding, Grade, Limits, Reading, Sheet
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.engine import Engine

#: 95 % critical difference of two readings in units of repeatability (ISO 5725-6:1994).
_CRITICAL = 2.8
#: Uncertainty of the difference of two equally uncertain readings, over that of one (JCGM 100:2008, 5.1).
_TWO_READINGS = 2.0**0.5
#: Heights (m) that differ by less are the same height in other units.
_SAME = 1e-9
#: Word on the sheet, band of the rule, grade where it is a finding, and what it means.
_SCOPE: Mapping[str, tuple[str, Grade, str]] = {
    "liquid": ("liquid", "stop", "liquid in the cylinder"),
    "land_broken": ("broken", "stop", "piston or ring land broken"),
    "valve_burnt": ("burnt", "fix_first", "valve burnt"),
    "scored": ("", "fix_first", "bore scored"),
    "carbon": ("carbon", "watch", "carbon in the chamber"),
}


def inspection_rules(sheet: Sheet, engine: Engine, limits: Limits) -> Iterator[Finding]:
    """Judge what one sheet holds of inspections, cylinder by cylinder."""
    for cylinder, words in engine.by_cylinder(sheet.get("borescope")).items():
        yield from _borescope(sheet, engine, cylinder, frozenset(words))
    yield from _heights(sheet, engine, limits)
    choices = (
        ("cam_lift", "low", "full"),
        ("running_compression", "low", "equal"),
        ("valve_clearance", "tight", "in_range"),
    )
    for field, bad, good in choices:
        for cylinder, word in engine.by_cylinder(sheet.get(field)).items():
            if word in (bad, good):
                fired = word == bad
                yield finding(
                    field,
                    sheet,
                    engine.subject(cylinder),
                    verdicts=seen(fired, "fix_first"),
                    text=f"{field.replace('_', ' ')} {word.replace('_', ' ')}",
                    bands=bands(**{bad: float(fired), good: float(not fired)}),
                )
    marks = sheet.get("timing_marks")
    if marks in ("verified", "off"):
        off = marks == "off"
        yield finding(
            "timing_marks",
            sheet,
            verdicts=seen(off, "fix_first"),
            text=f"valve timing marks {marks}",
            bands=bands(off=float(off), verified=float(not off)),
        )


def _borescope(sheet: Sheet, engine: Engine, cylinder: int, words: frozenset[str]) -> Iterator[Finding]:
    subject = engine.subject(cylinder)
    bad = [_SCOPE[word] for word in _SCOPE if word in words]
    if bad:
        found = {band: 1.0 for band, _, _ in bad if band}
        # One look, one group: where several things are seen, the worst one carries its weight.
        first = next(iter(found), "")
        yield finding(
            "borescope",
            sheet,
            subject,
            verdicts=tuple(seen(True, grade)[0] for _, grade, _ in bad),
            text="borescope: " + ", ".join(text for _, _, text in bad),
            bands=bands(**{first: 1.0}) if first else {},
            names=tuple(
                (cause, subject)
                for word, cause in (
                    ("liquid", "liquid-in-cylinder"),
                    ("land_broken", "piston-or-ring-land-broken"),
                    ("valve_burnt", "exhaust-valve-seal"),
                    ("scored", "ring-seal"),
                )
                if word in words
            ),
        )
    elif words & {"clean", "dry"}:
        band = "clean" if "clean" in words else "dry"
        yield finding("borescope", sheet, subject, verdicts=seen(False), text=f"borescope: {band}", bands={band: 1.0})
    if words & {"port_coated", "port_clean"}:
        coated = "port_coated" in words
        yield finding(
            "intake_port",
            sheet,
            subject,
            verdicts=seen(coated, "watch"),
            text="intake port coated" if coated else "intake port clean",
            bands=bands(coated=float(coated), clean=float(not coated)),
        )


def _heights(sheet: Sheet, engine: Engine, limits: Limits) -> Iterator[Finding]:
    """Judge piston heights against the highest piston: a bent rod leaves its piston low."""
    limit = limits["compression.piston_short"]
    for cylinder, (reading, short) in _short_pistons(sheet, engine).items():
        if reading.u is None:
            why = "uncertainty of the piston height not known"
            yield finding("piston_height", sheet, engine.subject(cylinder), unknown=why)
            continue
        u = reading.u * _TWO_READINGS
        p = p_above(short, u, limit.number)
        yield finding(
            "piston_height",
            sheet,
            engine.subject(cylinder),
            verdicts=(limit.judge(short, u),),
            text=f"piston {short * 1e3:.2f} mm lower at top dead centre than the highest",
            bands=bands(short=p, equal=1.0 - p),
            readings=(used(sheet, "piston_height", reading.value, reading.u, "m", str(cylinder)),),
            steps=step("short of the highest piston", short, "m"),
        )


def _short_pistons(sheet: Sheet, engine: Engine) -> dict[int, tuple[Reading, float]]:
    """Return each piston's height and by how much (m) it stands below the highest one; two are needed."""
    depths = engine.by_cylinder(sheet.get("piston_height"))
    if len(depths) < 2:
        return {}
    highest = min(reading.value for reading in depths.values())
    return {cylinder: (reading, reading.value - highest) for cylinder, reading in depths.items()}


def rod_rules(sheet: Sheet, dry: DrySet | None, limits: Limits) -> Iterator[Finding]:
    """Put the deficit of a low cylinder beside what its short piston explains: about 0.11 per mm on 500 ml, ratio 10.

    At least as low as that counts as agreeing: a rod that hit the crankcase may leak as well.
    """
    if dry is None or dry.engine.cylinder is None or dry.engine.closing is None:
        return
    limit = limits["compression.piston_short"]
    for cylinder, (reading, short) in _short_pistons(sheet, dry.engine).items():
        place = dry.place(cylinder)
        if place is None or short < _SAME or reading.u is None:
            continue
        u_short = reading.u * _TWO_READINGS
        expected, more = (
            short_rod_deficit(dry.engine.cylinder, dry.engine.closing[1], length) for length in (short, short + u_short)
        )
        u = ((more - expected) ** 2 + place.spread**2) ** 0.5
        p = min(
            p_above(short, u_short, limit.number),
            p_above(place.deficit, u, expected - _CRITICAL * place.spread),
            place.p_low if place.low else 0.0,
        )
        yield finding(
            "rod_depth",
            sheet,
            dry.engine.subject(cylinder),
            verdicts=seen(p >= 0.5),
            text=f"{percent(max(0.0, place.deficit))} low, its piston height explains {percent(expected)}",
            bands=bands(fits=p),
            steps=(
                *step("short of the highest piston", short, "m"),
                *step("deficit that this explains", expected, "1", "1 - p(V_c + A h)/p(V_c)"),
                *step("deficit", place.deficit, "1", "1 - p / p_ref"),
                *step("standard uncertainty of the difference", u, "1"),
            ),
            clears=False,
        )
