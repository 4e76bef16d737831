"""Consequence at the planned load, level and rank (method, sections 5 and 6).

Severity categories, probability bands and matrix: MIL-STD-882E (2012), tables I to III and A-II, tailored as the
standard allows; money bands and hazard classes are judgement.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from loadworthy.capacities import HAZARDS, CapacityRisk, Hazardous, capacity, h_plan
from loadworthy.conclusions import Risk
from loadworthy.findings import GRADES
from loadworthy.loads import Ratio, driver_ratio, own_floors, plan_class, plan_ratio
from loadworthy.weigh import SPEAKS_FROM_DB

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.beliefs import Belief, Standing, SymptomView
    from loadworthy.declarations import Catalogue, Cause
    from loadworthy.findings import Capacity, Demand, Grade, Verdict

__all__ = [
    "HAZARDS",
    "LOSSES",
    "CapacityRisk",
    "Hazardous",
    "Risk",
    "build",
    "capacity",
    "driver_ratio",
    "h_plan",
    "level",
    "own_floors",
    "plan_class",
    "plan_ratio",
    "probability_level",
    "rank",
]

#: Default loss per severity category, in the house's currency units (judgement).
LOSSES: Mapping[int, float] = MappingProxyType({1: 30_000.0, 2: 8_000.0, 3: 1_500.0, 4: 300.0})
#: A cause that no installed plugin declares (judgement).
UNDECLARED_SEVERITY, UNDECLARED_HAZARD, UNDECLARED_PRIOR = 3, "load", 0.05
#: Inactive risks deserve a line from this P, or from this share of the loss of category 2 (judgement).
LISTED_FROM_P, LISTED_FROM_LOSS = 0.2, 0.01

_BANDS = (("A", 0.1), ("B", 0.01), ("C", 0.001), ("D", 1e-6))
_MATRIX = {
    "A": ("high", "high", "serious", "medium"),
    "B": ("high", "high", "serious", "medium"),
    "C": ("high", "serious", "medium", "low"),
    "D": ("serious", "medium", "medium", "low"),
    "E": ("medium", "medium", "medium", "low"),
}
_LEVELS = ("high", "serious", "medium", "low")
_GRADE_RANK = {grade: rank for rank, grade in enumerate(GRADES)}


def probability_level(p_fail: float) -> str:
    """Return the probability level A (frequent) to E (improbable) of a chance of failure within the horizon.

    F, eliminated, needs the part itself gone: its plugin then declares no such cause. Source: MIL-STD-882E, table A-II.

    >>> [probability_level(p) for p in (0.1, 0.0999, 0.001, 1e-6, 9e-7)]
    ['A', 'B', 'C', 'D', 'E']
    """
    return next((name for name, least in _BANDS if p_fail >= least), "E")


def level(p_fail: float, severity: int) -> str:
    """Return ``high``, ``serious``, ``medium`` or ``low``; KeyError for a severity outside 1 to 4.

    Source: MIL-STD-882E, table III.

    >>> level(0.2, 4), level(0.005, 2), level(1e-5, 1), level(0.0, 4)
    ('medium', 'serious', 'serious', 'low')
    """
    if severity not in (1, 2, 3, 4):
        raise KeyError(severity)
    return _MATRIX[probability_level(p_fail)][severity - 1]


# Risks ---------------------------------------------------------------------------------------------------------------


def subject_key(subject: str | None) -> tuple[str, int, str]:
    """Return a sorting key that puts "part 2" before "part 10" and no subject first.

    >>> sorted(["part 10", "part 2"], key=subject_key)
    ['part 2', 'part 10']
    """
    text = subject or ""
    head, _, tail = text.rpartition(" ")
    return (head, int(tail), text) if tail.isascii() and tail.isdigit() else (text, -1, text)


def _told_apart(value: float) -> float:
    """Return a figure to 12 digits: what differs behind them differs by the order of a sum or the unit of a reading."""
    return float(f"{value:.12g}")


def rank(risks: Iterable[Risk]) -> tuple[Risk, ...]:
    """Return risks by level, ``person`` first, expected loss, P, cause, subject: a total order (method, section 6)."""
    return tuple(
        sorted(
            risks,
            key=lambda r: (
                _LEVELS.index(r.level),
                not r.person,
                -_told_apart(r.expected_loss),
                -_told_apart(r.probability),
                r.cause,
                subject_key(r.subject),
            ),
        )
    )


def build(
    beliefs: Iterable[Belief],
    *,
    catalogue: Catalogue,
    demand: Demand | None,
    standings: Sequence[Standing] = (),
    symptoms: Sequence[SymptomView] = (),
    capacities: Iterable[Capacity] = (),
    losses: Mapping[int, float] = LOSSES,
) -> tuple[Risk, ...]:
    """Return every risk in rank order: one per belief, and one per capacity that no belief names.

    Several capacities of one cause and subject count as the worst of them. ``losses`` by severity category.
    """
    builder = _Builder(catalogue, demand, standings, symptoms, losses)
    beliefs = tuple(beliefs)
    believed = {(b.cause, b.subject) for b in beliefs}
    bounds: dict[tuple[str, str | None], list[Capacity]] = {}
    for one in capacities:
        # A part that exists once has no subject of its own.
        placed = (one.cause, one.subject) in believed or (one.cause, None) not in believed
        bounds.setdefault((one.cause, one.subject if placed else None), []).append(one)
    risks = [
        builder.risk(belief.cause, belief.subject, belief, bounds.pop((belief.cause, belief.subject), ()))
        for belief in beliefs
    ]
    risks += [builder.risk(cause, subject, None, limits) for (cause, subject), limits in bounds.items()]
    return rank(risks)


class _Builder:
    """Turns beliefs and capacities into risks; ratios of one driver are computed once."""

    def __init__(
        self,
        catalogue: Catalogue,
        demand: Demand | None,
        standings: Sequence[Standing],
        symptoms: Sequence[SymptomView],
        losses: Mapping[int, float],
    ) -> None:
        self._catalogue = catalogue
        self._demand = demand
        self._losses = losses
        # Should two findings share an id, the worse one stays.
        self._standings = {s.id: s for s in sorted(standings, key=lambda s: _GRADE_RANK[s.grade or "clean"])}
        self._of_rule: dict[tuple[str, str], list[Standing]] = {}
        for one in self._standings.values():
            self._of_rule.setdefault((one.finding.rule, one.finding.sheet), []).append(one)
        self._symptoms = {view.id: view for view in symptoms}
        self._shares: dict[tuple[str, str | None], dict[str, float]] = {}
        for view in symptoms:
            for share in view.shares:
                self._shares.setdefault((share.cause, share.subject), {})[view.id] = share.share
        self._at_limit: dict[str, list[Standing]] = {}
        for one in self._standings.values():
            for limit in {v.limit for v in one.finding.verdicts} if one.stands else ():
                self._at_limit.setdefault(limit, []).append(one)
        self._ratios: dict[str, Ratio] = {}
        load = next((q.id for q in sorted(catalogue.quantities.values(), key=lambda q: q.id) if q.role == "load"), "")
        self._load = load or "torque"

    def _ratio(self, driver: str) -> Ratio:
        known = self._ratios.get(driver)
        if known is None:
            known = self._ratios[driver] = driver_ratio(driver, self._demand, self._catalogue.quantities)
        return known

    def _hazard(self, cause: Cause | None, subject: str | None, ratio: float) -> tuple[str, Hazardous, bool]:
        """Return the worst hazard class in force with the person flag: the cause's own, or that of a variant."""
        if cause is None:
            return UNDECLARED_HAZARD, HAZARDS[UNDECLARED_HAZARD], False
        name, person = str(cause.hazard), cause.person
        for variant in cause.variants:
            if any(_stands_at(s, variant.limit, variant.grade, subject) for s in self._at_limit.get(variant.limit, ())):
                person = person or variant.person
                name = max(name, str(variant.hazard), key=lambda n: (h_plan(*HAZARDS[n], ratio), HAZARDS[n].h0, n))
        return name, HAZARDS[name], person

    def risk(self, cause: str, subject: str | None, belief: Belief | None, limits: Sequence[Capacity]) -> Risk:
        """Return one risk. ``limits``: capacities of this cause here; P is then theirs, whatever else is believed."""
        declared = self._catalogue.causes.get(cause)
        driver = declared.driver if declared is not None else self._load
        ratio = self._ratio(driver)
        hazard, (h0, exponent), person = self._hazard(declared, subject, ratio.value)
        h = h_plan(h0, exponent, ratio.value)
        p = belief.p if belief is not None else 0.0
        failure, active = p * h, belief is not None and belief.active
        worst: CapacityRisk | None = None
        if limits:
            prior = belief.prior if belief is not None else declared.prior if declared is not None else UNDECLARED_PRIOR
            found = [capacity(one, self._demand, HAZARDS[hazard], prior, self._catalogue.quantities) for one in limits]
            worst = max(found, key=lambda f: (f.failure, f.probability, not f.known, f.ratio, f.speed or 0.0))
            p, failure = max(f.probability for f in found), worst.failure
            h, active = worst.h_plan, any(f.judged for f in found)
            ratio = Ratio(worst.ratio, worst.speed, next((f.assumption for f in found if f.assumption), None))
        severity = declared.severity if declared is not None else UNDECLARED_SEVERITY
        loss = self._losses[severity]
        findings, accusers, aside = self._bearing(cause, subject, belief, limits)
        listed = active or p >= LISTED_FROM_P or failure * loss >= LISTED_FROM_LOSS * self._losses[2]
        return Risk(
            id=f"{cause}@{subject}" if subject else cause,
            cause=cause,
            subject=subject,
            text=declared.text if declared is not None else _undeclared(cause),
            level=level(failure, severity),
            probability_level=probability_level(failure),
            severity=severity,
            person=person or severity == 1,
            probability=p,
            active=active,
            failure_probability=failure,
            left_alone=p * h0,
            expected_loss=failure * loss,
            loss=loss,
            hazard=hazard,
            h0=h0,
            exponent=exponent,
            driver=driver,
            ratio=ratio.value,
            h_plan=h,
            listed=listed,
            ratio_speed=ratio.speed,
            capacity=bool(limits) or (declared is not None and declared.capacity),
            origin="gap" if worst is not None and not worst.known else "evidence",
            declared=declared is not None,
            share=self._shares.get((cause, subject), {}),
            findings=findings,
            accused_by=accusers,
            set_aside=aside,
            conflicting=belief is not None and belief.conflicting,
            excluded_share=belief.excluded_share if belief is not None else None,
            remedy=declared.remedy if declared is not None else "",
            retest=declared.retest if declared is not None else (),
            belief=belief,
            assumption=ratio.assumption,
            capacity_steps=worst.steps if worst is not None else (),
        )

    def _bearing(
        self, cause: str, subject: str | None, belief: Belief | None, limits: Sequence[Capacity]
    ) -> tuple[tuple[Standing, ...], tuple[str, ...], tuple[str, ...]]:
        """Return the findings that bear on a risk, the ids of those that speak for it, and of those set aside."""
        heard = belief is not None and (belief.weights or belief.named_by or belief.by_symptom)
        if not heard and not limits:
            return (), (), ()
        bearing: set[str] = set()
        accusers: set[str] = set()
        named = {one.finding for one in limits if one.finding}
        if named:
            for s in self._standings.values():
                if s.stands and s.finding.subject in (None, subject) and named & {s.id, s.finding.rule}:
                    bearing.add(s.id)
        if belief is not None:
            for weight in belief.weights:
                bearing.add(weight.finding)
                if weight.db > SPEAKS_FROM_DB or (weight.db > 0.0 and self._graded(weight.finding)):
                    accusers.add(weight.finding)
            bearing.update(belief.named_by)
            accusers.update(belief.named_by)
            for id, _, _, _, p_beyond in belief.by_symptom:
                seen = self._seen_by(id)
                bearing.update(seen)
                if p_beyond >= 0.05:
                    accusers.update(seen)
        here = [self._standings[id] for id in sorted(bearing) if id in self._standings]
        aside = tuple(s.id for s in here if any((c, at) == (cause, subject) for c, at, _ in s.set_aside))
        standing = {s.id for s in here if s.stands and s.id not in aside}
        return tuple(here), tuple(sorted(accusers & standing)), aside

    def _graded(self, finding: str) -> bool:
        """Tell whether a finding has a grade: a clean one leaves a trace of weight that accuses nobody."""
        standing = self._standings.get(finding)
        return standing is not None and standing.grade not in (None, "clean")

    def _seen_by(self, symptom_id: str) -> tuple[str, ...]:
        """Return the findings of the rule that reported a symptom, on its sheet and at its subject."""
        view = self._symptoms.get(symptom_id)
        if view is None:
            return ()
        return tuple(
            s.id
            for s in self._of_rule.get((view.rule, view.sheet), ())
            if view.subject is None or s.finding.subject in (None, view.subject)
        )


def _undeclared(cause: str) -> str:
    return f"{cause.replace('-', ' ')} (declared by no installed plugin)"


def _stands_at(one: Standing, limit: str, grade: Grade, subject: str | None) -> bool:
    """Say whether a finding stands at ``grade`` or above by this limit, at this subject."""
    if one.grade is None or (subject is not None and one.finding.subject not in (None, subject)):
        return False
    return any(_exceeded(v, grade) for v in one.finding.verdicts if v.limit == limit)


def _exceeded(verdict: Verdict, grade: Grade) -> bool:
    """Say whether the limit's own grade is reached: by simple acceptance, p >= 0.5."""
    return verdict.p_beyond >= 0.5 and _GRADE_RANK[verdict.grade] >= _GRADE_RANK[grade]
