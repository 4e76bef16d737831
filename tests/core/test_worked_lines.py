"""The worked case of the method (section 13, row 27), from probabilities to the outcome.

Every expected figure was worked by hand from the method's formulas. Three speeds, a planned rise of up to 1.3 times;
cause a with a ceiling as received, causes b and c, and an auxiliary quantity that runs high.
"""

from __future__ import annotations

from math import inf

import pytest

from loadworthy.beliefs import Belief, Standing
from loadworthy.ceilings import allow, draw, lift_steps
from loadworthy.decide import Situation, decide
from loadworthy.declarations import Catalogue, Cause, Quantity, Requirement, WorkshopTest
from loadworthy.findings import Band, Ceiling, Coverage, Demand, Finding, Verdict
from loadworthy.required import required_evidence
from loadworthy.restraints import by_grade, in_force
from loadworthy.risk import Risk, build, driver_ratio, own_floors, plan_class, plan_ratio
from loadworthy.stats import group_net, posterior, raised

SPEEDS = tuple(rpm / 60.0 for rpm in (2000, 4000, 6000))
BASE, PLAN = (280.0, 300.0, 260.0), (336.0, 390.0, 325.0)
STEPS = tuple(tuple(sorted({*(s * p for s in (0.4, 0.8, 1.0, 1.2)), b})) for p, b in zip(PLAN, BASE, strict=True))
# Heat rises faster than torque beyond base: by 1.4 where torque rises by 1.3.
HEAT = tuple(tuple(t if t <= b else b + (t - b) * 0.4 / 0.3 for t in row) for row, b in zip(STEPS, BASE, strict=True))
Q = Band(*(tuple(tuple(f * t + 10.0 for t in row) for row in STEPS) for f in (0.45, 0.50, 0.55)))
DEMAND = Demand(SPEEDS, STEPS, PLAN, BASE, quantities={"heat": Band(HEAT, HEAT, HEAT), "q": Q})
CATALOGUE = Catalogue(
    causes={
        "a": Cause("a", "cause a", 0.10, 3, "load", "torque", retest=("retest-a",)),
        "b": Cause("b", "cause b", 0.05, 2, "heat", "heat"),
        "c": Cause("c", "cause c", 0.02, 3, "sudden"),
    },
    quantities={
        "torque": Quantity("torque", "torque", "torque", role="load"),
        "heat": Quantity("heat", "power", "heat"),
        "q": Quantity("q", "number", "an auxiliary quantity"),
    },
    tests={"retest-a": WorkshopTest("retest-a", "retest of a", 30, "any", "none")},
)
ROW = Requirement("bench", "bench test", dict.fromkeys(("none", "mild", "strong", "extreme"), "R"))


def symptom_only(prior: float, net: float, *by: tuple[float, float, float]) -> float:
    """P from own evidence and from (weight, net without the symptom's group, p_beyond) of each symptom."""
    own = posterior(prior, net)
    return max([own, *(raised(own, posterior(w, rest), p) for w, rest, p in by)])


P_A = symptom_only(0.10, group_net(6.777 + 4.771, 0.0).db, (0.40, 6.777, 0.95))
P_B = symptom_only(0.05, -5.0, (0.25, -5.0, 0.95), (0.30, -5.0, 0.60))
P_C = symptom_only(0.02, 0.0, (0.10, 0.0, 0.60))
P_A_REPAIRED = posterior(0.05, -7.03)


def belief(cause: str, p: float) -> Belief:
    return Belief(cause, None, 0.1, "", 0.0, 0.0, 0.0, p, p, p, active=True)


def standing(rule: str, grade: str, p: float = 1.0, state: str = "governs") -> Standing:
    finding = Finding(rule, "today", verdicts=(Verdict(grade, p),), text=rule)
    return Standing(f"{rule}#today", "worked", finding, state, grade, p_beyond=p)


SHORT, WARM = standing("worked.level", "fix_first", 0.788), standing("worked.warm", "watch")
C1 = Ceiling("c1", "torque", "as_received", "short", until="retest-a", finding=("worked.level", None, "today"))
C2 = Ceiling("c2", "q", 210.0, "q runs high", until="e", finding=("worked.warm", None, "today"))


def chain(standings: tuple[Standing, ...], p_a: float) -> tuple[tuple[Risk, ...], Situation]:
    """From probabilities to everything that the outcome depends on."""
    risks = build(
        [belief("a", p_a), belief("b", P_B), belief("c", P_C)], catalogue=CATALOGUE, demand=DEMAND, standings=standings
    )
    found = plan_class(plan_ratio(DEMAND), own_floors(DEMAND)).plan_class
    evidence = required_evidence([ROW], [("worked", Coverage("bench", "met", sheets=("today",)))], found)
    given = in_force([("worked", C1), ("worked", C2)], standings)
    owned = (*given, *by_grade(standings, given, CATALOGUE), *evidence.ceilings)
    views = [draw(plugin, ceiling, DEMAND, CATALOGUE.quantities) for plugin, ceiling in owned]
    ladder = lift_steps(views, DEMAND, CATALOGUE.tests)
    return risks, Situation(standings, risks, views, allow(views, DEMAND), ladder, DEMAND, evidence.gaps)


RISKS, NOW = chain((SHORT, WARM), P_A)
BY_CAUSE = {r.cause: r for r in RISKS}


def test_probabilities_that_the_lines_rest_on() -> None:
    assert pytest.approx((0.7527, 0.0912, 0.0663), abs=5e-5) == (P_A, P_B, P_C)
    assert pytest.approx(0.0103, abs=5e-5) == P_A_REPAIRED


def test_ratios_and_class() -> None:
    assert plan_ratio(DEMAND) == pytest.approx(1.3)
    assert plan_class(plan_ratio(DEMAND), own_floors(DEMAND)).plan_class == "strong"
    assert driver_ratio("heat", DEMAND, CATALOGUE.quantities).value == pytest.approx(1.4)


@pytest.mark.parametrize(
    ("cause", "h", "p_fail", "digits", "level", "loss"),
    [
        ("a", 0.1363, 0.1026, 5e-5, "serious", 153.9),
        ("b", 0.2411, 0.0220, 5e-5, "high", 175.9),
        ("c", 0.15, 0.00995, 5e-6, "medium", 14.9),
    ],
)
def test_consequence(cause: str, h: float, p_fail: float, digits: float, level: str, loss: float) -> None:
    risk = BY_CAUSE[cause]
    assert risk.h_plan == pytest.approx(h, abs=5e-5)
    assert risk.failure_probability == pytest.approx(p_fail, abs=digits)
    assert risk.expected_loss == pytest.approx(loss, abs=0.05)
    assert risk.level == level


def test_rank() -> None:
    assert [r.cause for r in RISKS] == ["b", "a", "c"]


def test_the_auxiliary_ceiling_in_torque() -> None:
    (view,) = [v for v in NOW.views if v.id == "worked.c2"]
    assert view.torque[1] == pytest.approx(363.6, abs=0.05)
    # At 2000 and 6000 rev/min the plan itself stays below it.
    assert all(t is not None and t > p for t, p in zip(view.torque[::2], PLAN[::2], strict=True))


def test_nothing_is_gained_and_it_holds() -> None:
    assert NOW.allowed.torque == BASE
    assert NOW.allowed.gain.values == (0.0, 0.0, 0.0)
    assert NOW.allowed.binding == ("worked.c1",) * 3
    found = decide(NOW)
    assert (found.outcome, found.kind) == ("hold", "repair first")
    assert "worked.c1" in found.reason
    assert found.would_change == ("retest of a (retest-a)",)


def test_the_ladder() -> None:
    first, second = NOW.ladder.steps
    assert first.until == "retest-a"
    assert first.gained == pytest.approx((56.0, 63.6, 65.0), abs=0.05)
    assert first.next_binding == ("", "worked.c2", "")
    assert first.allowed.gain.values == pytest.approx((1.0, 0.707, 1.0), abs=5e-4)
    assert first.allowed.gain.mean == pytest.approx(0.854, abs=5e-4)
    assert second.until == "e"
    assert second.gained == pytest.approx((0.0, 26.4, 0.0), abs=0.05)
    assert second.allowed.torque == (inf,) * 3
    assert NOW.ladder.blocked_by == ()


def test_after_the_repair_it_is_limited() -> None:
    clean = standing("worked.level", "clean", 0.0082)
    risks, after = chain((clean, WARM), P_A_REPAIRED)
    a = next(r for r in risks if r.cause == "a")
    assert a.failure_probability == pytest.approx(0.0014, abs=5e-5)
    assert a.level == "medium"
    assert [v.id for v in after.views] == ["worked.c2"]
    found = decide(after)
    assert found.outcome == "limited"
    assert {fact.id for fact in found.reasons} == {"worked.c2", "b"}
