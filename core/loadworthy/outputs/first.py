"""What to do first: the few things that would move the outcome, each with its proof and its cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.outputs.page import sentence
from loadworthy.outputs.words import at, likelihood
from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from loadworthy.conclusions import Risk
    from loadworthy.decide import Fact
    from loadworthy.findings import Gap
    from loadworthy.outputs.view import View

#: More than this nobody does first.
MOST = 4
#: Nobody takes anything apart for a cause that is no likelier than this (method, section 14: "likely").
LIKELY = 0.5


_OF_CEILINGS = ("no gain", "ceiling")


class Thing(NamedTuple):
    """One thing to do: in words, by which tests it is proven or done, and the id behind it."""

    text: str
    tests: tuple[str, ...] = ()
    id: str = ""


def first_things(view: View) -> tuple[Thing, ...]:
    """Return what to do first, the worst reasons first; empty where nothing has to be done."""
    chosen = _Chosen(view)
    # What lifts a ceiling goes last: mostly it is the proof of something that is to be done anyway. A fault that leaves
    # no gain goes before missing evidence.
    held = _held_by(view)
    for fact in sorted(
        view.register.decision.reasons,
        key=lambda fact: (fact.code in _OF_CEILINGS, fact.outcome != "hold" and fact.id not in held),
    ):
        chosen.add(fact)
        if len(chosen.things) == MOST:
            break
    return _in_order(view, chosen.things)


def _held_by(view: View) -> set[str]:
    """Return the findings that leave no gain at any speed."""
    register = view.register
    holding = {fact.id for fact in register.decision.reasons if fact.code == "no gain"}
    tied = {v.ceiling.finding for v in register.ceilings if v.id in holding}
    return {s.id for s in register.standings if (s.finding.rule, s.finding.subject, s.finding.sheet) in tied}


def _in_order(view: View, things: list[Thing]) -> tuple[Thing, ...]:
    """Return the things with missing evidence in the order in which its tests must be made; all else stays in place."""
    tests = view.register.catalogue.tests
    gaps = {gap.id for gap in view.register.gaps}
    places = [at for at, thing in enumerate(things) if thing.id in gaps and thing.tests and thing.tests[0] in tests]
    if len(places) < 2:
        return tuple(things)
    later: dict[str, set[str]] = {}
    for id, test in tests.items():
        later.setdefault(id, set()).update(test.before)
        for before in test.after:
            later.setdefault(before, set()).add(id)

    def reached(test: str) -> set[str]:
        found: set[str] = set()
        waiting = [test]
        while waiting:
            new = later.get(waiting.pop(), set()) - found
            found |= new
            waiting += new
        return found

    left = [things[at] for at in places]
    after = {thing.tests[0]: reached(thing.tests[0]) for thing in left}
    ordered = list(things)
    for place in places:
        # Where tests come before each other in a ring, the first one stays the first.
        free = [a for a in left if not any(a is not b and a.tests[0] in after[b.tests[0]] for b in left)]
        ordered[place] = (free or left)[0]
        left.remove(ordered[place])
    return tuple(ordered)


class _Chosen:
    """The things to do so far, and what is settled by them: findings, tests and places."""

    def __init__(self, view: View) -> None:
        self.things: list[Thing] = []
        self._view = view
        self._settled: set[str] = set()
        self._mended: set[str] = set()

    def add(self, fact: Fact) -> None:
        """Add what a fact calls for, unless a thing before it settles that too."""
        if fact.code in ("stop", "fix first"):
            self._finding(fact)
        elif fact.code in ("person", "risk"):
            risk = next((r for r in self._view.register.risks if r.id == fact.id), None)
            if risk is not None and not self._settled.issuperset(risk.accused_by or (risk.id,)):
                self._about(risk)
        elif fact.code in _OF_CEILINGS:
            self._ceiling()
        elif fact.code == "gap":
            gap = next((g for g in self._view.register.gaps if g.id == fact.id and g.required), None)
            if gap is not None and not self._settled.issuperset(_asks(gap)):
                self._put(_measure(self._view, gap), gap.id, *_asks(gap))
            self._settled.add(fact.id)
        elif fact.code == "failed":
            names = dict.fromkeys(failure.plugin for failure in self._view.register.failures)
            self._put(Thing(sentence(f"{fact.change}: {', '.join(names)}")), fact.code)
        elif fact.code in ("demand", "base"):
            self._put(Thing(sentence(fact.change)), fact.code)
        elif fact.code == "accept" and fact.id not in self._settled:
            self._put(
                Thing(sentence(f"{self._view.fact(fact)}; or mend it, or measure it better"), id=fact.id), fact.id
            )

    def _put(self, thing: Thing, *settles: str) -> None:
        if not self._settled.issuperset(settles):
            self.things.append(thing)
        self._settled.update(settles, thing.tests)

    def _finding(self, fact: Fact) -> None:
        finding = next((s.finding for s in self._view.register.standings if s.id == fact.id), None)
        accused = [risk for risk in self._view.register.risks if fact.id in risk.accused_by]
        if finding is not None and finding.names and not finding.bands and not finding.weights:
            # The cause was seen, not inferred: nothing is to be found out.
            accused = []
        # Rank is about consequence; what is to be mended is the likeliest, the worst of equally likely ones.
        likeliest = max(accused, key=lambda risk: risk.probability, default=None)
        if likeliest is not None:
            self._about(likeliest)
            return
        subject = finding.subject if finding is not None else None
        test = fact.change.removeprefix("repair and prove: ")
        tests = (test,) if test in self._view.register.catalogue.tests else ()
        change = "" if tests else f": {fact.change}"
        place = f"place {subject}" if subject else fact.id
        self._put(Thing(sentence(f"{self._view.fact(fact)}{change}"), tests, fact.id), place)
        self._settled.add(fact.id)

    def _about(self, risk: Risk) -> None:
        """Add what a risk calls for; nothing at a place where something is to be mended, and then measured again."""
        place = {f"place {risk.subject}"} if risk.subject else set()
        settles = {*(risk.accused_by or (risk.id,)), *place}
        if place & self._mended:
            self._settled |= settles
        elif _calls_for_repair(risk) and risk.probability > LIKELY:
            accusers = {s.finding.subject for s in risk.findings if s.id in risk.accused_by}
            self._put(_repair(self._view, risk), *settles)
            self._mended |= place | {f"place {subject}" for subject in accusers if subject}
        else:
            thing = _find_out(self._view, risk) if _calls_for_repair(risk) else _watch(self._view, risk)
            if not (thing.tests and self._settled.issuperset(thing.tests)):
                self._put(thing, *settles)
            self._settled |= settles

    def _ceiling(self) -> None:
        register = self._view.register
        step = next(iter(register.ladder.steps), None)
        if step is None or step.until in self._settled:
            return
        gap = next((g for g in register.gaps if g.id == step.until), None)
        if gap is not None:
            self._put(_measure(self._view, gap), gap.id)
        elif step.until in register.catalogue.tests:
            self._put(Thing("A clean result of this test lifts what binds first.", (step.until,)), step.until)
        else:
            self._put(Thing(sentence(f"{step.text}: that lifts what binds first"), id=step.until), step.until)


def _asks(gap: Gap) -> tuple[str, ...]:
    """Return what a gap asks for, apart from its id: one reading fills all gaps that ask for it."""
    return tuple(word for word in (gap.test or gap.write,) if word) or (gap.id,)


def _calls_for_repair(risk: Risk) -> bool:
    return any(s.id in risk.accused_by and s.grade in ("fix_first", "stop") for s in risk.findings)


def _repair(view: View, risk: Risk) -> Thing:
    chance = likelihood(risk.probability)
    remedy = sentence(risk.remedy or "find and mend the cause")
    text = f"{sentence(f'{risk.text}{at(risk.subject)} ({chance})')} {view.prose(remedy)}"
    return Thing(text, risk.retest[:1], risk.id)


def _find_out(view: View, risk: Risk) -> Thing:
    suspicion = sentence(
        f"{risk.text}{at(risk.subject)} is the likeliest cause, but only {likelihood(risk.probability)}"
    )
    return Thing(f"{suspicion} Find out before anything is repaired.", _telling(view, risk), risk.id)


def _telling(view: View, risk: Risk) -> tuple[str, ...]:
    """Return the test that tells more: the first of the retests that nobody has made yet, else the deciding one."""
    rules = view.register.catalogue.rules
    made = {rules[s.finding.rule].test for s in risk.findings if s.stands and s.finding.rule in rules}
    return tuple(test for test in risk.retest if test not in made)[:1] or risk.retest[:1]


def _watch(view: View, risk: Risk) -> Thing:
    """Return what a check advises about the place of a risk that is only suspected, else its deciding test."""
    told = [a for a in view.register.advice if a.subject is not None and a.subject == risk.subject and a.test]
    suspicion = sentence(f"{risk.text}{at(risk.subject)} ({likelihood(risk.probability)}) is only suspected")
    if told:
        return Thing(f"{suspicion} {sentence(view.prose(told[0].text))}", (told[0].test,), risk.id)
    return Thing(f"{suspicion} Find out before anything is repaired.", _telling(view, risk), risk.id)


def _measure(view: View, gap: Gap) -> Thing:
    text = sentence(f"{view.prose(gap.text)}{at(gap.subject, gap.text)}")
    if not gap.test and gap.write:
        text += f" {sentence(f'write: {gap.write}')}"
    return Thing(text, (gap.test,) if gap.test else (), gap.id)
