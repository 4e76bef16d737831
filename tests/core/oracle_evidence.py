"""The method's sections 2 to 4 once more, in plain Python and straight from the text (see ``oracle``)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import evolve

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Sequence

    from loadworthy.sdk import Case, Demand, Finding, Repair, Sheet

Key = tuple[str, str | None]
GRADES = ("clean", "note", "watch", "fix_first", "stop")
FLOORS = {"fix_first": 0.2, "stop": 0.5}


def posterior(prior: float, net: float) -> float:
    odds = prior / (1.0 - prior) * 10.0 ** (net / 10.0)
    return min(0.9999, max(0.0001, odds / (1.0 + odds)))


def net_of(found: Sequence[tuple[str, float]]) -> float:
    p = n = 0.0
    for group in sorted({g for g, _ in found}):
        p += min(20.0, max([0.0, *(db for g, db in found if g == group)]))
        n += min(20.0, -min([0.0, *(db for g, db in found if g == group)]))
    k = min(1.0, max(0.0, p - 5.0))
    return max(-40.0, min(40.0, p - (n - k * max(0.0, n - 6.0) / 2.0)))


class Run(NamedTuple):
    """A finding on its sheet, judged by itself."""

    finding: Finding
    sheet: Sheet
    grade: str
    fired: bool
    accept: bool
    p: float


class Stand(NamedTuple):
    """A run among the others of its rule and subject."""

    run: Run
    state: str
    grade: str
    accept: bool

    @property
    def stands(self) -> bool:
        return self.state != "history"

    @property
    def key(self) -> tuple[str, str | None, str]:
        return self.run.finding.rule, self.run.finding.subject, self.run.finding.sheet


def run(finding: Finding, sheet: Sheet) -> Run:
    judged = []
    for v in finding.verdicts:
        rank = GRADES.index(v.grade)
        borderline = (min(2, rank), rank >= 3, v.p_beyond)
        judged.append((rank, False, v.p_beyond) if v.p_beyond >= 0.5 else borderline if v.p_beyond >= 0.05
                      else (0, False, v.p_beyond))  # fmt: skip
    grade, accept, p = max(judged)
    fired = any(v.p_beyond >= 0.5 for v in finding.verdicts)
    return Run(finding, sheet, GRADES[grade], fired, accept or (finding.accept and grade > 0), p)


class Evidence:
    """One case on one day. ``results`` are what the checks returned, ``rows`` the required evidence."""

    def __init__(self, case: Case, day: datetime.date, catalogue: Any, demand: Demand | None, results: Sequence[Any],
                 subjects: dict[str, tuple[str, ...]], rows: Sequence[Any]) -> None:  # fmt: skip
        self.case, self.day, self.cat, self.demand = case, day, catalogue, demand
        self.all, self.subjects, self.rows = results, subjects, rows
        self.sheets = {s.id: s for s in case.sheets}
        self.repairs = sorted(case.repairs, key=lambda r: (r.date, str(r.time or ""), r.id))
        self.symptoms = [r for r in self.of("Symptom") if r.sheet in self.sheets]
        self.findings = [f for f in self.of("Finding") if f.sheet in self.sheets]
        self.runs = [run(f, self.sheets[f.sheet]) for f in self.findings if not f.unknown]
        self.stands = list(self.standings(self.runs))

    def of(self, kind: str) -> list[Any]:
        return [r for r in self.all if type(r).__name__ == kind]

    # Section 2: order in time, which sheet governs, carried faults

    def side(self, sheet: Sheet, repair: Repair | None) -> int:
        """-1 before the repair, +1 after it (or without one), 0 where nobody can tell."""
        if repair is None or sheet.date != repair.date:
            return 1 if repair is None or sheet.date > repair.date else -1
        if sheet.time and repair.time and sheet.time != repair.time:
            return 1 if sheet.time > repair.time else -1
        if sheet.retest_of == repair.id:
            return 1
        marked = [s for s in self.case.sheets if s.section == sheet.section and s.retest_of == repair.id]
        proofs = [s for s in marked if s.date == sheet.date]
        if sheet.time and any(s.time and s.time < sheet.time for s in proofs):
            return 1
        return -1 if proofs else 0

    def before(self, a: Sheet, b: Sheet) -> bool:
        if a.date != b.date:
            return a.date < b.date
        if a.time and b.time and a.time != b.time:
            return a.time < b.time
        sides = [(self.side(a, r), self.side(b, r)) for r in self.repairs if r.date == a.date]
        return any(x < 0 < y for x, y in sides) and not any(y < 0 < x for x, y in sides)

    def standings(self, runs: Sequence[Run]) -> Iterable[Stand]:
        for key in dict.fromkeys((r.finding.rule, r.finding.subject) for r in runs):
            own = [r for r in runs if (r.finding.rule, r.finding.subject) == key]
            last = [r for r in own if not any(self.before(r.sheet, o.sheet) for o in own)]
            worst = max((GRADES.index(r.grade), r.accept, r.p) for r in last)
            # The core takes probabilities within 1e-9 for equal: they differ by rounding.
            equal = [r for r in last if (GRADES.index(r.grade), r.accept) == worst[:2] and r.p > worst[2] - 1e-9]
            governing = max(equal, key=lambda r: r.sheet.id)
            for r in own:
                if r is governing:
                    yield Stand(r, "governs", r.grade, r.accept)
                elif r.fired and not self.healed(r, own):
                    milder = {"fix_first": "watch", "stop": "fix_first"}.get(r.grade)
                    yield Stand(r, "carried", milder or "note", milder is not None)
                else:
                    yield Stand(r, "history", "clean", False)

    def healed(self, r: Run, own: Sequence[Run]) -> bool:
        clean = [o.sheet for o in own if o.grade == "clean" and self.before(r.sheet, o.sheet)]
        return len({s.date for s in clean}) >= 2 or any(
            self.side(r.sheet, repair) < 0 and self.repaired(repair, r) and any(self.side(s, repair) > 0 for s in clean)
            for repair in self.repairs
        )

    def repaired(self, repair: Repair, r: Run) -> bool:
        at = r.finding.subject
        if any(t.what == r.finding.rule and t.subject in (None, at) for t in repair.treats):
            return True
        about = self.speaks_for(r.finding) or self.speaks_for(r.finding, least=-math.inf)
        if about:
            return any(self.treats(repair, c, s) for c, s in about)
        return any(t.subject is None or at in (None, t.subject) for t in repair.treats)

    # Section 3: who is meant, weights, fading

    def spread(self, what: str) -> list[str]:
        covered = self.cat.broader[what].covers if what in self.cat.broader else ()
        return [part for name in covered for part in self.spread(name)] or [what]

    def places(self, name: str, subject: str | None) -> list[Key]:
        """Where a cause named at ``subject`` is meant: everywhere that it can be, where that says nothing."""
        out: list[Key] = []
        for cause in self.spread(name):
            kind = self.cat.causes[cause].located if cause in self.cat.causes else ""
            members = self.subjects.get(kind, () if kind == "none" else None)
            if not kind or (subject is not None and (members is None or len(members) > 1)):
                out.append((cause, subject))
            else:
                out += [(cause, at) for at in (members if members and len(members) > 1 else (None,))]
        return out

    def speaks_for(self, f: Finding, least: float = 0.0) -> list[Key]:
        """The causes that a finding names by state or that its rule can speak for."""
        named = [(c, f.subject) for band in self.cat.rules[f.rule].bands.values() for c, lr in band.items()
                 if math.log10(lr) > least]  # fmt: skip
        named += [(w.cause, w.subject) for w in f.weights if w.db > least] + list(f.names)
        return [key for name, at in named for key in self.places(name, at)]

    def meant(self, what: str) -> set[str]:
        """The causes that a word of ``treats`` means."""
        if what not in self.cat.rules:
            return set(self.spread(what))
        named = {c for band in self.cat.rules[what].bands.values() for c, lr in band.items() if lr > 1.0}
        causes = {cause for name in named for cause in self.spread(name)}
        return causes | {c for f in self.of("Finding") if f.rule == what for c, _ in self.speaks_for(f)}

    def treats(self, repair: Repair, cause: str, subject: str | None) -> bool:
        return any(cause in self.meant(t.what) and (None in (t.subject, subject) or t.subject == subject)
                   for t in repair.treats)  # fmt: skip

    def last(self, key: Key) -> Repair | None:
        return next((r for r in reversed(self.repairs) if self.treats(r, *key)), None)

    def group(self, rule: str, sheet: str, given: str = "") -> str:
        own = given or self.cat.rules[rule].group or rule
        if own not in self.cat.groups:
            return f"{rule.split('.')[0]}/{own}#{sheet}"
        return f"{own}:{sheet}" if self.cat.groups[own].per_sheet else own

    def weights(self, r: Run) -> list[tuple[Key, float, str]]:
        """(cause and subject, decibans before fading, group) of one finding."""
        f, rule = r.finding, self.cat.rules[r.finding.rule]
        names = dict.fromkeys(c for band in rule.bands.values() for c in band)
        given = [(c, f.subject, 10.0 * math.log10(sum(p * rule.bands[b].get(c, 1.0) for b, p in f.bands.items())), "")
                 for c in names if f.bands]  # fmt: skip
        given += [(w.cause, w.subject, w.db, w.group) for w in f.weights]
        told = {cause for name in (*names, *(w.cause for w in f.weights)) for cause in self.spread(name)}
        if r.grade == "clean" and rule.test:
            db = 10.0 * math.log10(0.3 if self.cat.tests[rule.test].weak else 0.1)
            given += [(c.id, f.subject, db, "") for c in self.cat.causes.values()
                      if rule.test in c.retest and c.id not in told and not c.capacity]  # fmt: skip
        out = [(key, db, self.group(f.rule, f.sheet, g)) for c, s, db, g in given for key in self.places(c, s)]
        return [(key, max(-20.0, min(20.0, db)), group) for key, db, group in out]

    def half_lives(self, sheet: Sheet) -> float:
        section, days = self.cat.sections[sheet.section], (self.day - sheet.date).days
        dated = (*self.case.sheets, *self.case.repairs, *self.case.events)
        read = max(((d.odometer, d.date) for d in dated if d.odometer is not None), default=None)
        km = 40.0 * days
        if read and sheet.odometer is not None:
            km = (read[0] - sheet.odometer) / 1000.0 + 40.0 * (self.day - read[1]).days
        return float(max(days / section.half_life_days, km / section.half_life_km))

    def ended(self, sheet: Sheet, kinds: Sequence[str] = ()) -> bool:
        any_event = self.cat.sections[sheet.section].ended_by_any_event
        return any((any_event or e.kind in kinds) and e.date >= sheet.date for e in self.case.events)

    def fade(self, cause: str, sheet: Sheet) -> float:
        kinds = self.cat.causes[cause].events if cause in self.cat.causes else ()
        return 0.0 if self.ended(sheet, kinds) else float(0.5 ** self.half_lives(sheet))

    # Sections 3 and 4: probability, repairs, symptoms, floors

    def eve(self, repair: Repair) -> Evidence:
        """What was known before a repair; unordered sheets of its day count as before it."""
        case = evolve(
            self.case,
            sheets=tuple(s for s in self.case.sheets if self.side(s, repair) <= 0),
            repairs=tuple(self.repairs[: self.repairs.index(repair)]),
            events=tuple(e for e in self.case.events if e.date < repair.date),
        )
        return Evidence(case, repair.date, self.cat, self.demand, self.all, self.subjects, self.rows)

    def belief(self, key: Key) -> dict[str, Any]:
        cause, subject = key
        since, declared = self.last(key), self.cat.causes.get(cause)
        prior, members = (declared.prior, self.subjects.get(declared.located, ())) if declared else (0.05, ())
        if subject in members:
            prior /= len(members)
        if since:
            prior = min(self.eve(since).belief(key)["unfloored"], 0.05 if self.proven(key, since) else 0.15)
        left = [(st, self.side(st.run.sheet, since)) for st in self.stands if st.stands]
        left = [(st, side) for st, side in left if side >= 0]
        found, floor, accused, seen = [], 0.0, False, 0.0
        for st, side in left:
            loud = GRADES.index(st.grade) >= 2
            for at, db, group in self.weights(st.run):
                if at == key and (db > 0.0 or (side > 0 and st.state == "governs")):
                    found.append((group, db if db > 0.0 else db * self.fade(cause, st.run.sheet)))
                    accused |= loud and db > 0.0
            if loud and any(key in self.places(*name) for name in st.run.finding.names):
                floor, accused = max(floor, FLOORS.get(st.grade, 0.0)), True
        net = net_of(found)
        p = own = posterior(prior, net)
        for symptom in self.symptoms:
            if any(st.key == (symptom.rule, symptom.subject, symptom.sheet) for st, _ in left):
                group = self.group(symptom.rule, symptom.sheet, symptom.group)
                for w in (w for at, w in self.candidates(symptom) if at == key):
                    seen = max(seen, symptom.p_beyond)
                    by = posterior(w, net_of([e for e in found if e[0] != group]))
                    p = max(p, own + max(0.0, (symptom.p_beyond - 0.05) / 0.95) * max(0.0, by - own))
        return {"key": key, "net": net, "own": own, "unfloored": p, "p": max(p, floor), "since": since,
                "active": accused or net > 0.1 or seen >= 0.05}  # fmt: skip

    def candidates(self, symptom: Any) -> list[tuple[Key, float]]:
        given = symptom.candidates or [(c, symptom.subject, w) for c, w in self.cat.symptoms[symptom.id].candidates]
        scale = max(1.0, sum(w for _, _, w in given) / 0.98)
        return [(key, w / scale / len(self.places(c, s))) for c, s, w in given for key in self.places(c, s)]

    def proven(self, key: Key, repair: Repair) -> bool:
        """Whether the deciding retest ran after the repair and is clean."""
        cause, at = key
        declared = self.cat.causes.get(cause)
        if declared and declared.retest:
            return self.clean(
                {id for id, rule in self.cat.rules.items() if rule.test == declared.retest[0]}, at, repair
            )
        earlier = [f for f in self.findings if self.side(self.sheets[f.sheet], repair) <= 0]
        rules = {f.rule for f in earlier if key in self.speaks_for(f)}
        return bool(rules) and all(self.clean({rule}, at, repair) for rule in rules)

    def clean(self, rules: set[str], at: str | None, repair: Repair) -> bool:
        """Whether one of the rules ran after the repair, and what governs of then or of unknown order is clean."""
        runs = [r for r in self.runs if r.finding.rule in rules and (at is None or r.finding.subject in (None, at))]
        ran = {(r.finding.rule, r.finding.subject) for r in runs if self.side(r.sheet, repair) > 0}
        runs = [r for r in runs if self.side(r.sheet, repair) >= 0 and (r.finding.rule, r.finding.subject) in ran]
        return bool(runs) and all(st.grade == "clean" for st in self.standings(runs) if st.state == "governs")

    def unproven(self) -> set[str]:
        """The repairs that lack a clean retest of something that no later repair treats again."""
        out = set()
        for repair in self.repairs:
            for t in repair.treats:
                keys = [key for cause in self.meant(t.what) for key in self.places(cause, t.subject)]
                if not keys:
                    again = any(t in r.treats for r in self.repairs[self.repairs.index(repair) + 1 :])
                    bad = not again and not self.clean({t.what}, t.subject, repair)
                else:
                    bad = any(self.last(key) is repair and not self.proven(key, repair) for key in keys)
                out |= {repair.id} if bad else set()
        return out
