"""The outcome: hold, incomplete, limited or clear, what decides it, and what would change it (method, section 9)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.findings import GRADES
from loadworthy.loads import exceeds, raised_speeds
from loadworthy.record import NamedTuple
from loadworthy.required import Evidence, RowState, required_evidence
from loadworthy.waiving import WaiverView, apply_waivers, waived_gaps, without_waived

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from loadworthy.beliefs import Standing
    from loadworthy.conclusions import Allowed, CeilingView, Ladder, Risk
    from loadworthy.findings import Demand, Gap

__all__ = [
    "OUTCOMES",
    "Decision",
    "Evidence",
    "Fact",
    "RowState",
    "Situation",
    "WaiverView",
    "apply_waivers",
    "decide",
    "required_evidence",
    "waived_gaps",
    "without_waived",
]

#: From best to worst.
OUTCOMES = ("clear", "limited", "incomplete", "hold")
_RANK = {grade: rank for rank, grade in enumerate(GRADES)}


class Fact(NamedTuple):
    """One fact that decides: the outcome that it forces at least, a short code, words, and the id of what it is about.

    ``change``: what would take it away.
    """

    outcome: str
    code: str
    text: str
    id: str = ""
    change: str = ""


class Situation(NamedTuple):
    """Everything that the outcome depends on.

    ``views`` are the ceilings in force, ``allowed`` and ``ladder`` what follows from them. ``failures`` are lines about
    plugins that failed, ``changed`` about verdicts that a looser limit or a review changed and about struck out sheets.
    ``maintenance`` are the ids of findings that mean maintenance due, ``required`` the rows that this plan requires.
    ``planned`` says that the case states a plan.
    """

    standings: Sequence[Standing]
    risks: Sequence[Risk]
    views: Sequence[CeilingView]
    allowed: Allowed
    ladder: Ladder
    demand: Demand | None
    gaps: Sequence[Gap] = ()
    waivers: Sequence[WaiverView] = ()
    failures: Sequence[str] = ()
    changed: Sequence[str] = ()
    maintenance: frozenset[str] = frozenset()
    required: frozenset[str] = frozenset()
    planned: bool = False


class Decision(NamedTuple):
    """The outcome as advice to the responsible person; not a guarantee.

    ``kind`` says what a hold asks for first: ``stop``, ``service first`` or ``repair first``. ``reason`` is one
    sentence, ``facts`` the three that decide, ``would_change`` what would change it, ``reasons`` every fact.
    """

    outcome: str
    kind: str
    reason: str
    facts: tuple[Fact, ...]
    would_change: tuple[str, ...]
    reasons: tuple[Fact, ...]


def decide(situation: Situation) -> Decision:
    """Return the outcome: the worst that any fact forces, in the order hold, incomplete, limited, clear."""
    holds = [*_stops(situation), *_endangered(situation), *_no_gain(situation)]
    facts = [*holds, *_incomplete(situation), *_limited(situation)]
    if not facts:
        facts = list(_clear(bool(situation.required)))
    outcome = max((fact.outcome for fact in facts), key=OUTCOMES.index)
    first = next(fact for fact in facts if fact.outcome == outcome)
    changes = dict.fromkeys(fact.change for fact in facts if fact.outcome == outcome and fact.change)
    return Decision(
        outcome=outcome,
        kind=_kind(situation, holds) if holds else "",
        reason=first.text,
        facts=_deciding(facts, situation),
        would_change=tuple(changes)[:3],
        reasons=tuple(facts),
    )


def _deciding(facts: Sequence[Fact], situation: Situation) -> tuple[Fact, ...]:
    """Return the three facts to be read first: of risks that rest on evidence named already, none while others wait."""
    rests_on = {risk.id: {*risk.accused_by, *risk.share} for risk in situation.risks}
    chosen: list[Fact] = []
    seen: set[str] = set()
    for fact in facts:
        evidence = rests_on.get(fact.id, set()) if fact.code in ("person", "risk") else {fact.id}
        if fact.code != "risk" or not evidence & seen:
            chosen.append(fact)
        seen |= evidence
    chosen += [fact for fact in facts if fact not in chosen]
    return tuple(chosen[:3])


def _text(standing: Standing) -> str:
    text, subject = standing.finding.text or standing.finding.rule, standing.finding.subject
    return text if subject and is_named(subject, text) else f"{text}{_at(subject)}"


def is_named(subject: str, text: str) -> bool:
    """Return whether a text names a subject, however it is spelled.

    >>> is_named("wheel_nuts", "Wheel-nuts loose"), is_named("post 1", "post 12 is loose"), is_named("post 1", "")
    (True, False, False)
    """
    said, name = (
        "".join(letter if letter.isalnum() else " " for letter in words.lower()).split() for words in (text, subject)
    )
    return f" {' '.join(name)} " in f" {' '.join(said)} "


def _at(subject: str | None) -> str:
    return f" ({subject.replace('_', ' ')})" if subject else ""


def _worst_first(standings: Iterable[Standing]) -> list[Standing]:
    return sorted(standings, key=lambda s: (-_RANK[s.grade or "clean"], not s.accept, s.id))


# Hold ----------------------------------------------------------------------------------------------------------------


def _stops(situation: Situation) -> Iterator[Fact]:
    for one in _worst_first(situation.standings):
        if one.stands and one.grade == "stop":
            change = f"repair and prove: {_until(situation, one) or one.finding.rule}"
            yield Fact("hold", "stop", f"no running at full load: {_text(one)}", one.id, change)


def _endangered(situation: Situation) -> Iterator[Fact]:
    for risk, ids in _person_holds(situation):
        change = f"repair and prove: {next(iter(risk.retest), risk.cause)}"
        text = f"high risk to persons: {risk.text}{_at(risk.subject)}, by {', '.join(ids)}"
        yield Fact("hold", "person", text, risk.id, change)


def _person_holds(situation: Situation) -> Iterator[tuple[Risk, tuple[str, ...]]]:
    """Yield active high risks to persons with the findings at fix_first or above that speak for them."""
    severe = {s.id for s in situation.standings if s.stands and _RANK[s.grade or "clean"] >= _RANK["fix_first"]}
    for risk in situation.risks:
        ids = tuple(id for id in risk.accused_by if id in severe)
        if ids and risk.active and risk.person and risk.level == "high" and not risk.capacity:
            yield risk, ids


def _no_gain(situation: Situation) -> Iterator[Fact]:
    holding = _holding(situation)
    if not holding:
        return
    names = ", ".join(dict.fromkeys(v.id for v in holding))
    step = next(iter(situation.ladder.steps), None)
    change = f"{step.text} ({step.until})" if step is not None else f"nothing lifts {names}"
    yield Fact("hold", "no gain", f"faults leave no gain at any speed: {names}", holding[0].id, change)


def _holding(situation: Situation) -> list[CeilingView]:
    """Return the fault ceilings that leave no gain, if together they leave none at any speed; else nothing.

    Base unknown: none beyond the plan. Without demand only a ceiling that says "as received" is known to leave none.
    """
    faults = [v for v in situation.views if v.hard and v.ceiling.origin == "fault"]
    demand = situation.demand
    if demand is None:
        return [v for v in faults if v.ceiling.value == "as_received"]
    if not raised_speeds(demand):
        return []
    bound = demand.base if demand.base is not None else demand.plan
    by_speed: list[list[CeilingView]] = []
    for i, most in enumerate(bound):
        by_speed.append([v for v in faults if not _leaves_more(v, i, most)])
    if not all(by_speed):
        return []
    held = {v.id for views in by_speed for v in views}
    return sorted((v for v in faults if v.id in held), key=lambda v: v.id)


def _leaves_more(view: CeilingView, i: int, most: float) -> bool:
    torque = view.torque[i]
    return torque is not None and exceeds(torque, most)


def _kind(situation: Situation, holds: Sequence[Fact]) -> str:
    if any(fact.code == "stop" for fact in holds):
        return "stop"
    ids = {id for _, found in _person_holds(situation) for id in found}
    tied = {(s.finding.rule, s.finding.subject, s.finding.sheet): s.id for s in situation.standings if s.stands}
    for view in _holding(situation):
        ids.add(tied.get(view.ceiling.finding, "") if view.ceiling.finding is not None else "")
    return "service first" if ids <= situation.maintenance else "repair first"


def _until(situation: Situation, one: Standing) -> str:
    key = (one.finding.rule, one.finding.subject, one.finding.sheet)
    return next((v.ceiling.until for v in situation.views if v.ceiling.finding == key and v.ceiling.until), "")


# Incomplete ----------------------------------------------------------------------------------------------------------


def _incomplete(situation: Situation) -> Iterator[Fact]:
    for line in sorted(set(situation.failures)):
        yield Fact("incomplete", "failed", f"a check failed: {line}", "", "mend or remove the failed check")
    demand = situation.demand
    if demand is None and situation.planned:
        text = "demand cannot be computed from what the case states"
        yield Fact("incomplete", "demand", text, "", "state what the gaps ask for")
    elif demand is None:
        text = "demand cannot be computed: nothing is known about what the plan asks for"
        yield Fact("incomplete", "demand", text, "", "state the plan and today's torque over speed")
    elif demand.base is None:
        text = "today's torque is unknown"
        yield Fact("incomplete", "base", text, "", "measure today's torque over speed")
    waived = waived_gaps(situation.waivers)
    for gap in sorted(situation.gaps, key=lambda g: (g.id, g.subject or "", g.text)):
        if gap.required and gap.id not in waived:
            change = gap.write or gap.test or gap.text
            yield Fact("incomplete", "gap", f"required evidence: {gap.text}", gap.id, change)


# Limited -------------------------------------------------------------------------------------------------------------


def _limited(situation: Situation) -> Iterator[Fact]:
    allowed = situation.allowed
    if allowed.short_at:
        worst = min(allowed.short_at, key=lambda i: (allowed.torque[i] - allowed.plan[i], i))
        step = next(iter(situation.ladder.steps), None)
        change = f"{step.text} ({step.until})" if step is not None else "a plan within what is allowed"
        text = (
            f"allowed torque is {allowed.torque[worst]:.0f} N m where the plan asks for {allowed.plan[worst]:.0f} N m, "
            f"held by {allowed.binding[worst]}"
        )
        yield Fact("limited", "ceiling", text, allowed.binding[worst], change)
    elif situation.demand is not None and not allowed.carries_plan:
        yield Fact("limited", "ceiling", f"ceilings known only in words: {', '.join(allowed.in_words)}")
    for one in _worst_first(situation.standings):
        if one.stands and one.grade == "fix_first":
            change = f"repair and prove: {_until(situation, one) or one.finding.rule}"
            yield Fact("limited", "fix first", f"to be repaired first: {_text(one)}", one.id, change)
        elif one.stands and one.accept and one.grade != "stop":
            text = f"somebody must accept: {_text(one)}"
            yield Fact("limited", "accept", text, one.id, "a better measurement, or the repair")
    for risk in situation.risks:
        if risk.active and not risk.capacity and risk.level in ("high", "serious"):
            change = f"repair and prove: {next(iter(risk.retest), risk.cause)}"
            text = f"{risk.level} risk at the planned load: {risk.text}{_at(risk.subject)}"
            yield Fact("limited", "risk", text, risk.id, change)
    for view in situation.waivers:
        if view.in_force:
            waiver = view.waiver
            text = f"waived by {waiver.who} until {waiver.until.isoformat()}: {waiver.what} ({waiver.why})"
            yield Fact("limited", "waiver", text, waiver.what, f"the evidence for {waiver.what}")
    for line in sorted(set(situation.changed)):
        yield Fact("limited", "changed", line)


# Clear ---------------------------------------------------------------------------------------------------------------


def _clear(asked: bool) -> Iterator[Fact]:
    text = "the whole plan is allowed at every speed, even at the high edge of its demand"
    yield Fact("clear", "plan", text, "", "a higher plan")
    words = "all required evidence is present and fresh" if asked else "no evidence is required of a plan of this class"
    yield Fact("clear", "evidence", words, "", "time, or a new finding")
    yield Fact("clear", "findings", "nothing stands that must be repaired or accepted first")
