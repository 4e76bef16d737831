"""The outcome, what decides it and what would change it."""

from __future__ import annotations

import datetime

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.beliefs import Belief, Standing, WeightUse
from loadworthy.case import Waiver
from loadworthy.ceilings import CeilingView, allow, draw, lift_steps
from loadworthy.decide import OUTCOMES, Decision, Situation, WaiverView, decide
from loadworthy.declarations import Catalogue, Cause, Quantity
from loadworthy.findings import Ceiling, Demand, Finding, Gap
from loadworthy.risk import Risk, build

DAY = datetime.date(2026, 5, 10)
QUANTITIES = {"torque": Quantity("torque", "torque", "torque", role="load")}
STEPS = (120.0, 300.0, 390.0, 468.0)
DEMAND = Demand((20.0, 40.0), (STEPS, STEPS), (390.0, 390.0), (300.0, 300.0))
NO_BASE = Demand((20.0, 40.0), (STEPS, STEPS), (390.0, 390.0), None)
LEVEL = Demand((20.0, 40.0), (STEPS, STEPS), (300.0, 300.0), (300.0, 300.0))


def standing(grade: str, rule: str = "plug.rule", accept: bool = False, state: str = "governs") -> Standing:
    return Standing(f"{rule}#s1", "plug", Finding(rule, "s1", text=f"text of {rule}"), state, grade, accept=accept)


def risk(
    severity: int = 1,
    p: float = 0.9,
    person: bool = True,
    capacity: bool = False,
    active: bool = True,
    accuser: str = "",
) -> Risk:
    cause = Cause("a", "cause a", 0.1, severity, "load", person=person, capacity=capacity, retest=("retest-a",))
    use = (WeightUse("a", None, "g", f"{accuser}#s1", 6.0, 1.0, 6.0, True),) if accuser else ()
    found = Belief("a", None, 0.1, "", 6.0, 0.0, 6.0, p, p, p, active, weights=use)
    standings = (standing("fix_first", accuser),) if accuser else ()
    (made,) = build([found], catalogue=Catalogue(causes={"a": cause}), demand=DEMAND, standings=standings)
    return made


def ceiling(
    value: object, origin: str = "fault", rule: str = "", until: str = "t", kind: str = "hard", name: str = "c"
) -> Ceiling:
    tied = (rule, None, "s1") if rule else None
    return Ceiling(name, "torque", value, "why", origin=origin, until=until, finding=tied, kind=kind)


def situation(*ceilings: Ceiling, demand: Demand | None = DEMAND, **more: object) -> Situation:
    views: list[CeilingView] = [draw("plug", c, demand, QUANTITIES) for c in ceilings]
    fields = {"standings": (), "risks": (), **more}
    return Situation(
        views=views, allowed=allow(views, demand), ladder=lift_steps(views, demand), demand=demand, **fields
    )  # fmt: skip


def outcome(*ceilings: Ceiling, demand: Demand | None = DEMAND, **more: object) -> Decision:
    return decide(situation(*ceilings, demand=demand, **more))


def test_nothing_against_it_is_clear() -> None:
    found = outcome()
    assert (found.outcome, found.kind) == ("clear", "")
    assert len(found.facts) == 3
    assert "whole plan" in found.reason
    assert found.would_change


@pytest.mark.parametrize(("rows", "words"), [((), "no evidence is required"), (("row",), "all required evidence")])
def test_a_clear_case_does_not_claim_evidence_that_nobody_asked_for(rows: tuple[str, ...], words: str) -> None:
    assert outcome(required=frozenset(rows)).facts[1].text.startswith(words)


# Hold


def test_any_stop_holds() -> None:
    found = outcome(ceiling(0.0, rule="plug.rule", until="retest"), standings=(standing("stop"),))
    assert (found.outcome, found.kind) == ("hold", "stop")
    assert "text of plug.rule" in found.reason
    assert found.would_change[0] == "repair and prove: retest"
    assert outcome(standings=(standing("stop", state="history"),)).outcome == "clear"


def test_a_high_risk_to_persons_holds_once_a_finding_is_severe() -> None:
    severe = standing("fix_first", "plug.severe")
    dangerous = risk(accuser="plug.severe")
    assert (dangerous.level, dangerous.person) == ("high", True)
    found = outcome(standings=(severe,), risks=(dangerous,))
    assert (found.outcome, found.kind) == ("hold", "repair first")
    assert "persons" in found.reason
    assert found.would_change[0] == "repair and prove: retest-a"


@pytest.mark.parametrize(
    ("made", "grade"),
    [
        (risk(accuser="plug.severe"), "watch"),
        (risk(2, accuser="plug.severe", person=False), "fix_first"),
        (risk(accuser="plug.severe", capacity=True), "fix_first"),
        (risk(accuser="plug.severe", active=False), "fix_first"),
        (risk(accuser="plug.severe", p=1e-5), "fix_first"),
        (risk(), "fix_first"),
    ],
    ids=["mild finding", "nobody hurt", "capacity", "inactive", "not high", "no accuser"],
)
def test_short_of_that_it_does_not_hold(made: Risk, grade: str) -> None:
    assert outcome(standings=(standing(grade, "plug.severe"),), risks=(made,)).outcome != "hold"


@pytest.mark.parametrize(
    ("ceilings", "demand", "held"),
    [
        ((ceiling("as_received"),), DEMAND, True),
        ((ceiling(300.0),), DEMAND, True),
        ((ceiling(301.0),), DEMAND, False),
        ((ceiling("as_received", "gap"),), DEMAND, False),
        ((ceiling("as_received", kind="advisory"),), DEMAND, False),
        ((ceiling("as_received"),), LEVEL, False),
        ((ceiling("as_received"),), NO_BASE, True),
        ((ceiling(390.0),), NO_BASE, True),
        ((ceiling(391.0),), NO_BASE, False),
        ((ceiling("as_received"),), None, True),
        ((ceiling(200.0),), None, False),
        ((ceiling("as_received", "gap"),), None, False),
        ((), DEMAND, False),
    ],
)
def test_faults_that_leave_no_gain_hold(ceilings: tuple[Ceiling, ...], demand: Demand | None, held: bool) -> None:
    assert (outcome(*ceilings, demand=demand).outcome == "hold") is held


def test_no_gain_at_any_speed_may_come_from_several_faults() -> None:
    from loadworthy.case import Curve

    low = ceiling(Curve((20.0, 30.0), (250.0, 250.0)), name="low")
    parts = [
        Ceiling("low", "torque", low.value, "why", outside="none", until="t1"),
        Ceiling("high", "torque", Curve((35.0, 40.0), (250.0, 250.0)), "why", outside="none", until="t2"),
    ]
    found = outcome(*parts)
    assert found.outcome == "hold"
    assert "plug.high, plug.low" in found.reason
    assert outcome(parts[0]).outcome == "limited"
    # A gap's ceiling at the other speed is missing evidence, not a fault.
    gap = Ceiling("high", "torque", 250.0, "why", origin="gap", until="t2")
    assert outcome(parts[0], gap).outcome == "limited"


def test_a_hold_for_overdue_service_says_service() -> None:
    overdue = standing("fix_first", "plug.overdue")
    broken = standing("fix_first", "plug.broken")
    service = ceiling("as_received", rule="plug.overdue", name="service")
    repair = ceiling("as_received", rule="plug.broken", name="repair")
    due = frozenset({overdue.id})
    assert outcome(service, standings=(overdue,), maintenance=due).kind == "service first"
    assert outcome(service, standings=(overdue,)).kind == "repair first"
    assert outcome(service, repair, standings=(overdue, broken), maintenance=due).kind == "repair first"
    assert outcome(ceiling("as_received"), standings=(overdue,), maintenance=due).kind == "repair first"
    assert outcome(service, standings=(overdue, standing("stop", "plug.halt")), maintenance=due).kind == "stop"


def test_what_is_missing_makes_it_incomplete() -> None:
    gap = Gap("row", "the row is missing", required=True, write="enter a new sheet [[bench]]")
    found = outcome(gaps=(gap, Gap("wish", "would be nice")))
    assert (found.outcome, found.kind) == ("incomplete", "")
    assert [fact.id for fact in found.reasons] == ["row"]
    assert found.would_change == ("enter a new sheet [[bench]]",)
    assert outcome(gaps=(Gap("wish", "would be nice"),)).outcome == "clear"
    assert outcome(failures=("x (examine): it fell over",)).outcome == "incomplete"
    assert outcome(demand=None).outcome == "incomplete"
    assert outcome(demand=NO_BASE).outcome == "incomplete"
    assert outcome(demand=None, planned=True).would_change == ("state what the gaps ask for",)


def waiver(what: str, state: str = "in_force", gap: bool = True) -> WaiverView:
    return WaiverView(Waiver("head", what, "the owner accepts it", DAY, DAY), state, "", gap)


def test_a_waiver_moves_incomplete_to_limited_and_nothing_else() -> None:
    gap = Gap("row", "the row is missing", required=True)
    found = outcome(gaps=(gap,), waivers=(waiver("row"),))
    assert found.outcome == "limited"
    assert "waived by head" in found.reason
    assert outcome(gaps=(gap,), waivers=(waiver("row", "expired"),)).outcome == "incomplete"
    assert outcome(gaps=(gap, Gap("two", "two", required=True)), waivers=(waiver("row"),)).outcome == "incomplete"
    held = (standing("stop"),)
    assert outcome(gaps=(gap,), standings=held, waivers=(waiver("row"),)).outcome == "hold"
    accepted = outcome(standings=(standing("fix_first"),), waivers=(waiver("plug.rule#s1", gap=False),))
    assert accepted.outcome == "limited"


# Limited


@pytest.mark.parametrize(
    "made",
    [
        situation(ceiling(345.0, "gap")),
        situation(ceiling(345.0)),
        situation(standings=(standing("fix_first"),)),
        situation(standings=(standing("watch", accept=True),)),
        situation(risks=(risk(severity=3, person=False),)),
        situation(changed=("a limit of the house is looser: plug.limit",)),
        situation(waivers=(waiver("row"),)),
    ],
    ids=["gap ceiling", "fault ceiling", "fix_first", "accept", "serious risk", "looser limit", "waiver"],
)
def test_what_limits(made: Situation) -> None:
    found = decide(made)
    assert found.outcome == "limited"
    assert found.facts[0].text == found.reason


@pytest.mark.parametrize(
    "made",
    [
        situation(ceiling(390.0)),
        situation(ceiling(100.0, kind="advisory")),
        situation(standings=(standing("watch"),)),
        situation(standings=(standing("fix_first", state="history"),)),
        situation(risks=(risk(severity=3, person=False, capacity=True),)),
        situation(risks=(risk(active=False),)),
        situation(risks=(risk(severity=4, person=False),)),
        situation(waivers=(waiver("row", "unused"),)),
        situation(ceiling("as_received"), demand=LEVEL),
    ],
)
def test_what_does_not_limit(made: Situation) -> None:
    assert decide(made).outcome == "clear"


def test_the_worst_shortfall_is_named_with_what_lifts_it() -> None:
    found = outcome(ceiling(345.0, until="retest"))
    assert found.reason == "allowed torque is 345 N m where the plan asks for 390 N m, held by plug.c"
    assert found.would_change == ("retest (retest)",)


def test_the_deciding_facts_come_first_and_are_three() -> None:
    gaps = tuple(Gap(f"row{i}", f"row {i}", required=True) for i in range(4))
    found = outcome(ceiling(345.0), gaps=gaps, standings=(standing("fix_first"),))
    assert found.outcome == "incomplete"
    assert [fact.id for fact in found.facts] == ["row0", "row1", "row2"]
    assert {fact.outcome for fact in found.reasons} == {"incomplete", "limited"}


def _located(cause: str, subject: str, accuser: str, symptom: str = "") -> Risk:
    made = risk(severity=2, person=False, accuser=accuser)
    share = {symptom: 0.5} if symptom else {}
    return evolve(made, id=f"{cause}@{subject}", cause=cause, subject=subject, share=share)


def test_of_risks_that_rest_on_one_finding_the_worst_decides_for_all() -> None:
    same = tuple(_located(cause, "part 2", "plug.a", "s1") for cause in ("a", "b", "c"))
    other = _located("d", "part 3", "plug.b", "s2")
    found = decide(situation(risks=(*same, other)))
    assert [fact.id for fact in found.facts] == ["a@part 2", "d@part 3", "b@part 2"]
    assert len(found.reasons) == 4
    assert "(part 2)" in found.reason


def test_a_risk_waits_behind_others_where_its_finding_is_named_already() -> None:
    risks = (_located("a", "part 2", "plug.a"), _located("d", "part 3", "plug.b"))
    found = decide(situation(risks=risks, standings=(standing("fix_first", "plug.a"),)))
    assert [fact.id for fact in found.facts] == ["plug.a#s1", "d@part 3", "a@part 2"]


# Monotone

grades = st.sampled_from(["clean", "note", "watch", "fix_first", "stop"])


@given(
    values=st.lists(st.floats(0.0, 500.0), max_size=3),
    origin=st.sampled_from(["fault", "gap"]),
    given_grades=st.lists(grades, max_size=3),
    missing=st.integers(0, 2),
    extra=st.sampled_from(["grade", "ceiling", "gap", "failure", "risk"]),
)
def test_bad_news_never_improves_the_outcome(
    values: list[float], origin: str, given_grades: list[str], missing: int, extra: str
) -> None:
    ceilings = [ceiling(v, origin, name=f"c{i}") for i, v in enumerate(values)]
    standings = [standing(g, f"plug.r{i}") for i, g in enumerate(given_grades)]
    gaps = [Gap(f"row{i}", "missing", required=True) for i in range(missing)]
    before = outcome(*ceilings, standings=standings, gaps=gaps)
    worse = {"standings": standings, "gaps": gaps}
    more = list(ceilings)
    if extra == "grade":
        worse["standings"] = [*standings, standing("fix_first", "plug.more")]
    elif extra == "ceiling":
        more.append(ceiling(200.0, name="more"))
    elif extra == "gap":
        worse["gaps"] = [*gaps, Gap("more", "missing", required=True)]
    elif extra == "failure":
        worse["failures"] = ["x: failed"]
    else:
        worse["risks"] = [risk(severity=2, person=False)]
    after = outcome(*more, **worse)
    assert OUTCOMES.index(after.outcome) >= OUTCOMES.index(before.outcome)


@given(
    value=st.floats(200.0, 450.0),
    origin=st.sampled_from(["fault", "gap"]),
    plan=st.tuples(st.floats(0.0, 450.0), st.floats(0.0, 450.0)),
    i=st.integers(0, 1),
    more=st.floats(0.0, 100.0),
)
def test_raising_the_plan_never_improves_the_outcome(
    value: float, origin: str, plan: tuple[float, float], i: int, more: float
) -> None:
    def at(plan: tuple[float, ...]) -> str:
        steps = tuple(tuple(sorted({0.4 * p, p, 1.2 * p, 300.0})) for p in plan)
        return outcome(ceiling(value, origin), demand=Demand((20.0, 40.0), steps, plan, (300.0, 300.0))).outcome

    higher = tuple(p + more if j == i else p for j, p in enumerate(plan))
    assert OUTCOMES.index(at(higher)) >= OUTCOMES.index(at(plan))
