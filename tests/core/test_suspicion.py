"""Symptoms: who may explain them, and in which order of suspicion (method, section 4)."""

from __future__ import annotations

import pytest
from attrs import evolve
from weighing import CATALOGUE, belief, probability, ran, repair, sheet, symptom, weighed

from loadworthy.declarations import SymptomSet
from loadworthy.findings import Candidate, Finding, Verdict, Weight


def _run(sheet: str = "s", p: float = 1.0, *weights: Weight) -> Finding:
    return Finding("p.run", sheet, verdicts=(Verdict("watch", p),), weights=weights)


def test_candidates_share_their_weight_among_their_places() -> None:
    found = weighed([_run(), symptom(text="it is short")], sheet("s"))
    (view,) = found.symptoms
    weights = {(s.cause, s.subject): s.weight for s in view.shares}
    assert weights == pytest.approx(
        {("worn", f"part {n}"): 0.6 / 3 for n in (1, 2, 3)} | {("loose", None): 0.3, ("whole", None): 0.06}
    )
    assert view.none_share == pytest.approx(0.04)
    assert (view.id, view.text, view.grade, view.group) == ("short#s", "it is short", "watch", "log:s")


def test_a_symptom_at_a_place_suspects_that_place() -> None:
    found = weighed([_run(), symptom(subject="part 2")], sheet("s"))
    assert found.symptoms[0].id == "short@part 2#s"
    assert [(s.cause, s.subject) for s in found.symptoms[0].shares] == [
        ("loose", None),
        ("whole", None),
        ("worn", "part 2"),
    ]


@pytest.mark.parametrize(("weights", "scale"), [((0.7, 0.295), 0.98 / 0.995), ((0.6, 0.38), 1.0), ((0.2, 0.1), 1.0)])
def test_candidates_leave_something_for_none_of_them(weights: tuple[float, float], scale: float) -> None:
    candidates = tuple(Candidate(c, None, w) for c, w in zip(("loose", "whole"), weights, strict=True))
    (view,) = weighed([_run(), symptom(candidates=candidates)], sheet("s")).symptoms
    assert [s.weight for s in view.shares] == pytest.approx([w * scale for w in weights])
    assert view.none_share == pytest.approx(1.0 - sum(weights) * scale)


def test_a_candidate_listed_twice_adds_up() -> None:
    candidates = (Candidate("loose", None, 0.1), Candidate("slack", "part 1", 0.4))
    (view,) = weighed([_run(), symptom(candidates=candidates)], sheet("s")).symptoms
    # The broader wording goes to both that it covers, half and half.
    assert {s.cause: s.weight for s in view.shares} == pytest.approx({"loose": 0.3, "worn": 0.2})


def test_shares_by_what_else_is_known() -> None:
    """Method, section 13, rows 6 and 7: w L over the sum of w L and none, by hand."""
    names = ("e", "d", "c", "b", "a")
    weights = dict(zip(names, (0.30, 0.14, 0.10, 0.08, 0.33), strict=True))
    catalogue = evolve(
        CATALOGUE,
        causes={n: evolve(CATALOGUE.causes["whole"], id=n, retest=()) for n in names},
        symptoms={"short": SymptomSet("short", "short", tuple(weights.items()))},
    )
    for first, others in ((30.0, 0.5), (0.03, 1.3)):
        ratios = {n: first if n == "e" else others for n in names}
        decibans = {"30.0": 14.771212547, "0.5": -3.010299957, "0.03": -15.228787453, "1.3": 1.139433523}
        known = [Weight(n, None, decibans[str(ratio)], f"own {n}") for n, ratio in ratios.items()]
        evidence = Finding("p.record", "t", verdicts=(Verdict("watch", 0.9),), weights=tuple(known))
        (view,) = weighed([_run(), symptom(), evidence], sheet("s"), sheet("t"), catalogue=catalogue).symptoms
        total = sum(weights[n] * ratios[n] for n in names) + 0.05
        # Weights against are met in full here: nothing conflicts.
        assert {s.cause: s.share for s in view.shares} == pytest.approx(
            {n: weights[n] * ratios[n] / total for n in names}, rel=1e-6
        )
        assert view.none_share == pytest.approx(0.05 / total)
        assert view.unexplained is (first < 1.0)


@pytest.mark.parametrize(("p", "strength", "unexplained"), [(0.04, 0.0, False), (0.05, 0.0, True), (0.525, 0.5, True)])
def test_a_symptom_counts_from_a_twentieth(p: float, strength: float, unexplained: bool) -> None:
    found = weighed([_run(p=p), symptom(p)], sheet("s"))
    (view,) = found.symptoms
    assert (view.strength, view.unexplained) == (pytest.approx(strength), unexplained)
    assert belief(found, "loose").active is (p >= 0.05)


def test_it_goes_with_the_finding_that_showed_it() -> None:
    again = [_run("s"), symptom(), _run("t", 0.0), symptom(0.0, "t")]
    # Fired and carried: the symptom stays. Clean at last on two days: it is gone.
    found = weighed(again, sheet("s", -3), sheet("t", -2))
    assert [view.id for view in found.symptoms] == ["short#s", "short#t"]
    healed = weighed([*again, _run("u", 0.0), symptom(0.0, "u")], sheet("s", -3), sheet("t", -2), sheet("u", -1))
    assert [view.id for view in healed.symptoms] == ["short#u"]


def test_one_without_a_finding_stands_alone() -> None:
    found = weighed([symptom(0.9)], sheet("s"))
    assert [(view.id, view.grade) for view in found.symptoms] == [("short#s", None)]
    assert belief(found, "loose").p > 0.05


def test_its_own_group_speaks_once() -> None:
    """net' leaves the symptom's group out, so that one log is not counted for and again by its symptom."""
    weight = Weight("loose", None, 4.0)
    mixed = weighed([_run("s", 1.0, weight), symptom()], sheet("s"))
    apart = weighed([_run("s", 1.0, weight), symptom(group="heard")], sheet("s"))
    (inside,), (outside,) = belief(mixed, "loose").by_symptom, belief(apart, "loose").by_symptom
    assert inside[2:4] == pytest.approx((0.0, probability(0.3, 0.0)))
    assert outside[2:4] == pytest.approx((4.0, probability(0.3, 4.0)))


def test_evidence_on_one_candidate_never_lowers_another() -> None:
    plain = weighed([_run(), symptom()], sheet("s"))
    found = ran("p.level", "t", subject="part 1")
    accused = weighed([_run(), symptom(), found], sheet("s"), sheet("t"))
    assert belief(accused, "loose").p == belief(plain, "loose").p
    share = {(s.cause, s.subject): s.share for s in plain.symptoms[0].shares}
    less = {(s.cause, s.subject): s.share for s in accused.symptoms[0].shares}
    assert less["loose", None] < share["loose", None]
    assert less["worn", "part 1"] > share["worn", "part 1"]


@pytest.mark.parametrize(("day", "member"), [(1, False), (0, True), (-1, True)])
def test_a_repair_sets_membership_aside(day: int, member: bool) -> None:
    """After the symptom: no longer a candidate. Before it or on its day without times: still one."""
    found = weighed([_run(), symptom()], sheet("s"), repairs=(repair("r", day, "loose"),), day=2)
    assert ("loose" in {s.cause for s in found.symptoms[0].shares}) is member
    assert bool(belief(found, "loose").by_symptom) is member
    # The others stay suspected, with shares of what is left.
    assert sum(s.share for s in found.symptoms[0].shares) + found.symptoms[0].none_share == pytest.approx(1.0)


def test_the_strongest_symptom_counts() -> None:
    other = evolve(CATALOGUE, symptoms={**CATALOGUE.symptoms, "long": SymptomSet("long", "long", (("loose", 0.8),))})
    results = [_run(), symptom(0.9), ran("p.record", "t"), evolve(symptom(0.5, "t", "p.record"), id="long")]
    found = belief(weighed(results, sheet("s"), sheet("t"), catalogue=other), "loose")
    own = 0.05
    expected = [own + (p - 0.05) / 0.95 * (w - own) for p, w in ((0.9, 0.3), (0.5, 0.8))]
    assert found.p == pytest.approx(max(expected))
    assert [id for id, *_ in found.by_symptom] == ["long#t", "short#s"]
