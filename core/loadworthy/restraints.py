"""Which ceilings are in force: those of findings that stand, and those that the method itself sets (section 7)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.findings import GRADES, Ceiling

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from loadworthy.beliefs import Standing
    from loadworthy.declarations import Catalogue
    from loadworthy.findings import Capacity

Owned = tuple[str, Ceiling]
_RANK = {grade: rank for rank, grade in enumerate(GRADES)}


def in_force(ceilings: Iterable[Owned], standings: Iterable[Standing]) -> tuple[Owned, ...]:
    """Return the ceilings that stand: one tied to a finding goes when that is superseded, clean or no longer graded.

    One whose finding is unknown, or was never reported, stays.
    """
    ended: dict[tuple[str, str | None, str], bool] = {}
    for one in standings:
        finding = one.finding
        key = (finding.rule, finding.subject, finding.sheet)
        gone = one.state == "history" or one.grade == "clean" or (one.state == "carried" and one.grade == "note")
        ended[key] = ended.get(key, True) and gone
    return tuple(
        (plugin, ceiling)
        for plugin, ceiling in ceilings
        if ceiling.finding is None or not ended.get(ceiling.finding, False)
    )


def by_grade(standings: Sequence[Standing], ceilings: Iterable[Owned], catalogue: Catalogue) -> tuple[Owned, ...]:
    """Return the ceilings that grades set: ``stop`` allows no torque, ``fix_first`` none beyond what was received.

    A ``fix_first`` finding that has a hard ceiling of its own keeps that instead. Both stand until the remedy's
    retest. ``ceilings`` are those in force.
    """
    own = {ceiling.finding for _, ceiling in ceilings if ceiling.kind == "hard"}
    out: dict[tuple[str, str | None, str], Owned] = {}
    for one in sorted(standings, key=lambda s: s.id):
        finding = one.finding
        key = (finding.rule, finding.subject, finding.sheet)
        if not one.stands or one.grade is None or _RANK[one.grade] < _RANK["fix_first"]:
            continue
        stop = one.grade == "stop"
        if not stop and key in own:
            continue
        word = "stop" if stop else "as_received"
        until = retest_of(one, catalogue)
        out.setdefault(
            (f"{finding.rule}.{word}", finding.subject, until),
            (
                one.plugin,
                Ceiling(
                    name=f"{finding.rule.removeprefix(one.plugin + '.')}.{word}",
                    quantity="",
                    value=0.0 if stop else "as_received",
                    reason=finding.text or finding.rule,
                    subject=finding.subject,
                    until=until,
                    finding=key,
                ),
            ),
        )
    return tuple(out.values())


def retest_of(one: Standing, catalogue: Catalogue) -> str:
    """Return the retest that proves a finding's remedy.

    The deciding retest of the cause that it names by state, else of the one that it speaks for most; else its own test
    again; else its rule.
    """
    rule = catalogue.rules.get(one.finding.rule)
    for cause in _spoken_for(one, catalogue):
        declared = catalogue.causes.get(cause)
        if declared is not None and declared.retest:
            return declared.retest[0]
    return (rule.test if rule is not None else "") or one.finding.rule


def _spoken_for(one: Standing, catalogue: Catalogue) -> Iterator[str]:
    """Yield the causes that a finding speaks for, the strongest first."""
    yield from (cause for cause, _ in one.finding.names)
    weights = [(-w.db, w.cause) for w in one.finding.weights if w.db > 0.0]
    yield from (cause for _, cause in sorted(weights))
    rule = catalogue.rules.get(one.finding.rule)
    if rule is not None:
        ratios: dict[str, float] = {}
        for band in rule.bands.values():
            for cause, ratio in band.items():
                ratios[cause] = max(ratios.get(cause, 0.0), ratio)
        yield from (cause for cause in sorted(ratios, key=lambda c: (-ratios[c], c)) if ratios[cause] > 1.0)


def of_unknown_capacities(capacities: Iterable[tuple[str, Capacity]], catalogue: Catalogue) -> tuple[Owned, ...]:
    """Return a ceiling for every unknown capacity: at what was demonstrated, else as received (method, section 5).

    It stands until the evidence that the capacity names, else until the deciding retest of its cause.
    """
    out = []
    for plugin, one in capacities:
        if one.value is not None:
            continue
        shown = one.demonstrated is not None
        declared = catalogue.causes.get(one.cause)
        retest = declared.retest if declared is not None else ()
        out.append(
            (
                plugin,
                Ceiling(
                    name=f"{one.cause}.unknown",
                    quantity=one.quantity,
                    value=one.demonstrated if shown else "as_received",
                    reason=one.text or f"what the part can take is unknown ({one.cause})",
                    subject=one.subject,
                    origin="gap",
                    until=one.until or next(iter(retest), ""),
                    basis="demonstrated" if shown else "",
                ),
            )
        )
    return tuple(out)
