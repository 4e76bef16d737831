"""What the low cylinders of one session have in common: neighbours, a bank, the cut-off set, all of them; and all high.

Labels do not exclude each other, and a further low cylinder takes none away.
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import Candidate, Symptom, Weight, decibans, p_above
from loadworthy_plugins.compression.balance import CRITICAL_RANGE, LEAST_DEFICIT
from loadworthy_plugins.compression.patterns import adjacency_ratio, equal_depth, low_pairs, neighbours, whole
from loadworthy_plugins.compression.results import ID, bands, finding, names, pair_subject, percent, seen, step
from loadworthy_plugins.compression.symptoms import SYMPTOMS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from loadworthy.sdk import Finding, Limits, Result
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.engine import Engine
    from loadworthy_plugins.compression.leak import LeakSet
    from loadworthy_plugins.compression.session import Session

_CANDIDATES: Mapping[str, Mapping[str, float]] = {one.id: dict(one.candidates) for one in SYMPTOMS}
#: Causes of the symptom sets that sit in one cylinder; the others sit in a bank, a pair or the engine.
_IN_A_CYLINDER = frozenset({"exhaust-valve-seal", "ring-seal", "intake-valve-seal", "valve-not-opening"})
_EQUALLY_DEEP_PAIR = 3.0
_CUT_OFF = 10.0


def _evenly_deep(dry: DrySet, cylinders: Sequence[int]) -> bool:
    """Tell whether low cylinders are equally deep: their range within the critical range of so many readings."""
    values = [p.standard for p in dry.places if p.cylinder in cylinders]
    if len(values) < 2:
        return True
    factor = CRITICAL_RANGE[min(len(values), 12) - 2] * dry.repeats.value
    return max(values) - min(values) <= factor * sum(values) / len(values)


def low_banks(dry: DrySet) -> tuple[int, ...]:
    """Return the numbers (from 1) of the banks that are low as a whole; only engines with two or more banks."""
    banks = dry.engine.banks
    return tuple(i for i, bank in enumerate(banks, 1) if whole(bank, dry.low)) if len(banks) > 1 else ()


def low_set(dry: DrySet) -> tuple[int, ...]:
    """Return the cut-off set where all of it is low, else nothing."""
    members = dry.engine.deactivation_set
    return members if whole(members, dry.low) else ()


def together(dry: DrySet) -> frozenset[int]:
    """Return the cylinders that are low as a whole bank, as the cut-off set or all at once, equally deep."""
    found: set[int] = set()
    for i in low_banks(dry):
        bank = dry.engine.banks[i - 1]
        if _evenly_deep(dry, bank):
            found.update(bank)
    members = low_set(dry)
    if members and _evenly_deep(dry, members):
        found.update(members)
    if dry.evenly_low:
        found.update(p.cylinder for p in dry.places)
    return frozenset(found)


def normal_leakage(session: Session, leak: LeakSet | None, cylinders: Sequence[int]) -> bool:
    """Tell whether cylinders were found to leak no more than sound ones, by a session that may clear."""
    if leak is None or not leak.clears:
        return False
    watch = session.limits["compression.leak_area_watch"].number
    places = [leak.place(n) for n in cylinders]
    return bool(places) and all(p is not None and p.lost is not None and p.lost < watch for p in places)


def pattern_rules(dry: DrySet, leak: LeakSet | None, session: Session) -> Iterator[Result]:
    """Report what low and high cylinders share."""
    yield from _pairs(dry)
    yield from _separate(dry)
    yield from _banks(dry, leak, session)
    yield from _cut_off_set(dry)
    yield from _low_as_a_whole(dry)
    yield from _all_low(dry)
    yield from all_high_rules(dry, leak, session)


def _p_low(dry: DrySet, cylinders: Sequence[int]) -> float:
    return min((p.p_low for p in dry.places if p.cylinder in cylinders), default=0.0)


def one_cylinder_candidates(engine: Engine, cylinder: int) -> tuple[Candidate, ...]:
    """Return who may explain one low cylinder, the gasket only between it and its neighbours in metal."""
    found = []
    for cause, weight in _CANDIDATES["compression-low-one-cylinder"].items():
        if cause == "head-gasket-between-cylinders":
            walls = [pair for pair in neighbours(engine.banks) if cylinder in pair]
            found += [Candidate(cause, pair_subject(*pair), weight / len(walls)) for pair in walls]
        else:
            found.append(Candidate(cause, engine.subject(cylinder), weight))
    return tuple(found)


def _spread_over(
    symptom: str, cylinders: Sequence[int], located: Mapping[str, str | None], dry: DrySet
) -> tuple[Candidate, ...]:
    """Return a set's candidates at their places: cylinder causes share their weight among ``cylinders``."""
    found = []
    for cause, weight in _CANDIDATES[symptom].items():
        if cause in _IN_A_CYLINDER:
            found += [Candidate(cause, dry.engine.subject(n), weight / len(cylinders)) for n in cylinders]
        else:
            found.append(Candidate(cause, located.get(cause), weight))
    return tuple(found)


def _pairs(dry: DrySet) -> Iterator[Result]:
    """Report neighbours that are low together; luck alone makes them adjacent often, equal depth says more."""
    ratio = adjacency_ratio(dry.engine.banks)
    apart = together(dry)
    for one, other in sorted(neighbours(dry.engine.banks)):
        a, b = dry.place(one), dry.place(other)
        if a is None or b is None:
            continue
        subject = pair_subject(one, other)
        both = a.low and b.low and not {one, other} <= apart
        p = min(a.p_low, b.p_low) if both else 0.0
        weights = []
        if both:
            ratios = [ratio, _EQUALLY_DEEP_PAIR] if equal_depth(a.deficit, b.deficit, a.spread) else [ratio]
            weights = [
                Weight("head-gasket-between-cylinders", subject, decibans(p * lr + 1.0 - p), "dry") for lr in ratios
            ]
        yield finding(
            "pair_low",
            dry.sheet,
            subject,
            verdicts=seen(both),
            text=f"cylinders {one} and {other} share a wall and are " + ("both low" if both else "not both low"),
            weights=tuple(weights),
            steps=step("chance of a neighbour by luck, inverse", ratio, "1", "pairs / neighbouring pairs"),
            clears=dry.comparable,
        )
        if both:
            located = {"head-gasket-between-cylinders": subject}
            yield Symptom(
                "compression-low-adjacent-pair",
                ID + "pair_low",
                dry.sheet.id,
                p,
                subject,
                candidates=_spread_over("compression-low-adjacent-pair", (one, other), located, dry),
            )


def _separate(dry: DrySet) -> Iterator[Finding]:
    """Report low cylinders that share no wall: no gasket between them explains both."""
    if not dry.engine.banks:
        return
    _, separate = low_pairs(dry.low, dry.engine.banks)
    yield finding(
        "separate_low",
        dry.sheet,
        verdicts=seen(separate),
        text=f"cylinders {names(dry.low)} are low and do not all share a wall: more than one fault, or one of all"
        if separate
        else "no two low cylinders without a wall in common",
        clears=dry.comparable,
    )


def _banks(dry: DrySet, leak: LeakSet | None, session: Session) -> Iterator[Result]:
    if len(dry.engine.banks) < 2:
        return
    low = low_banks(dry)
    for i, bank in enumerate(dry.engine.banks, 1):
        subject = f"bank {i}"
        fired = i in low
        p = _p_low(dry, bank) if fired else 0.0
        band = "low_and_tight" if normal_leakage(session, leak, bank) else "low"
        yield finding(
            "bank_low",
            dry.sheet,
            subject,
            verdicts=seen(fired),
            text=f"cylinders {names(bank)}: " + ("all low" if fired else "not all low"),
            bands=bands(**{band: p}),
            clears=dry.comparable,
        )
        if fired and _evenly_deep(dry, bank):
            yield Symptom(
                "compression-low-bank",
                ID + "bank_low",
                dry.sheet.id,
                p,
                subject,
                candidates=_spread_over("compression-low-bank", bank, {"valve-timing-off": subject}, dry),
            )


def _cut_off_set(dry: DrySet) -> Iterator[Result]:
    members = dry.engine.deactivation_set
    if not members:
        return
    fired = bool(low_set(dry))
    p = _p_low(dry, members) if fired else 0.0
    lr = decibans(p * _CUT_OFF + 1.0 - p)
    yield finding(
        "set_low",
        dry.sheet,
        verdicts=seen(fired),
        text=f"cylinders {names(members)} can be cut off: " + ("all low" if fired else "not all low"),
        weights=tuple(Weight("valve-not-opening", dry.engine.subject(n), lr, "dry") for n in members) if fired else (),
        clears=dry.comparable,
    )
    if fired:
        yield Symptom(
            "compression-low-set",
            ID + "set_low",
            dry.sheet.id,
            p,
            candidates=_spread_over("compression-low-set", members, {}, dry),
        )


def _low_as_a_whole(dry: DrySet) -> Iterator[Finding]:
    """Take weight from single-cylinder causes where a whole bank or set is equally low."""
    members = low_set(dry)
    cut_off = set(members) if members and _evenly_deep(dry, members) else set()
    banked = {n for i in low_banks(dry) if _evenly_deep(dry, dry.engine.banks[i - 1]) for n in dry.engine.banks[i - 1]}
    if len(dry.engine.banks) < 2 and not members:
        return
    for place in dry.places:
        n = place.cylinder
        band = "cut_off" if n in cut_off else "bank"
        fired = n in cut_off or n in banked
        yield finding(
            "low_as_a_whole",
            dry.sheet,
            dry.engine.subject(n),
            verdicts=seen(fired),
            text="low together with its " + ("cut-off set" if band == "cut_off" else "bank") if fired else "on its own",
            bands=bands(**{band: place.p_low if fired else 0.0}),
            clears=dry.comparable,
        )


def _all_low(dry: DrySet) -> Iterator[Result]:
    if dry.sound_value is None and dry.known.spec_min is None:
        return
    p = dry.p_all_low
    yield finding(
        "all_low",
        dry.sheet,
        verdicts=seen(dry.all_low),
        text="every cylinder is low" if dry.all_low else "not every cylinder is low",
        clears=dry.comparable and dry.complete,
    )
    if dry.all_low:
        yield Symptom("compression-low-all", ID + "all_low", dry.sheet.id, p)


def level(dry: DrySet) -> float:
    """Return the level of the set: the group's median, else the middle reading; Pa gauge at standard atmosphere."""
    if dry.balance is not None:
        return dry.balance.group_median
    values = sorted(p.standard for p in dry.places)
    return values[len(values) // 2]


def sound_for_high(dry: DrySet) -> float | None:
    """Return what all cylinders are high against: the maker's nominal, else the own record; never the minimum."""
    return dry.known.spec_nominal if dry.known.spec_nominal is not None else dry.known.record


def rise_of_all(dry: DrySet) -> tuple[float, float] | None:
    """Return how far the level stands above the sound value, and its standard uncertainty; None without that."""
    sound = sound_for_high(dry)
    if sound is None or not dry.places:
        return None
    count = len(dry.places)
    gauge = max(((p.u or 0.0) / p.standard for p in dry.places if p.standard > 0.0), default=0.0)
    return level(dry) / sound - 1.0, sqrt(dry.repeats.value**2 / count + gauge**2)


def all_high(dry: DrySet, limits: Limits) -> bool:
    """Tell whether all cylinders stand high against nominal or record."""
    rise = rise_of_all(dry)
    return rise is not None and rise[0] >= limits["compression.all_high_watch"].number


def all_high_rules(dry: DrySet, leak: LeakSet | None, session: Session) -> Iterator[Result]:
    """Report a level above maker's nominal or own record."""
    rise = rise_of_all(dry)
    if rise is None:
        return
    value, u = rise
    limits = session.limits
    verdicts = tuple(limits[f"compression.all_high_{name}"].judge(value, u) for name in ("watch", "fix"))
    high = all_high(dry, limits)
    p = p_above(value, u, limits["compression.all_high_watch"].number) if high else 0.0
    at_spec = dry.complete and dry.comparable and abs(value) <= LEAST_DEFICIT and dry.at_spec and not dry.low
    source = "the maker's nominal value" if dry.known.spec_nominal is not None else "this engine's own record"
    yield finding(
        "all_high",
        dry.sheet,
        verdicts=verdicts,
        text=f"level {percent(abs(value))} {'above' if value >= 0 else 'below'} {source}",
        bands=bands(high=p, at_spec=1.0 if at_spec else 0.0),
        steps=(
            *step("level of the set", level(dry), "Pa gauge"),
            *step("sound value", sound_for_high(dry), "Pa gauge", source),
            *step("rise", value, "1"),
            *step("its standard uncertainty", u, "1", "sqrt(s_r^2/n + u_gauge^2)"),
        ),
        clears=dry.comparable,
    )
    if not high:
        return
    yield Symptom("compression-high-all", ID + "all_high", dry.sheet.id, p)
    cylinders = [place.cylinder for place in dry.places]
    if normal_leakage(session, leak, cylinders):
        yield finding(
            "all_high_tight", dry.sheet, verdicts=seen(True), text="all high, leakage normal", bands={"high": p}
        )
    engine = dry.engine
    if engine.flag("head_skimmed") or engine.word("pistons_changed") == "raised":
        yield finding(
            "all_high_built",
            dry.sheet,
            verdicts=seen(True),
            text="all high, and the head was skimmed or pistons of higher ratio fitted",
            bands={"high": p},
        )
