"""The worked case of the method through the whole core, to every printed digit, before and after its repair."""

from __future__ import annotations

import datetime

import pytest
import worked_case

from loadworthy import Host, Register, assess
from loadworthy.sdk import Finding, Treated, Verdict, Weight
from loadworthy.weigh import weigh


@pytest.fixture(scope="module")
def host() -> Host:
    return Host({"worked": worked_case}, entry_points=False)


@pytest.fixture(scope="module")
def register(host: Host) -> Register:
    return assess(worked_case.case(), host=host)


def test_probabilities_and_their_parts(register: Register) -> None:
    found = {b.cause: b for b in register.beliefs}
    assert f"{found['a'].own:.4f} {found['a'].net:.3f} {found['a'].p:.4f}" == "0.6134 11.548 0.7527"
    assert [(f"{p:.4f}", f"{net:.3f}") for _, _, net, p, _ in found["a"].by_symptom] == [("0.7604", "6.777")]
    assert f"{found['b'].own:.4f} {found['b'].p:.4f}" == "0.0164 0.0912"
    assert f"{found['c'].own:.2f} {found['c'].p:.4f}" == "0.02 0.0663"


def test_shares_and_what_stays_unexplained(register: Register) -> None:
    one, two = register.symptoms
    assert f"{one.strength:.3f} {two.strength:.3f}" == "0.947 0.579"
    assert {s.cause: f"{s.share:.3f}" for s in one.shares} == {"a": "0.816", "b": "0.034"}
    assert {s.cause: f"{s.share:.3f}" for s in two.shares} == {"b": "0.119", "c": "0.126"}
    assert f"{one.none_share:.3f} {two.none_share:.3f}" == "0.150 0.755"
    assert (one.unexplained, two.unexplained) == (False, True)


def test_consequence_level_and_rank(register: Register) -> None:
    assert [r.id for r in register.risks] == ["b", "a", "c"]
    shown = {r.id: (f"{r.h_plan:.4f}", f"{r.failure_probability:.4f}", r.level) for r in register.risks}
    assert shown == {
        "a": ("0.1363", "0.1026", "serious"),
        "b": ("0.2411", "0.0220", "high"),
        "c": ("0.1500", "0.0099", "medium"),
    }
    assert [f"{r.expected_loss:.1f}" for r in register.risks] == ["175.9", "153.9", "14.9"]


def test_hold_with_its_ladder(register: Register) -> None:
    assert (register.outcome, register.decision.kind, register.plan_class) == ("hold", "repair first", "strong")
    assert register.allowed.torque == (280.0, 300.0, 260.0)
    assert register.allowed.gain.values == (0.0, 0.0, 0.0)
    first, second = register.ladder.steps
    assert (first.until, second.until) == ("retest-a", "e")
    assert [f"{g:.1f}" for g in first.gained if g is not None] == ["56.0", "63.6", "65.0"]
    assert first.next_binding == ("", "worked.c2", "")
    assert [f"{g:.3f}" for g in first.allowed.gain.values if g is not None] == ["1.000", "0.707", "1.000"]
    assert f"{first.allowed.gain.mean:.3f}" == "0.854"
    assert [f"{g:.1f}" for g in second.gained if g is not None] == ["0.0", "26.4", "0.0"]
    assert second.allowed.carries_plan


def test_repaired_and_measured_again(host: Host) -> None:
    case = worked_case.repaired()
    register = assess(case, host=host, as_of=worked_case.DAY + datetime.timedelta(days=2))
    a = next(b for b in register.beliefs if b.cause == "a")
    assert f"{a.p:.4f} {a.net:.2f}" == "0.0103 -7.03"
    assert (a.repair, a.repair_proven, a.by_symptom) == ("repair-1", True, ())
    assert register.outcome == "limited"
    assert [v.id for v in register.ceilings] == ["worked.c2"]


def _groups(host: Host, *weights: Weight) -> tuple[float, float, float, float]:
    """Weigh explicit weights on cause c alone (prior 0.05 stands in by b)."""
    case = worked_case.case()
    findings = [
        ("worked", Finding(f"worked.given_{n}", "run:1", verdicts=(Verdict("watch", 1.0),), weights=(weight,)))
        for n, weight in enumerate(weights)
    ]
    found = weigh(findings, case=case, day=worked_case.DAY, catalogue=host.catalogue, subjects={})
    b = next(belief for belief in found.beliefs if belief.cause == "b")
    return b.positive, b.negative, b.net, b.p


def test_groups_and_conflict(host: Host) -> None:
    """Groups a +7 +4 -3, b +10 -12; prior 0.05: p 17, n 15, net +6.5, P 0.190 (method, section 13, row 21)."""
    given = [("a", 7.0), ("a", 4.0), ("a", -3.0), ("b", 10.0), ("b", -12.0)]
    p, n, net, probability = _groups(host, *(Weight("b", None, db, group) for group, db in given))
    assert (p, n, net) == pytest.approx((17.0, 15.0, 6.5))
    odds = 0.05 / 0.95 * 10**0.65
    assert probability == pytest.approx(odds / (1 + odds))
    assert f"{probability:.3f}" == "0.190"


def test_a_weight_counts_for_no_more_than_20_decibans(host: Host) -> None:
    assert _groups(host, Weight("b", None, 55.0, "a"))[0] == pytest.approx(20.0)


@pytest.mark.parametrize(("reading", "p"), [(None, 0.15), (9.6, 0.0103), (8.8, 0.457)])
def test_a_repair_and_its_retest(host: Host, reading: float | None, p: float) -> None:
    """From q0 0.61: repaired 0.15; clean retest 0.0103; a fired one instead 0.457 (method, section 13, row 22)."""
    case = worked_case.repaired()
    day = worked_case.DAY + datetime.timedelta(days=2)
    keep = case.sheets[0], *case.sheets[2:]
    after = (worked_case.bench(reading, day),) if reading is not None else ()
    from attrs import evolve

    register = assess(evolve(case, sheets=(*keep, *after)), host=host, as_of=day)
    a = next(b for b in register.beliefs if b.cause == "a")
    assert a.eve == pytest.approx(0.7527, abs=1e-4)
    assert a.p == pytest.approx(p, abs=6e-4)
    assert ("repair:repair-1" in [gap.id for gap in register.gaps]) == (reading != 9.6)


def test_measuring_again_does_not_heal(host: Host) -> None:
    later = [worked_case.DAY + datetime.timedelta(days=n) for n in (0, 1, 2)]
    once = worked_case.case(worked_case.bench(8.8, later[0]), worked_case.bench(9.6, later[1]))
    register = assess(once, host=host, as_of=later[2])
    old = next(s for s in register.standings if s.id.endswith("#bench:2026-05-10"))
    assert (old.state, old.grade, old.accept) == ("carried", "watch", True)
    a = next(b for b in register.beliefs if b.cause == "a")
    assert a.positive == pytest.approx(6.777 + 4.771, abs=1e-3)
    twice = worked_case.case(
        worked_case.bench(8.8, later[0]), worked_case.bench(9.6, later[1]), worked_case.bench(9.7, later[2])
    )
    register = assess(twice, host=host, as_of=later[2])
    assert next(s for s in register.standings if s.id.endswith("#bench:2026-05-10")).state == "history"


def test_a_repair_of_something_else_heals_nothing(host: Host) -> None:
    from attrs import evolve

    case = worked_case.repaired()
    other = evolve(case, repairs=(evolve(case.repairs[0], treats=(Treated("c"),)),))
    register = assess(other, host=host, as_of=worked_case.DAY + datetime.timedelta(days=2))
    old = next(s for s in register.standings if s.id.endswith("#bench:2026-05-10"))
    assert old.state == "carried"


def test_waiting_fades_only_what_clears(host: Host) -> None:
    """-10 dB after 180 days and 1 000 km: -5; a year later, 40 km a day further, 15 400 km tell more than 540 days."""
    case = worked_case.case()
    for days, expected in ((0, -5.0), (360, -10.0 * 0.5 ** (15_400 / 5_000))):
        register = assess(case, host=host, as_of=worked_case.DAY + datetime.timedelta(days=days))
        b = next(belief for belief in register.beliefs if belief.cause == "b")
        assert b.net == pytest.approx(expected)
        a = next(belief for belief in register.beliefs if belief.cause == "a")
        assert a.positive == pytest.approx(6.7767 + 4.771, abs=1e-3)
