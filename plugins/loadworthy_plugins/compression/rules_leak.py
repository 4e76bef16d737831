"""Rules on leak-down: what each leak costs, percent through an unknown jet, all leaking, neighbours tight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Candidate, Symptom
from loadworthy_plugins.compression.leak import REFERENCE_AREA
from loadworthy_plugins.compression.patterns import neighbours
from loadworthy_plugins.compression.results import (
    ID,
    bands,
    finding,
    pair_subject,
    percent,
    seen,
    step,
    used,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Finding, Grade, Limits, Result, Verdict
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.leak import LeakPlace, LeakSet
    from loadworthy_plugins.compression.session import Session

#: Who leaks where a leak is large and nobody listened: the low-cylinder set without what does not leak (judgement).
_LEAKERS = (
    ("exhaust-valve-seal", 0.26),
    ("ring-seal", 0.2),
    ("intake-valve-seal", 0.1),
    ("tight-valve-clearance", 0.08),
    ("piston-or-ring-land-broken", 0.06),
    ("fuel-washed-bore", 0.05),
    ("head-gasket-or-crack-to-coolant", 0.04),
)
_AREA_LIMITS = ("watch", "fix", "stop")


def leak_rules(leak: LeakSet, dry: DrySet | None, session: Session) -> Iterator[Result]:
    """Judge every cylinder's leak of one session, and what the cylinders have in common."""
    limits = session.limits
    sound = session.sound(dry, leak, trusted=False)
    for place in leak.places:
        yield _area(leak, place, dry, limits, sound)
        if _worst(place, limits) >= 0.5 and not place.refused:
            yield Symptom(
                "compression-low-one-cylinder",
                ID + "leak_area",
                leak.sheet.id,
                _worst(place, limits),
                leak.engine.subject(place.cylinder),
                candidates=tuple(
                    Candidate(cause, leak.engine.subject(place.cylinder), weight) for cause, weight in _LEAKERS
                ),
                text="a cylinder leaks",
            )
        if not leak.jet.known:
            yield _percent(leak, place, limits)
    for number in leak.missing:
        if leak.place(number) is None:
            subject = leak.engine.subject(number)
            yield finding("leak_area", leak.sheet, subject, unknown="this cylinder was not measured")
    yield _all(leak, session)
    for one, other in neighbours(leak.engine.banks):
        yield _pair(leak, one, other, limits, sound)


def _worst(place: LeakPlace, limits: Limits) -> float:
    """Return the probability that a leak is more than a sound cylinder's; 1 where nearly everything is lost."""
    if place.unresolved:
        return 1.0
    if place.lost is None:
        return 0.0
    return limits["compression.leak_area_watch"].judge(place.lost, place.u_lost).p_beyond


def _why_not(leak: LeakSet) -> str:
    jet = "" if leak.jet.known else "jet not known, 1.016 mm assumed"
    return "; ".join(filter(None, (jet, leak.conditions.words)))


def _cap(leak: LeakSet, place: LeakPlace, dry: DrySet | None, limits: Limits) -> tuple[Grade | None, str]:
    """Return the sharpest grade allowed, and why: an assumed jet, a wrong position, or a cylinder shown to seal.

    A leak on a cylinder that reads well and meets maker or record counts one grade milder, never below watch.
    """
    cap: Grade | None = "fix_first" if leak.conditions.wrong or not leak.jet.known else None
    if place.lost is None or not _reads_well(dry, place.cylinder, limits):
        return cap, ""
    if place.lost >= limits["compression.leak_area_stop"].number:
        return "fix_first", "reads well on the gauge: one grade milder, measure again"
    if place.lost >= limits["compression.leak_area_fix"].number:
        return "watch", "reads well on the gauge: one grade milder, measure again"
    return cap, ""


def _reads_well(dry: DrySet | None, cylinder: int, limits: Limits) -> bool:
    """Tell whether valid dry readings show this cylinder even, with maker's figure or record met."""
    place = dry.place(cylinder) if dry is not None else None
    if dry is None or place is None or place.low or place.refused or not dry.comparable:
        return False
    if place.deficit >= limits["compression.deficit_watch"].number:
        return False
    if dry.known.spec_min is not None:
        return place.standard >= dry.known.spec_min
    return dry.sound_value is not None


def _area(leak: LeakSet, place: LeakPlace, dry: DrySet | None, limits: Limits, sound: bool) -> Finding:
    subject = leak.engine.subject(place.cylinder)
    if place.unresolved:
        return finding(
            "leak_area",
            leak.sheet,
            subject,
            verdicts=seen(True, "stop"),
            text="nearly all of the supply is lost: a hole, an open valve, or not at top dead centre",
            max_grade="fix_first" if leak.conditions.wrong or not leak.jet.known else None,
        )
    if place.lost is None:
        lacks = "supply and cylinder pressure" if place.area is None else "displacement of the engine"
        return finding("leak_area", leak.sheet, subject, unknown=f"{lacks} not known")
    verdicts = tuple(limits[f"compression.leak_area_{name}"].judge(place.lost, place.u_lost) for name in _AREA_LIMITS)
    cap, milder = _cap(leak, place, dry, limits)
    why = _why_not(leak)
    peers = verdicts[0].p_beyond
    clears = leak.clears and not place.refused
    return finding(
        "leak_area",
        leak.sheet,
        subject,
        verdicts=verdicts,
        text="; ".join(
            filter(
                None,
                (f"the leak costs {percent(max(0.0, place.lost))} of the cranking compression", milder, why),
            )
        ),
        bands=bands(**{"sound" if sound else "peers": 1.0 - peers}) if clears else {},
        readings=(used(leak.sheet, "leak_cylinder", place.share or 0.0, place.u_share, "1", str(place.cylinder)),),
        steps=(
            *step("loss", place.share, "1", "1 - p2/p1, gauge"),
            *step("effective area of the jet", leak.jet.area, "m2", "C d^2 pi/4"),
            *step("effective area of the leak", place.area, "m2", "two openings in series"),
            *step("its standard uncertainty", place.u_area, "m2"),
            *step("reference area", REFERENCE_AREA, "m2", "5 % on a jet of 1.016 mm at 5.516 bar gauge"),
            *step("compression lost at 200 rpm", place.lost, "1", "1 - ratio(area)/ratio(reference)"),
            *step("its standard uncertainty", place.u_lost, "1"),
            *(s for what in leak.engine.assumed for s in step("assumed", what)),
        ),
        max_grade=cap,
        clears=clears,
    )


def _percent(leak: LeakSet, place: LeakPlace, limits: Limits) -> Finding:
    """Judge a percentage through an unknown jet: ordinal, it clears nothing."""
    subject = leak.engine.subject(place.cylinder)
    if place.share is None:
        return finding("leak_percent", leak.sheet, subject, unknown="no loss given")
    u = place.u_share or 0.02
    verdicts = tuple(limits[f"compression.leak_pct_{name}"].judge(place.share, u) for name in ("normal", "excess"))
    return finding(
        "leak_percent",
        leak.sheet,
        subject,
        verdicts=verdicts,
        text=f"{percent(place.share)} lost through an unknown jet: compares within this visit only",
        readings=(used(leak.sheet, "leak_percent", place.share, u, "1", str(place.cylinder)),),
        max_grade="fix_first" if leak.conditions.wrong else None,
        clears=False,
    )


def _all(leak: LeakSet, session: Session) -> Finding:
    """Judge whether every cylinder leaks: general wear, off top dead centre, or the tester."""
    limit = session.limits["compression.leak_area_all"]
    if leak.missing or any(p.lost is None and not p.unresolved for p in leak.places):
        return finding("leak_all", leak.sheet, unknown="not every cylinder was measured")
    beyond = [1.0 if p.unresolved else limit.judge(p.lost or 0.0, p.u_lost).p_beyond for p in leak.places]
    least = min(beyond)
    fired = least >= 0.5
    verdict: Verdict = limit.judge(0.0, 0.0)._replace(p_beyond=least, needed_u=None)
    return finding(
        "leak_all",
        leak.sheet,
        verdicts=(verdict,),
        text="every cylinder leaks: general wear, not at top dead centre, or the tester" if fired else "not all leak",
        bands=bands(peers=1.0 if session.all_peers(leak) else 0.0),
        names=(("general-wear", None), ("gauge-or-adaptor-error", None)) if fired else (),
        clears=leak.clears,
    )


def _pair(leak: LeakSet, one: int, other: int, limits: Limits, sound: bool) -> Finding:
    """Clear the gasket between neighbours where both are tight."""
    places = [leak.place(n) for n in (one, other)]
    subject = pair_subject(one, other)
    if any(p is None or p.lost is None for p in places):
        return finding("leak_pair", leak.sheet, subject, unknown="not both were measured")
    tight = min(1.0 - _worst(p, limits) for p in places if p is not None)
    clears = leak.clears and not any(p is not None and p.refused for p in places)
    return finding(
        "leak_pair",
        leak.sheet,
        subject,
        verdicts=seen(False),
        text="both tight" if tight >= 0.5 else "not both tight",
        bands=bands(**{"sound" if sound else "peers": tight}) if clears else {},
        clears=clears,
    )
