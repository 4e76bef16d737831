"""From weights to P of a cause: groups, conflict, repairs, state, exclusion (method, sections 3 and 4)."""

from __future__ import annotations

from itertools import permutations
from math import log10

import pytest
from attrs import evolve
from weighing import CATALOGUE, belief, probability, ran, repair, sheet, standing, symptom, weighed

from loadworthy.case import Event, Treated
from loadworthy.findings import Finding, Used, Verdict, Weight
from loadworthy.testing import CaseBuilder, host_with

#: Nothing ages: what clears is worth the same on every day.
FRESH = evolve(CATALOGUE, sections={"bench": evolve(CATALOGUE.sections["bench"], half_life_days=1e9, half_life_km=1e9)})


def said(sheet: str, *weights: Weight, rule: str = "p.record", p: float = 1.0) -> Finding:
    """A finding with explicit weights."""
    return Finding(rule, sheet, verdicts=(Verdict("watch", p),), weights=weights)


def loose(db: float, group: str = "") -> Weight:
    return Weight("loose", None, db, group)


# Groups and conflict -------------------------------------------------------------------------------------------------


def net_of(p: float, n: float) -> float:
    """Section 3, word by word."""
    k = min(max(p - 5.0, 0.0), 1.0)
    return min(max(p - (n - k * max(0.0, n - 6.0) / 2.0), -40.0), 40.0)


@pytest.mark.parametrize(
    ("prior_of", "weights", "p"),
    [
        ("loose", [("a", 10.0)], 0.3448),
        ("loose", [("a", 10.0), ("b", -3.0)], 0.2087),
        ("loose", [("a", 10.0), ("a", -3.0)], 0.2087),
        ("loose", [("a", 10.0), ("a", 9.0), ("a", 4.0)], 0.3448),
        ("loose", [("a", 7.0), ("a", 4.0), ("a", -3.0), ("b", 10.0), ("b", -12.0)], 0.1903),
    ],
    ids=["row 4", "row 4 against", "one group for and against", "one group counts once", "row 21"],
)
def test_groups_add_and_count_once(prior_of: str, weights: list[tuple[str, float]], p: float) -> None:
    """Method, section 13, rows 4 and 21; order of entry and of results is nothing."""
    for order in permutations(weights):
        findings = [
            Finding(f"p.said_{n}", "s", verdicts=(Verdict("watch", 1.0),), weights=(loose(db, group),))
            for n, (group, db) in enumerate(order)
        ]
        # Local groups are those of plugin and sheet, whichever rule names them.
        assert belief(weighed(findings, sheet("s")), prior_of).p == pytest.approx(p, abs=5e-5)


def test_a_local_group_of_another_sheet_is_another_group() -> None:
    one = [said("s", loose(4.0, "a"), rule="p.one"), said("t", loose(4.0, "a"), rule="p.two")]
    assert belief(weighed(one, sheet("s"), sheet("t")), "loose").positive == 8.0
    shared = [said("s", loose(4.0, "heard"), rule="p.one"), said("t", loose(4.0, "heard"), rule="p.two")]
    assert belief(weighed(shared, sheet("s"), sheet("t")), "loose").positive == 4.0
    log = [said("s", loose(4.0, "log"), rule="p.one"), said("s", loose(4.0, "log"), rule="p.two")]
    assert belief(weighed(log, sheet("s")), "loose").positive == 4.0


@pytest.mark.parametrize(
    ("p", "n", "net", "conflicting"),
    [
        (10, 12, 1, True),
        (5, 12, -7, False),
        (5.5, 12, -5, True),
        (10, 6, 4, False),
        (20, 20, 7, True),
        (0, 20, -20, False),
    ],
)
def test_conflict(p: float, n: float, net: float, conflicting: bool) -> None:
    """Method, section 13, row 12, and the edges of section 3."""
    weights = [loose(w, g) for w, g in ((float(p), "a"), (-float(n), "b")) if w]
    found = belief(weighed([said("s", *weights)], sheet("s")), "loose")
    assert found.net == pytest.approx(net) == pytest.approx(net_of(p, n))
    assert found.conflicting is conflicting
    assert found.own == pytest.approx(probability(0.05, net))


def test_no_probability_is_certain() -> None:
    for sign, p in ((1.0, 0.9999), (-1.0, 0.0001)):
        weights = [Weight(cause, None, sign * 20.0, g) for g in "abc" for cause in ("stuck-shut", "loose")]
        found = belief(weighed([said("s", *weights)], sheet("s")), "stuck-shut" if sign > 0.0 else "loose")
        assert (found.net, found.p) == (sign * 40.0, p)


def test_which_weights_count() -> None:
    weights = (loose(7.0, "a"), loose(4.0, "a"), loose(-3.0, "a"), loose(-2.0, "a"))
    found = belief(weighed([said("s", *weights)], sheet("s")), "loose")
    assert {w.db: w.counts for w in found.weights} == {7.0: True, 4.0: False, -3.0: True, -2.0: False}


# Priors and activity -------------------------------------------------------------------------------------------------


def test_a_located_prior_is_shared_by_its_places() -> None:
    found = weighed([], sheet("s"))
    assert [b.prior for b in found.beliefs if b.cause == "worn"] == pytest.approx([0.1, 0.1, 0.1])
    assert (belief(found, "cracked").prior, belief(found, "loose").prior) == (0.02, 0.05)
    unknown = weighed([ran("p.level", "s", subject="part 7")], sheet("s"), subjects={})
    assert belief(unknown, "worn", "part 7").prior == 0.30
    assert belief(unknown, "worn").prior == 0.30


def test_an_undeclared_cause_has_a_prior_of_its_own() -> None:
    found = belief(weighed([said("s", Weight("alien", None, 10.0))], sheet("s")), "alien")
    assert (found.prior, found.declared) == (0.05, False)
    assert found.p == pytest.approx(probability(0.05, 10.0))


@pytest.mark.parametrize(
    ("finding", "active"),
    [
        (said("s", loose(3.0)), True),
        (said("s", loose(-3.0)), False),
        (said("s", loose(3.0, "a"), loose(-9.0, "b")), True),
        (
            Finding("p.record", "s", verdicts=(Verdict("note", 1.0),), weights=(loose(3.0, "a"), loose(-9.0, "b"))),
            False,
        ),
        (Finding("p.record", "s", verdicts=(Verdict("note", 1.0),), weights=(loose(3.0),)), True),
        (Finding("p.record", "s", verdicts=(Verdict("watch", 1.0),), names=(("loose", None),)), True),
        (Finding("p.record", "s", verdicts=(Verdict("note", 1.0),), names=(("loose", None),)), False),
    ],
    ids=["accused", "cleared", "accused at watch", "noted, net against", "noted, net for", "named", "named by a note"],
)
def test_active(finding: Finding, active: bool) -> None:
    """Method, section 6: a finding at watch or above with a positive weight or by state, or net above 0."""
    assert belief(weighed([finding], sheet("s")), "loose").active is active


@pytest.mark.parametrize(("p", "active"), [(1e-9, False), (1e-3, False), (0.04, True)])
def test_a_clean_rule_that_has_only_a_fired_ratio_makes_nothing_active_by_rounding(p: float, active: bool) -> None:
    """P(fired) x 5 + P(clean) x 1 is a little above 1 at every p; only above 0.1 dB does it speak."""
    found = belief(weighed([ran("p.noise", "s", p)], sheet("s")), "loose")
    assert 0.0 < found.net < 1.0
    assert found.active is active


# By state ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("verdict", "floor"),
    [
        (Verdict("watch", 1.0), 0.0),
        (Verdict("fix_first", 1.0), 0.2),
        (Verdict("stop", 1.0), 0.5),
        (Verdict("stop", 0.3), 0.0),
        (Verdict("stop", 0.0), 0.0),
    ],
    ids=["watch", "fix_first", "stop", "borderline", "clean"],
)
def test_named_by_state(verdict: Verdict, floor: float) -> None:
    overdue = Finding("p.record", "s", verdicts=(verdict,), names=(("loose", None), ("worn", "part 2")))
    found = weighed([overdue], sheet("s"))
    for key, prior in ((("loose", None), 0.05), (("worn", "part 2"), 0.1)):
        one = belief(found, *key)
        assert (one.floor, one.p, one.unfloored) == pytest.approx((floor, max(prior, floor), prior))
        assert one.named_by == (("p.record#s",) if verdict.p_beyond else ())
    assert belief(found, "worn", "part 1").p == pytest.approx(0.1)


def test_on_the_eve_of_a_repair_an_earlier_one_means_what_it_means_today() -> None:
    """What a rule speaks for by state may be known from a later sheet: both repairs treat the cause that it names."""
    named = Finding("p.record", "s", verdicts=(Verdict("watch", 0.0),), names=(("stuck-open", None),))
    repairs = (repair("r1", -9, "p.record"), repair("r2", -5, "stuck-open"))
    assert belief(weighed([named], sheet("s"), repairs=repairs), "stuck-open").eve == 0.15


def test_a_floor_by_state_is_no_part_of_the_eve_of_a_repair() -> None:
    stopped = Finding("p.record", "s", verdicts=(Verdict("stop", 1.0),), names=(("loose", None),))
    found = belief(weighed([stopped], sheet("s", -2), repairs=(repair("r", -1, "loose"),)), "loose")
    assert (found.eve, found.prior, found.p, found.floor) == (0.05, 0.05, 0.05, 0.0)
    again = evolve(stopped, sheet="t")
    found = belief(weighed([stopped, again], sheet("s", -2), sheet("t"), repairs=(repair("r", -1, "loose"),)), "loose")
    assert found.p == 0.5


# Exclusion -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("accused", [False, True])
def test_what_excludes_each_other_is_marked_and_not_lowered(accused: bool) -> None:
    """Priors 0.4 and 0.7 already sum above 1."""
    weights = [Weight("stuck-open", None, 10.0)] if accused else []
    found = weighed([said("s", *weights)], sheet("s"))
    open_, shut = belief(found, "stuck-open"), belief(found, "stuck-shut")
    assert open_.p == pytest.approx(probability(0.4, 10.0 if accused else 0.0))
    assert shut.p == pytest.approx(0.7)
    assert open_.excluded_share == pytest.approx(open_.p / (open_.p + shut.p))
    assert open_.excluded_share + shut.excluded_share == pytest.approx(1.0)
    cleared = weighed([said("s", Weight("stuck-shut", None, -20.0))], sheet("s"))
    assert belief(cleared, "stuck-open").excluded_share is None


# Symptoms ------------------------------------------------------------------------------------------------------------


def test_a_symptom_raises_by_its_strength() -> None:
    """Method, section 13, row 23: prior 0.05, net -5, w 0.30, p 0.8: own 0.0164, sym 0.1194, s 0.789, P 0.0977."""
    results = [said("s", loose(-5.0)), ran("p.run", "t", 0.8), symptom(0.8, "t")]
    found = weighed(results, sheet("s"), sheet("t"))
    one = belief(found, "loose")
    ((id, weight, net, by_symptom, p),) = one.by_symptom
    own, sym = probability(0.05, -5.0), probability(0.30, -5.0)
    strength = (0.8 - 0.05) / 0.95
    assert (id, weight, net, p) == ("short#t", 0.3, -5.0, 0.8)
    assert (one.own, by_symptom, one.p) == pytest.approx((own, sym, own + strength * (sym - own)))
    assert found.symptoms[0].strength == pytest.approx(strength)
    assert f"{own:.4f} {sym:.4f} {strength:.3f} {one.p:.4f}" == "0.0164 0.1194 0.789 0.0977"


def test_a_symptom_that_would_lower_does_nothing() -> None:
    found = belief(weighed([said("s", loose(15.0)), symptom(1.0, "t")], sheet("s"), sheet("t")), "loose")
    assert found.p > 0.6
    assert found.p == pytest.approx(probability(0.30, 15.0))
    unsuspected = belief(weighed([said("s", loose(15.0, "log")), symptom(1.0, "s", group="log")], sheet("s")), "loose")
    assert unsuspected.p == unsuspected.own


# Repairs -------------------------------------------------------------------------------------------------------------


def _accused(db: float = 14.914) -> Finding:
    """0.05 and 14.914 dB: P 0.62, the q0 of row 22."""
    return said("s", loose(db), rule="p.record")


CLEAN_LOOK = Finding("p.look", "t", verdicts=(Verdict("watch", 0.0),), weights=(loose(-7.03),))
FIRED_LOOK = Finding("p.look", "t", verdicts=(Verdict("watch", 1.0),), weights=(loose(6.78),))


@pytest.mark.parametrize(
    ("before", "retest", "prior", "p", "printed"),
    [
        (14.914, None, 0.15, probability(0.15, 0.0), "0.150"),
        (14.914, CLEAN_LOOK, 0.05, probability(0.05, -7.03), "0.0103"),
        (14.914, FIRED_LOOK, 0.15, probability(0.15, 6.78), "0.457"),
        (-7.169, None, 0.01, 0.01, "0.010"),
        (-7.169, CLEAN_LOOK, 0.01, probability(0.01, -7.03), "0.0020"),
    ],
    ids=["repaired", "retest clean", "retest fired", "was unlikely", "was unlikely, retest clean"],
)
def test_after_a_repair(before: float, retest: Finding | None, prior: float, p: float, printed: str) -> None:
    """Method, section 13, row 22: q0 0.62 and q0 0.01."""
    results = [_accused(before), *([retest] if retest else [])]
    found = weighed(results, sheet("s", -2), sheet("t", 0), repairs=(repair("r", -1, "loose"),), catalogue=FRESH)
    one = belief(found, "loose")
    assert one.eve == pytest.approx(probability(0.05, before)) == pytest.approx(0.62 if before > 0 else 0.01, abs=2e-4)
    assert one.prior == pytest.approx(prior, abs=2e-4)
    assert one.p == pytest.approx(p, abs=2e-5)
    assert f"{one.p:.{len(printed) - 2}f}" == printed
    proven = retest is CLEAN_LOOK
    assert (one.repair, one.repair_proven) == ("r", proven)
    assert found.unproven_repairs == (() if proven else (("r", "loose"),))


def test_both_signs_are_set_aside_and_shown() -> None:
    before = said("s", loose(9.0, "a"), loose(-4.0, "b"), Weight("whole", None, -4.0, "b"))
    found = weighed([before], sheet("s", -2), repairs=(repair("r", -1, "loose"),))
    one = belief(found, "loose")
    assert (one.positive, one.negative) == (0.0, 0.0)
    assert {(w.db, w.counts, w.note) for w in one.weights if w.group.startswith("p/a")} == {
        (9.0, False, "set aside by a repair")
    }
    assert all(w.note.endswith("set aside by a repair") and not w.counts for w in one.weights)
    assert belief(found, "whole").negative > 3.9
    assert standing(found.standings, "s", "p.record").set_aside == (("loose", None, "r"),)


@pytest.mark.parametrize(
    ("day", "hour", "mark", "repaired_at", "eve", "now"),
    [
        # Before the repair: part of its eve alone. After it: alone of today.
        (-2, None, "", None, (9.0, -4.0), (0.0, 0.0)),
        (0, None, "", None, (0.0, 0.0), (9.0, -4.0)),
        (-1, 8, "", 9, (9.0, -4.0), (0.0, 0.0)),
        (-1, 10, "", 9, (0.0, 0.0), (9.0, -4.0)),
        (-1, None, "r", None, (0.0, 0.0), (9.0, -4.0)),
        # The same day and nobody can tell: what clears counts before only, what accuses on both sides.
        (-1, None, "", None, (9.0, -4.0), (9.0, 0.0)),
        (-1, 8, "", None, (9.0, -4.0), (9.0, 0.0)),
    ],
    ids=["before", "after", "time before", "time after", "retest", "unordered", "one time"],
)
def test_a_sheet_near_a_repair(
    day: int,
    hour: int | None,
    mark: str,
    repaired_at: int | None,
    eve: tuple[float, float],
    now: tuple[float, float],
) -> None:
    given = said("s", loose(9.0, "a"), loose(-4.0, "b"))
    one_sheet = sheet("s", day, hour, retest_of=mark, odometer=80e6)
    case_repair = repair("r", -1, "loose", hour=repaired_at)
    found = weighed([given], one_sheet, repairs=(case_repair,), catalogue=FRESH)
    one = belief(found, "loose")
    assert one.eve == pytest.approx(probability(0.05, net_of(eve[0], -eve[1])))
    assert one.net == pytest.approx(net_of(now[0], -now[1]))
    told = [line for line in found.advice if line.startswith("give times")]
    assert bool(told) is (eve != (0.0, 0.0) and now != (0.0, 0.0))


def test_a_retest_puts_the_other_sheets_of_its_day_and_section_before_the_repair() -> None:
    first, second = said("s", loose(9.0), rule="p.one"), said("t", loose(3.0), rule="p.two")
    sheets = sheet("s", -1), sheet("t", -1, retest_of="r")
    one = belief(weighed([first, second], *sheets, repairs=(repair("r", -1, "loose"),)), "loose")
    assert (one.eve, one.net) == pytest.approx((probability(0.05, 9.0), 3.0))


def test_two_repairs_count_one_after_the_other() -> None:
    """q0 of the second is P on its eve: the first repair's prior with what was found in between."""
    results = [_accused(), said("t", loose(3.0), rule="p.again"), said("u", loose(1.0), rule="p.third")]
    sheets = sheet("s", -5), sheet("t", -3), sheet("u", -1)
    repairs = repair("r1", -4, "loose"), repair("r2", -2, "loose")
    one = belief(weighed(results, *sheets, repairs=repairs), "loose")
    after_first = probability(0.15, 3.0)
    assert one.eve == pytest.approx(after_first)
    assert one.p == pytest.approx(probability(min(after_first, 0.15), 1.0))
    # Between the two, from an unlikely cause: the first repair's eve stays the bound.
    low = belief(weighed([_accused(-7.169), *results[1:2]], *sheets[:2], repairs=repairs, catalogue=FRESH), "loose")
    assert low.eve == pytest.approx(probability(probability(0.05, -7.169), 3.0))
    assert low.prior == low.eve


def test_an_event_after_a_repair_does_not_reach_back_to_its_eve() -> None:
    """It does not end what cleared the cause before the repair; one before the repair does."""
    clearing = said("s", loose(-9.0))
    for event_day, ends in ((-3, True), (0, False)):
        event = Event("shock", sheet("e", event_day).date)
        found = weighed([clearing], sheet("s", -4), repairs=(repair("r", -2, "loose"),), events=(event,))
        eve = belief(found, "loose").eve
        assert eve is not None
        assert (eve == pytest.approx(0.05)) is ends


def test_a_repair_reaches_only_what_it_treats() -> None:
    found = weighed(
        [ran("p.level", "s", subject="part 1"), ran("p.level", "s", subject="part 2")],
        sheet("s", -2),
        repairs=(repair("r", -1, "worn@part 2"),),
    )
    assert belief(found, "worn", "part 2").net == 0.0
    assert belief(found, "worn", "part 1").net == pytest.approx(10 * log10(6.0))
    assert belief(found, "worn", "part 1").repair == ""


def test_a_broader_wording_goes_to_all_that_it_covers() -> None:
    found = weighed([said("s", Weight("slack", "part 2", 6.0))], sheet("s"))
    assert [(b.cause, b.subject, b.net) for b in found.beliefs if b.net] == [
        ("loose", None, 6.0),
        ("worn", "part 2", 6.0),
    ]
    mended = weighed([said("s", Weight("slack", "part 2", 6.0))], sheet("s", -2), repairs=(repair("r", -1, "slack"),))
    assert [b.net for b in mended.beliefs if b.net] == []


def test_a_carried_fault_joins_the_group_of_its_own_sheet() -> None:
    """Measured again on another sheet it neither loses its weight nor adds it to that of the same measurement."""
    fault, again = ran("p.noise", "s", 1.0), ran("p.noise", "t", 0.0)
    found = weighed([fault, again], sheet("s", -2), sheet("t", -1))
    assert standing(found.standings, "s", "p.noise").state == "carried"
    # LR 5 of the global group; the clean run has no ratio of its own.
    assert belief(found, "loose").positive == pytest.approx(10 * log10(5.0))


# Advice --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gap", "day", "subject", "told"),
    [(2.81, 0, "", True), (2.79, 0, "", False), (9.0, 1, "", False), (9.0, 0, "part 2", False)],
    ids=["too far apart", "near enough", "another day", "another place"],
)
def test_two_results_of_a_day_that_differ_too_much(gap: float, day: int, subject: str, told: bool) -> None:
    """2.8 u, u^2 the mean of both squares (ISO 5725-6:1994, from memory): 1 and 7 give u 5."""

    def run(id: str, value: float, u: float, at: str) -> Finding:
        used = (Used(f"{id}.level", value, u, "bar"),)
        return Finding("p.level", id, at or None, (Verdict("watch", 0.0),), readings=used)

    results = [run("s", 100.0, 1.0, ""), run("t", 100.0 + 5.0 * gap, 7.0, subject)]
    found = weighed(results, sheet("s"), sheet("t", day), day=1)
    assert bool([line for line in found.advice if line.startswith("repeat the measurement")]) is told


# Through the reader --------------------------------------------------------------------------------------------------


def test_the_worst_sheet_of_a_day_decides_whatever_their_order_in_the_file() -> None:
    import generic_check

    host = host_with(generic=generic_check)

    def case(*levels: str) -> CaseBuilder:
        builder = CaseBuilder(host)
        for number, level in enumerate(levels):
            builder.sheet("gauge", id=f"g{number}{level[0]}", date="2026-05-04", level={"1": level, "2": "14 bar"})
        return builder.repair(id="r", date="2026-05-05", what="mended", treats=["loose"]).event(
            kind="shock", date="2026-05-06"
        )

    from loadworthy import assess

    for levels in (("8 bar", "14 bar"), ("14 bar", "8 bar")):
        register = assess(case(*levels).build(), host=host)
        governing = [s for s in register.standings if s.finding.subject == "part 1" and s.state == "governs"]
        assert [s.grade for s in governing] == ["fix_first"]
        assert register.case.repairs[0].treats == (Treated("loose"),)
        assert register.case.events[0].kind == "shock"
