"""The weight of evidence for and against each cause: groups, conflict, repairs, symptoms (method, sections 3 and 4).

``weigh`` is a pure function of results, case, day and declarations. Everything that led to a probability is kept.
"""

from __future__ import annotations

from math import fsum
from typing import TYPE_CHECKING

from loadworthy.beliefs import Belief, Weighed, WeightUse
from loadworthy.evidence import Places, Weigher
from loadworthy.findings import Finding, Symptom
from loadworthy.mending import Mending
from loadworthy.record import NamedTuple, evolve
from loadworthy.standing import History, judge, severity
from loadworthy.stats import group_net, posterior, raised, ratio
from loadworthy.suspicion import SEEN_FROM, standing_symptoms, view

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from loadworthy.beliefs import Standing
    from loadworthy.case import Case, Repair
    from loadworthy.declarations import Catalogue
    from loadworthy.evidence import Item, Key
    from loadworthy.findings import Result
    from loadworthy.suspicion import Seen

P_MIN, P_MAX = 0.0001, 0.9999
#: Only a net weight (dB) above this speaks for a cause; what a ratio leaves at a p of nearly 0 does not (judgement).
SPEAKS_FROM_DB = 0.1
#: Prior after a repair, and after a repair that a clean retest has proven (judgement).
REPAIRED, PROVEN = 0.15, 0.05
#: Prior of a cause that no installed plugin declares (judgement).
UNDECLARED_PRIOR = 0.05
#: Least probability of a cause that a finding names by state, by grade (judgement).
STATE_FLOORS = {"fix_first": 0.2, "stop": 0.5}
#: Two runs of one day that differ by more than this many standard uncertainties ask for a third (ISO 5725-6:1994, 95 %
#: critical difference of two results, from memory).
CRITICAL_DIFFERENCE = 2.8


def weigh(
    results: Sequence[tuple[str, Result]],
    *,
    case: Case,
    day: datetime.date,
    catalogue: Catalogue,
    subjects: Mapping[str, Sequence[str]],
) -> Weighed:
    """Weigh all findings and symptoms of a case as known on ``day``.

    ``results`` are (plugin id, result) pairs in any order; ``subjects`` lists the members of each located kind. Voided
    sheets and everything dated later than ``day`` must already be gone from ``case``.
    """
    return _Weighing(results, case, day, catalogue, subjects).weighed()


class _Sums(NamedTuple):
    positive: float
    negative: float
    net: float
    conflicting: bool


class _Weighing:
    """One weighing of all evidence; asks another of what was known on the eve of each repair."""

    def __init__(
        self,
        results: Sequence[tuple[str, Result]],
        case: Case,
        day: datetime.date,
        catalogue: Catalogue,
        subjects: Mapping[str, Sequence[str]],
        every: Sequence[tuple[str, Result]] | None = None,
    ) -> None:
        self._results = results
        self._every = results if every is None else every
        self._case = case
        self._catalogue = catalogue
        self._subjects = subjects
        self._places = Places(catalogue, subjects)
        self._mending = Mending(case, catalogue, self._places, self._every)
        self._history = History({s.id: s for s in case.sheets}, self._mending.repairs, self._mending.treats)
        self._standings = self._history.settle(judge(p, r) for p, r in results if isinstance(r, Finding))
        self._accusing = {s.id for s in self._standings if s.stands and severity(s.grade) >= severity("watch")}
        weigher = Weigher(case, catalogue, self._places, day)
        self._items: dict[Key, list[Item]] = {}
        for item in weigher.items(self._standings):
            self._items.setdefault(item.key, []).append(item)
        self._named = self._by_state()
        self._seen = tuple(standing_symptoms(results, self._standings, catalogue, self._places, weigher))
        self._suspects: dict[Key, list[tuple[Seen, float]]] = {}
        for seen in self._seen:
            for key, weight in seen.candidates:
                self._suspects.setdefault(key, []).append((seen, weight))
        self._eves: dict[str, _Weighing] = {}
        self._beliefs: dict[Key, Belief] = {}

    def weighed(self) -> Weighed:
        """Return the whole weighing in a fixed order."""
        keys = {(cause, at) for cause in self._catalogue.causes for at in self._places.members(cause)}
        keys.update(self._items, self._named, self._suspects)
        beliefs = [self.belief(key) for key in sorted(keys, key=_key_order)]
        return Weighed(
            standings=self._with_set_aside(),
            beliefs=tuple(self._contradictions(beliefs)),
            symptoms=tuple(view(seen, self._ratio_without(seen), self._catalogue) for seen in self._seen),
            advice=tuple(sorted({*self._repeat_advice(), *self._order_advice()})),
            unproven_repairs=tuple(self._mending.unproven(self._standings, self._history)),
        )

    # Beliefs -----------------------------------------------------------------------------------------------------

    def belief(self, key: Key) -> Belief:
        """Return the probability of one cause at one subject, with its derivation."""
        known = self._beliefs.get(key)
        if known is None:
            known = self._beliefs[key] = self._believe(key)
        return known

    def _believe(self, key: Key) -> Belief:
        repair = self._mending.last(key)
        prior, why, eve, proven = self._prior_now(key, repair)
        every = self._items.get(key, [])
        if repair is None and not every and key not in self._suspects and key not in self._named:
            return _unheard(key, prior, why, key[0] in self._catalogue.causes)
        items = self._after(every, repair)
        sums = _sum(items)
        own = _clip(posterior(prior, sums.net))
        p, by_symptom = own, []
        for seen, weight in self._suspects.get(key, ()):
            if self._explains(seen, repair):
                net = _sum(items, without=seen.group).net
                p_sym = _clip(posterior(weight, net))
                p = max(p, raised(own, p_sym, seen.symptom.p_beyond))
                by_symptom.append((seen.id, weight, net, p_sym, seen.symptom.p_beyond))
        named = [
            (id, floor)
            for id, floor, sheet in self._named.get(key, ())
            if repair is None or self._history.side(sheet, repair) >= 0
        ]
        floor = max((value for _, value in named), default=0.0)
        return Belief(
            cause=key[0],
            subject=key[1],
            prior=prior,
            prior_why=why,
            positive=sums.positive,
            negative=sums.negative,
            net=sums.net,
            own=own,
            unfloored=p,
            p=max(p, floor),
            active=bool(named)
            or sums.net > SPEAKS_FROM_DB
            or any(p_seen >= SEEN_FROM for *_, p_seen in by_symptom)
            or any(item.db > 0.0 and item.finding in self._accusing for item in items),
            conflicting=sums.conflicting,
            floor=floor,
            named_by=tuple(sorted({id for id, _ in named})),
            by_symptom=tuple(by_symptom),
            weights=_as_used(every, items),
            eve=eve,
            repair=repair.id if repair is not None else "",
            repair_proven=proven,
            declared=key[0] in self._catalogue.causes,
        )

    def _prior_now(self, key: Key, repair: Repair | None) -> tuple[float, str, float | None, bool]:
        """Return the prior, its reason, P on the eve of the last repair and whether that repair is proven."""
        if repair is not None:
            eve = self._eve(repair).belief(key).unfloored
            proven = self._mending.proven(key, repair, self._standings, self._history)
            state = "and proven by a clean retest" if proven else "but not proven by its retest"
            why = f"repaired ({repair.id}) {state}; {eve:.4g} on the eve"
            return min(eve, PROVEN if proven else REPAIRED), why, eve, proven
        declared = self._catalogue.causes.get(key[0])
        if declared is None:
            return UNDECLARED_PRIOR, "declared by no installed plugin", None, False
        members = self._places.members(key[0])
        if key[1] is not None and key[1] in members:
            why = f"{declared.prior:g} for a vehicle of unknown history, shared by {len(members)}"
            return declared.prior / len(members), why, None, False
        return declared.prior, f"{declared.prior:g} for a vehicle of unknown history", None, False

    def _eve(self, repair: Repair) -> _Weighing:
        """Return the weighing on the eve of a repair: only what may have come before it."""
        eve = self._eves.get(repair.id)
        if eve is None:
            side = self._history.side
            before = self._mending.repairs[: self._mending.repairs.index(repair)]
            case = evolve(
                self._case,
                sheets=tuple(s for s in self._case.sheets if side(s.id, repair) <= 0),
                repairs=before,
                events=tuple(e for e in self._case.events if e.date < repair.date),
            )
            results = [
                (plugin, r)
                for plugin, r in self._results
                if not isinstance(r, (Finding, Symptom)) or side(r.sheet, repair) <= 0
            ]
            eve = _Weighing(results, case, repair.date, self._catalogue, self._subjects, self._every)
            self._eves[repair.id] = eve
        return eve

    def _after(self, items: list[Item], repair: Repair | None) -> list[Item]:
        """Return the weights that the last repair leaves standing; unordered ones only where they accuse."""
        if repair is None:
            return items
        sides = ((item, self._history.side(item.sheet, repair)) for item in items)
        return [item for item, side in sides if side > 0 or (side == 0 and item.db > 0.0)]

    def _explains(self, seen: Seen, repair: Repair | None) -> bool:
        """Return whether no repair has set a candidate's membership in the symptom aside."""
        return repair is None or self._history.side(seen.symptom.sheet, repair) >= 0

    def _ratio_without(self, seen: Seen) -> Callable[[Key], float | None]:
        def ratio_of(key: Key) -> float | None:
            repair = self._mending.last(key)
            if not self._explains(seen, repair):
                return None
            return ratio(_sum(self._after(self._items.get(key, []), repair), without=seen.group).net)

        return ratio_of

    def _by_state(self) -> dict[Key, list[tuple[str, float, str]]]:
        """Return per cause the findings that name it by state, with the floor that their grade sets."""
        named: dict[Key, list[tuple[str, float, str]]] = {}
        for one in self._standings:
            if one.id in self._accusing:
                floor = STATE_FLOORS.get(one.grade or "", 0.0)
                for cause, subject in one.finding.names:
                    for key in self._places.keys(cause, subject):
                        named.setdefault(key, []).append((one.id, floor, one.finding.sheet))
        return named

    def _contradictions(self, beliefs: list[Belief]) -> list[Belief]:
        """Mark causes that exclude each other and yet are both likely; their P stays as it is."""
        by_key = {(b.cause, b.subject): b for b in beliefs}
        out = []
        for belief in beliefs:
            declared = self._catalogue.causes.get(belief.cause)
            excludes = declared.excludes if declared is not None else ()
            rivals = [by_key[(c, belief.subject)] for c in excludes if (c, belief.subject) in by_key]
            total = belief.p + sum(rival.p for rival in rivals)
            crowded = bool(rivals) and total > 1.0
            out.append(evolve(belief, excluded_share=belief.p / total) if crowded else belief)
        return out

    def _with_set_aside(self) -> tuple[Standing, ...]:
        """Return the standings, each with the causes for which a repair has set it aside."""
        if not self._mending.repairs:
            return self._standings
        out = []
        for one in self._standings:
            aside = []
            for key in sorted(self._mending.causes_of(one.finding), key=_key_order):
                repair = self._mending.last(key)
                if repair is not None and self._history.side(one.finding.sheet, repair) < 0:
                    aside.append((key[0], key[1], repair.id))
            out.append(evolve(one, set_aside=tuple(aside)) if aside else one)
        return tuple(out)

    # Advice ------------------------------------------------------------------------------------------------------

    def _repeat_advice(self) -> Iterable[str]:
        """Yield advice where two runs of one day differ by more than their scatter allows."""
        sheets = {s.id: s for s in self._case.sheets}
        runs: dict[tuple[str, str, str], list[tuple[float, float]]] = {}
        for one in self._standings:
            sheet = sheets.get(one.finding.sheet)
            used = one.finding.readings[0] if one.finding.readings else None
            if sheet is None or used is None or not used.u or not isinstance(used.value, float):
                continue
            slot = one.finding.rule, one.finding.subject or "", sheet.date.isoformat()
            runs.setdefault(slot, []).append((used.value, used.u))
        for (rule, subject, date), values in runs.items():
            low, high = min(values), max(values)
            if high[0] - low[0] > CRITICAL_DIFFERENCE * ((low[1] ** 2 + high[1] ** 2) / 2.0) ** 0.5:
                at = f" at {subject}" if subject else ""
                yield f"repeat the measurement: {rule}{at} differs too much within {date}"

    def _order_advice(self) -> Iterable[str]:
        """Yield advice to give times where a sheet and a repair of one day cannot be ordered."""
        for repair in self._mending.repairs:
            for sheet in self._case.sheets:
                if sheet.date == repair.date and self._history.side(sheet.id, repair) == 0:
                    yield f"give times: was sheet {sheet.id} taken before or after repair {repair.id}?"


def _unheard(key: Key, prior: float, why: str, declared: bool) -> Belief:
    """Return the belief in a cause of which no evidence speaks; in a large vocabulary that is nearly every one."""
    p = _clip(prior)
    return Belief(
        cause=key[0],
        subject=key[1],
        prior=prior,
        prior_why=why,
        positive=0.0,
        negative=0.0,
        net=0.0,
        own=p,
        unfloored=p,
        p=p,
        active=False,
        conflicting=False,
        declared=declared,
    )


def _clip(p: float) -> float:
    """Keep a probability within what evidence of this kind can show."""
    return min(P_MAX, max(P_MIN, p))


def _sum(items: Iterable[Item], without: str | None = None) -> _Sums:
    """Add up per group the largest positive and the most negative weight, and set both sides against each other."""
    highest: dict[str, float] = {}
    lowest: dict[str, float] = {}
    for item in items:
        if item.group != without:
            if item.db > 0.0:
                highest[item.group] = max(highest.get(item.group, 0.0), item.db)
            else:
                lowest[item.group] = min(lowest.get(item.group, 0.0), item.db)
    positive, negative = fsum(highest.values()), -fsum(lowest.values())
    net, conflicting = group_net(positive, negative)
    return _Sums(positive, negative, net, conflicting)


def _as_used(items: Sequence[Item], kept: Sequence[Item]) -> tuple[WeightUse, ...]:
    """Return all weights on a cause, marking those that count: the largest of each sign per group."""
    best: dict[tuple[str, bool], Item] = {}
    for item in sorted(kept, key=lambda i: (-abs(i.db), i.finding)):
        best.setdefault((item.group, item.db > 0.0), item)
    counting = set(map(id, best.values()))
    standing = set(map(id, kept))
    used = (
        WeightUse(
            cause=item.key[0],
            subject=item.key[1],
            group=item.group,
            finding=item.finding,
            raw_db=item.raw,
            fade=item.fade,
            db=item.db,
            counts=id(item) in counting,
            note=item.note if id(item) in standing else "set aside by a repair",
        )
        for item in items
    )
    return tuple(sorted(used, key=lambda w: (w.group, w.finding, w.raw_db)))


def _key_order(key: Key) -> tuple[str, str]:
    return key[0], key[1] or ""
