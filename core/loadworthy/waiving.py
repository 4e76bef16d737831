"""Waivers: what somebody may accept in place of evidence, and what nobody may (method, section 9)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.record import EMPTY, NamedTuple

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.beliefs import Standing
    from loadworthy.case import Waiver
    from loadworthy.conclusions import CeilingView, Risk
    from loadworthy.declarations import Catalogue
    from loadworthy.findings import Gap


class WaiverView(NamedTuple):
    """A waiver as it stands: ``in_force``, ``expired``, ``refused`` or ``unused``, and why. ``gap``: what it waives."""

    waiver: Waiver
    state: str
    why: str
    gap: bool = False

    @property
    def in_force(self) -> bool:
        """Whether it counts."""
        return self.state == "in_force"


def apply_waivers(
    waivers: Iterable[Waiver],
    day: datetime.date,
    *,
    gaps: Iterable[Gap],
    standings: Sequence[Standing],
    risks: Iterable[Risk],
    catalogue: Catalogue,
    roles: Mapping[str, Sequence[str]] = EMPTY,
    never: Mapping[str, str] = EMPTY,
) -> tuple[WaiverView, ...]:
    """Return every waiver with its state on ``day`` (both its days included).

    ``roles`` maps a role or a name to what it may waive: ids, or beginnings of ids with ``*`` behind. ``never`` maps
    gap ids that cannot be waived (a failed plugin, a repair without retest) to the reason. A waiver of what
    withholds nothing is unused: it does not make a clear case worse.
    """
    bench = _Bench(gaps, standings, risks, catalogue, never)
    views = []
    for waiver in sorted(waivers, key=lambda w: (w.start, w.what, w.who, w.until)):
        gap = waiver.what in bench.gaps
        if not waiver.start <= day <= waiver.until:
            when = "not yet begun" if day < waiver.start else f"ended on {waiver.until.isoformat()}"
            views.append(WaiverView(waiver, "expired", when, gap))
            continue
        refusal = bench.refusal(waiver.what)
        if refusal:
            views.append(WaiverView(waiver, "refused", refusal, gap))
        elif bench.unused(waiver.what):
            views.append(WaiverView(waiver, "unused", bench.unused(waiver.what), gap))
        elif not _permitted(waiver, roles):
            who = waiver.role or waiver.who
            views.append(WaiverView(waiver, "refused", f"the house does not let {who} waive this", gap))
        else:
            views.append(WaiverView(waiver, "in_force", waiver.why, gap))
    return tuple(views)


def waived_gaps(views: Iterable[WaiverView]) -> frozenset[str]:
    """Return the ids of the gaps that are waived."""
    return frozenset(view.waiver.what for view in views if view.in_force and view.gap)


def without_waived(views: Iterable[CeilingView], waived: frozenset[str]) -> tuple[CeilingView, ...]:
    """Return the ceilings without the "unproven" ones of waived gaps; no other ceiling is lifted by a waiver."""
    return tuple(v for v in views if not (v.ceiling.origin == "gap" and v.ceiling.row in waived))


class _Bench:
    """What a waiver may be held against."""

    def __init__(
        self,
        gaps: Iterable[Gap],
        standings: Sequence[Standing],
        risks: Iterable[Risk],
        catalogue: Catalogue,
        never: Mapping[str, str],
    ) -> None:
        self.gaps: dict[str, bool] = {}
        for gap in gaps:
            self.gaps[gap.id] = self.gaps.get(gap.id, False) or gap.required
        self._standings = [s for s in standings if s.stands]
        self._never = never
        self._refused: dict[str, str] = {}
        for risk in risks:
            if not risk.active:
                continue
            cause = catalogue.causes.get(risk.cause)
            reason = ""
            if risk.person:
                reason = f"a risk to persons cannot be waived ({risk.id})"
            elif cause is not None and not cause.waivable:
                reason = f"a defect of this kind cannot be waived ({risk.id})"
            if reason:
                for id in (risk.id, *risk.accused_by):
                    self._refused[id] = reason

    def refusal(self, what: str) -> str:
        """Return why nobody may waive this, or an empty string."""
        if what in self._never:
            return self._never[what]
        if any("stop" in (s.grade, s.own_grade) for s in self._standings if s.id == what):
            return "a stop cannot be waived"
        return self._refused.get(what, "")

    def unused(self, what: str) -> str:
        """Return why there is nothing to waive, or an empty string."""
        if what in self.gaps:
            return "" if self.gaps[what] else "this gap bars nothing"
        found = [s for s in self._standings if s.id == what]
        if not found:
            return "no gap or finding of this id stands"
        if any(s.grade == "fix_first" or s.accept for s in found):
            return ""
        return "this finding bars nothing"


def _permitted(waiver: Waiver, roles: Mapping[str, Sequence[str]]) -> bool:
    patterns = (*roles.get(waiver.role, ()), *roles.get(waiver.who, ()))
    return any(waiver.what.startswith(p[:-1]) if p.endswith("*") else waiver.what == p for p in patterns)
