"""Consequence, level and rank."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.beliefs import Belief, Standing, SymptomShare, SymptomView, WeightUse
from loadworthy.capacities import HAZARDS, h_plan
from loadworthy.declarations import Catalogue, Cause, Quantity, Variant
from loadworthy.findings import Capacity, Demand, Finding, Verdict
from loadworthy.risk import LOSSES, Risk, build, level, probability_level, rank

DEMAND = Demand((50.0,), ((120.0, 300.0, 390.0, 468.0),), (390.0,), (300.0,))
TORQUE = {"torque": Quantity("torque", "torque", "torque", role="load")}


def catalogue(*causes: Cause) -> Catalogue:
    return Catalogue(causes={c.id: c for c in causes}, quantities=TORQUE)


def belief(cause: str, p: float, subject: str | None = None, active: bool = True, **more: object) -> Belief:
    return Belief(
        cause=cause, subject=subject, prior=0.05, prior_why="", positive=0.0, negative=0.0, net=0.0, own=p, unfloored=p,
        p=p, active=active, **more,
    )  # fmt: skip


def standing(
    rule: str, grade: str | None = "watch", p: float = 1.0, subject: str | None = None, **more: object
) -> Standing:
    limit = f"{rule}_limit"
    verdict = Verdict(grade or "watch", p, limit)
    finding = Finding(rule, "s1", subject, verdicts=(verdict,), text=rule)
    at = f"@{subject}" if subject else ""
    fields = {"state": "governs", "grade": grade, "p_beyond": p, **more}
    return Standing(f"{rule}{at}#s1", "plug", finding, **fields)


def weight(finding: Standing, cause: str, db: float, subject: str | None = None) -> WeightUse:
    return WeightUse(cause, subject, "g", finding.id, db, 1.0, db, True)


# The matrix


@pytest.mark.parametrize(
    ("p_fail", "severity", "expected"),
    [
        (0.2, 4, "medium"),  # A4
        (0.005, 2, "serious"),  # C2
        (1e-5, 1, "serious"),  # D1
        (1e-9, 4, "low"),  # E4
        (0.05, 1, "high"),
        (0.005, 1, "high"),
        (1e-9, 3, "medium"),
    ],
)
def test_matrix(p_fail: float, severity: int, expected: str) -> None:
    # MIL-STD-882E, table III (two copies; a third prints low at E3).
    assert level(p_fail, severity) == expected


@pytest.mark.parametrize(
    ("p", "expected"), [(0.1, "A"), (0.0999, "B"), (0.01, "B"), (0.00999, "C"), (1e-6, "D"), (0.0, "E")]
)
def test_probability_levels(p: float, expected: str) -> None:
    # MIL-STD-882E, table A-II; 0.0999 and 1e-6 as in the method, row 16.
    assert probability_level(p) == expected


@given(p=st.floats(0, 1), more=st.floats(0, 1), severity=st.integers(2, 4))
def test_level_never_falls_with_probability_or_severity(p: float, more: float, severity: int) -> None:
    order = ["low", "medium", "serious", "high"]
    here = order.index(level(p, severity))
    assert order.index(level(min(1.0, p + more), severity)) >= here
    assert order.index(level(p, severity - 1)) >= here


def test_only_four_categories() -> None:
    with pytest.raises(KeyError):
        level(0.1, 5)


# From belief to risk


def test_a_risk_carries_every_number() -> None:
    cat = catalogue(Cause("a", "cause a", 0.1, 3, "load", "torque", remedy="mend it", retest=("t1", "t2")))
    (risk,) = build([belief("a", 0.5)], catalogue=cat, demand=DEMAND)
    h = 1.0 - 0.95 ** (1.3**4)
    assert (risk.id, risk.text, risk.remedy, risk.retest) == ("a", "cause a", "mend it", ("t1", "t2"))
    assert (risk.ratio, risk.h_plan) == (pytest.approx(1.3), pytest.approx(h))
    assert risk.failure_probability == pytest.approx(0.5 * h)
    assert risk.left_alone == pytest.approx(0.5 * 0.05)
    assert risk.added_by_plan == pytest.approx(0.5 * (h - 0.05))
    assert risk.expected_loss == pytest.approx(0.5 * h * LOSSES[3])
    assert (risk.probability_level, risk.level) == ("B", "serious")
    shown = {step.label: step.value for step in risk.steps}
    for label, value in (("P", 0.5), ("r", 1.3), ("m", 4.0), ("h_plan", h), ("P_fail", 0.5 * h), ("level", "serious")):
        assert shown[label] == (value if isinstance(value, str) else pytest.approx(value))


def test_house_losses_replace_the_defaults() -> None:
    cat = catalogue(Cause("a", "a", 0.1, 2, "load"))
    (risk,) = build([belief("a", 0.5)], catalogue=cat, demand=None, losses={1: 1.0, 2: 10.0, 3: 100.0, 4: 1000.0})
    assert risk.expected_loss == pytest.approx(0.5 * 0.05 * 10.0)


def test_an_undeclared_cause_still_shows() -> None:
    (risk,) = build([belief("strange", 0.05, declared=False)], catalogue=catalogue(), demand=DEMAND)
    assert (risk.severity, risk.hazard, risk.declared) == (3, "load", False)
    assert "declared by no installed plugin" in risk.text
    # What nobody declares is held against the load itself.
    assert risk.ratio == pytest.approx(1.3)


def test_a_cause_that_is_no_load_hazard_risks_nothing() -> None:
    cat = catalogue(Cause("record", "record missing", 0.3, 4, "none", not_physical=True))
    (risk,) = build([belief("record", 0.9)], catalogue=cat, demand=DEMAND)
    assert (risk.failure_probability, risk.probability_level, risk.level) == (0.0, "E", "low")


def test_assumed_ratios_are_said() -> None:
    cat = catalogue(Cause("a", "a", 0.1, 3, "heat", "heat"))
    (risk,) = build([belief("a", 0.5)], catalogue=cat, demand=None)
    assert risk.ratio == 1.6
    assert risk.assumption is not None
    assert risk.assumption.value == 1.6


def test_inactive_risks_deserve_a_line_only_where_they_weigh() -> None:
    cat = catalogue(
        Cause("likely", "a", 0.1, 4, "none"), Cause("dear", "b", 0.1, 1, "load"), Cause("other", "c", 0.1, 3, "load")
    )
    beliefs = [
        belief("likely", 0.2, active=False),
        belief("dear", 0.06, active=False),
        belief("other", 0.1, active=False),
    ]
    listed = {r.id: r.listed for r in build(beliefs, catalogue=cat, demand=DEMAND)}
    # dear: 0.06 x 0.05 x 30 000 = 90, above 1 % of 8 000; other: 0.1 x 0.05 x 1 500 = 7.5.
    assert listed == {"likely": True, "dear": True, "other": False}


# Which findings bear on a risk


def test_findings_that_bear_and_those_that_accuse() -> None:
    cat = catalogue(Cause("a", "a", 0.1, 3, "load"), Cause("b", "b", 0.1, 3, "load"))
    fired, clean, named, other = (standing(f"p.{n}") for n in ("fired", "clean", "named", "other"))
    reported = standing("p.reported")
    old = standing("p.old", set_aside=(("a", None, "repair-1"),))
    gone = standing("p.gone", state="history")
    view = SymptomView("s#s1", "s", "s", "plug", "p.reported", "s1", None, "g", 0.9, 0.9,
                       (SymptomShare("a", None, 0.4, 1.0, 0.6),), 0.4, False)  # fmt: skip
    one = belief(
        "a", 0.5,
        weights=tuple(weight(s, "a", db) for s, db in ((fired, 6.0), (clean, -6.0), (old, 9.0), (gone, 9.0))),
        named_by=(named.id,),
        by_symptom=(("s#s1", 0.4, 0.0, 0.4, 0.9),),
    )  # fmt: skip
    everything = (fired, clean, named, other, reported, old, gone)
    (risk,) = build([one], catalogue=cat, demand=None, standings=everything, symptoms=(view,))
    assert {s.id for s in risk.findings} == {s.id for s in everything} - {other.id}
    assert risk.accused_by == tuple(sorted((fired.id, named.id, reported.id)))
    assert risk.set_aside == (old.id,)
    assert dict(risk.share) == {"s#s1": 0.6}


def test_a_clean_symptom_accuses_nobody() -> None:
    reported = standing("p.reported", "clean", 0.01)
    view = SymptomView("s#s1", "s", "s", "plug", "p.reported", "s1", None, "g", 0.01, 0.0, (), 1.0, False)
    one = belief("a", 0.1, by_symptom=(("s#s1", 0.4, 0.0, 0.4, 0.01),))
    (risk,) = build([one], catalogue=catalogue(), demand=None, standings=(reported,), symptoms=(view,))
    assert risk.findings == (reported,)
    assert risk.accused_by == ()


# Variants


@pytest.mark.parametrize(
    ("grade", "p", "state", "at", "hazard", "person"),
    [
        ("stop", 0.9, "governs", "side 1", "sudden", True),
        ("stop", 0.4, "governs", "side 1", "slow", False),
        ("fix_first", 0.9, "governs", "side 1", "slow", False),
        ("stop", 0.9, "history", "side 1", "slow", False),
        ("stop", 0.9, "governs", "side 2", "slow", False),
        ("stop", 0.9, "governs", None, "sudden", True),
    ],
)
def test_a_variant_only_worsens_while_its_limit_stands(
    grade: str, p: float, state: str, at: str | None, hazard: str, person: bool
) -> None:
    variant = Variant("p.level_limit", "stop", "sudden", person=True)
    cat = catalogue(Cause("a", "a", 0.1, 2, "slow", variants=(variant,)))
    found = standing("p.level", grade, p, subject=at, state=state)
    (risk,) = build([belief("a", 0.5, subject="side 1")], catalogue=cat, demand=DEMAND, standings=(found,))
    assert (risk.hazard, risk.person) == (hazard, person)


def test_a_milder_variant_changes_no_hazard() -> None:
    cat = catalogue(Cause("a", "a", 0.1, 2, "already failing", variants=(Variant("p.level_limit", "watch", "slow"),)))
    (risk,) = build([belief("a", 0.5)], catalogue=cat, demand=DEMAND, standings=(standing("p.level"),))
    assert risk.hazard == "already failing"


# Capacities


def test_a_capacity_takes_its_p_from_its_figures() -> None:
    cat = catalogue(Cause("part", "part too small", 0.1, 3, "load", "torque", capacity=True))
    sound = Capacity("part", "torque", value=600.0, u=10.0)
    (risk,) = build([belief("part", 0.4, active=False)], catalogue=cat, demand=DEMAND, capacities=(sound,))
    assert risk.probability < 1e-9
    assert (risk.active, risk.capacity, risk.origin) == (True, True, "evidence")
    small = Capacity("part", "torque", value=300.0, u=10.0)
    (risk,) = build([belief("part", 0.4)], catalogue=cat, demand=DEMAND, capacities=(sound, small))
    assert risk.probability == pytest.approx(1.0)
    assert risk.failure_probability == pytest.approx(h_plan(*HAZARDS["load"], 1.3))
    assert risk.left_alone == pytest.approx(0.05)
    assert "P_C" in {step.label for step in risk.steps}


def test_an_unknown_capacity_is_a_gap() -> None:
    cat = catalogue(Cause("part", "part too small", 0.1, 3, "load", "torque", capacity=True))
    (risk,) = build([belief("part", 0.1)], catalogue=cat, demand=DEMAND, capacities=(Capacity("part", "torque"),))
    assert (risk.origin, risk.probability) == ("gap", 0.05)
    assert risk.assumption is not None


def test_a_capacity_of_a_part_that_exists_once_needs_no_subject() -> None:
    cat = catalogue(Cause("part", "part too small", 0.1, 3, "load", capacity=True))
    one = Capacity("part", "torque", value=600.0, u=10.0, subject="side 1")
    assert [r.id for r in build([belief("part", 0.1)], catalogue=cat, demand=DEMAND, capacities=(one,))] == ["part"]
    found = build([belief("part", 0.1, subject="side 1")], catalogue=cat, demand=DEMAND, capacities=(one,))
    assert [r.id for r in found] == ["part@side 1"]
    strange = Capacity("strange", "torque", value=600.0, u=10.0, subject="side 1")
    assert [r.id for r in build([], catalogue=cat, demand=DEMAND, capacities=(strange,))] == ["strange@side 1"]


def test_a_capacity_that_is_not_asked_for_more_is_no_risk() -> None:
    cat = catalogue(Cause("part", "part too small", 0.3, 3, "load", capacity=True))
    level_plan = Demand((50.0,), ((120.0, 300.0, 360.0),), (300.0,), (300.0,))
    (risk,) = build(
        [belief("part", 0.3)], catalogue=cat, demand=level_plan, capacities=(Capacity("part", "torque", 100.0),)
    )
    assert (risk.active, risk.failure_probability, risk.listed) == (False, 0.0, False)


# Rank


def some_risks() -> list[Risk]:
    chance = random.Random(3)
    causes = [
        Cause(f"c{i}", f"c{i}", 0.1, chance.randint(1, 4), chance.choice(sorted(HAZARDS)), person=chance.random() < 0.3)
        for i in range(12)
    ]
    beliefs = [
        belief(c.id, chance.choice((0.01, 0.1, 0.5)), subject)
        for c in causes
        for subject in (None, "side 2", "side 10")
    ]
    return list(build(beliefs, catalogue=catalogue(*causes), demand=DEMAND))


def test_rank_is_a_total_order_whatever_comes_in() -> None:
    ranked = some_risks()
    shuffled = ranked[:]
    for seed in range(20):
        random.Random(seed).shuffle(shuffled)
        assert [r.id for r in rank(shuffled)] == [r.id for r in ranked]


@pytest.mark.parametrize(("severity", "flag", "person"), [(1, False, True), (2, False, False), (2, True, True)])
def test_the_first_category_is_always_about_persons(severity: int, flag: bool, person: bool) -> None:
    """The category carries the flag, whether the cause repeats it or not (method, section 5)."""
    cat = catalogue(Cause("a", "a", 0.1, severity, "load", person=flag))
    assert [r.person for r in build([belief("a", 0.5)], catalogue=cat, demand=DEMAND)] == [person]


@pytest.mark.parametrize("noise", [0.0, 1e-15, -1e-15])
def test_noise_of_a_sum_ranks_nothing(noise: float) -> None:
    cat = catalogue(Cause("a", "a", 0.1, 3, "load"), Cause("b", "b", 0.1, 3, "load"))
    ranked = build([belief("b", 0.3), belief("a", 0.3 * (1.0 + noise))], catalogue=cat, demand=DEMAND)
    assert [r.cause for r in ranked] == ["a", "b"]


def test_persons_come_before_money_within_a_level() -> None:
    cat = catalogue(
        Cause("hurts", "a", 0.1, 2, "load", person=True),
        Cause("costs", "b", 0.1, 2, "sudden"),
        Cause("z", "z", 0.1, 4, "load"),
    )
    ranked = build([belief("z", 0.9), belief("costs", 0.9), belief("hurts", 0.3)], catalogue=cat, demand=DEMAND)
    assert [(r.cause, r.level) for r in ranked] == [("hurts", "high"), ("costs", "high"), ("z", "medium")]
    assert ranked[0].expected_loss < ranked[1].expected_loss


def test_rank_by_level_person_loss_p_cause_and_subject() -> None:
    order = ["high", "serious", "medium", "low"]
    ranked = some_risks()
    assert len({r.level for r in ranked}) > 1
    for a, b in itertools.pairwise(ranked):
        assert order.index(a.level) <= order.index(b.level)
        if a.level == b.level:
            assert a.person >= b.person
            if a.person == b.person:
                assert a.expected_loss >= b.expected_loss
                if a.expected_loss == b.expected_loss:
                    assert a.probability >= b.probability
                    if a.probability == b.probability:
                        assert a.cause <= b.cause
    subjects = [r.subject for r in ranked if r.cause == ranked[0].cause and r.probability == ranked[0].probability]
    assert subjects == sorted(subjects, key=[None, "side 2", "side 10"].index)


@given(
    p=st.floats(0.0001, 0.9999),
    more=st.floats(0.0, 0.5),
    severity=st.integers(1, 4),
    hazard=st.sampled_from(sorted(HAZARDS)),
)
def test_a_likelier_cause_never_ranks_lower(p: float, more: float, severity: int, hazard: str) -> None:
    cat = catalogue(Cause("a", "a", 0.1, severity, hazard), Cause("b", "b", 0.1, 3, "load"))
    before = build([belief("a", p), belief("b", 0.3)], catalogue=cat, demand=DEMAND)
    after = build([belief("a", min(0.9999, p + more)), belief("b", 0.3)], catalogue=cat, demand=DEMAND)
    assert [r.cause for r in after].index("a") <= [r.cause for r in before].index("a")
