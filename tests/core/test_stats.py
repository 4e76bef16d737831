"""The arithmetic of evidence against published figures and independent libraries."""

from __future__ import annotations

import itertools
import math
import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loadworthy import stats

finite = st.floats(-1e3, 1e3)
positive = st.floats(1e-3, 1e3)
chance = st.floats(0.0, 1.0)


# The normal law


@pytest.mark.parametrize("z", [-37.0, -10.0, -3.0, -1.645, -0.1, 0.0, 0.7, 1.96, 5.0, 9.0, 37.0])
def test_normal_law_against_scipy(z: float) -> None:
    from scipy.stats import norm

    assert stats.normal_cdf(z) == pytest.approx(norm.cdf(z), rel=1e-12, abs=0.0)
    assert stats.normal_sf(z) == pytest.approx(norm.sf(z), rel=1e-12, abs=0.0)


def test_conformity_of_the_zener_diode() -> None:
    # JCGM 106:2012, Zener diode example: y -5.47 V, u 0.05 V, upper limit -5.40 V: printed 0.92 (from memory).
    conforming = 1.0 - stats.p_above(-5.47, 0.05, -5.40)
    assert conforming == pytest.approx(0.919, abs=5e-4)
    assert round(conforming, 2) == 0.92


def test_lower_limit_and_the_mixed_ratio() -> None:
    # Computed independently with scipy.stats.norm; printed in the method, row 2: 0.788, 4.761, 6.777 dB.
    from scipy.stats import norm

    p = stats.p_below(8.8, 0.25, 9.0)
    assert p == pytest.approx(norm.cdf(0.8), rel=1e-12)
    ratio = stats.mix((p, 1.0 - p), (6.0, 0.15))
    assert ratio == pytest.approx(4.761, abs=5e-4)
    assert stats.decibans(ratio) == pytest.approx(6.777, abs=5e-4)


def test_two_sided_limit_is_borderline_and_says_what_would_decide() -> None:
    # scipy.stats.norm; method, row 19: p 0.0668, needed u 0.0091.
    from scipy.stats import norm

    p = stats.p_above(1.015, 0.01, 1.03) + stats.p_below(1.015, 0.01, 0.97)
    assert p == pytest.approx(norm.sf(1.5) + norm.cdf(-4.5), rel=1e-9)
    assert p == pytest.approx(0.0668, abs=5e-5)
    needed = abs(1.03 - 1.015) / 1.645
    assert needed == pytest.approx(0.0091, abs=5e-5)
    assert stats.p_above(1.015, needed, 1.03) == pytest.approx(0.05, abs=1e-4)


def test_bands_of_an_evidence_table() -> None:
    # scipy.stats.norm; method, row 20: 0, 0.788, 0.212; LR 12.66 = 11.02 dB.
    from scipy.stats import norm

    edges = (2.0, 5.0)
    found = stats.bands(4.6, 0.5, edges)
    cuts = [0.0, *norm.cdf(edges, 4.6, 0.5), 1.0]
    assert found == pytest.approx([b - a for a, b in itertools.pairwise(cuts)], abs=1e-12)
    assert [round(p, 3) for p in found] == [0.0, 0.788, 0.212]
    ratio = stats.mix(found, (0.03, 8.0, 30.0))
    assert ratio == pytest.approx(12.66, abs=5e-3)
    assert stats.decibans(ratio) == pytest.approx(11.02, abs=5e-3)


def test_exact_values_are_beyond_only_when_greater() -> None:
    assert [stats.p_above(y, 0.0, 2.0) for y in (1.0, 2.0, 3.0)] == [0.0, 0.0, 1.0]
    assert [stats.p_below(y, 0.0, 2.0) for y in (1.0, 2.0, 3.0)] == [1.0, 0.0, 0.0]
    assert stats.bands(2.0, 0.0, (2.0, 4.0)) == (1.0, 0.0, 0.0)


@pytest.mark.parametrize("args", [(math.nan, 1.0, 0.0), (0.0, -1.0, 0.0), (0.0, math.inf, 0.0), (0.0, 1.0, math.nan)])
def test_readings_that_are_no_numbers_are_refused(args: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match=r"finite|number"):
        stats.p_above(*args)
    with pytest.raises(ValueError, match=r"finite|number"):
        stats.p_below(*args)
    with pytest.raises(ValueError, match=r"finite|number"):
        stats.bands(args[0], args[1], (args[2],))


def test_edges_must_rise() -> None:
    with pytest.raises(ValueError, match="rise"):
        stats.bands(0.0, 1.0, (2.0, 2.0))


@given(y=finite, dy=positive, u=st.one_of(st.just(0.0), positive), limit=finite)
def test_a_worse_reading_is_never_less_beyond(y: float, dy: float, u: float, limit: float) -> None:
    assert stats.p_above(y + dy, u, limit) >= stats.p_above(y, u, limit)
    assert stats.p_below(y + dy, u, limit) <= stats.p_below(y, u, limit)


@given(y=finite, u=st.one_of(st.just(0.0), positive), edges=st.lists(finite, min_size=1, max_size=5, unique=True))
def test_bands_are_a_whole(y: float, u: float, edges: list[float]) -> None:
    found = stats.bands(y, u, sorted(edges))
    assert len(found) == len(edges) + 1
    assert all(p >= 0.0 for p in found)
    assert sum(found) == pytest.approx(1.0, abs=1e-12)


@given(
    y=finite,
    dy=positive,
    u=positive,
    low=st.floats(0.01, 0.9),
    rise=st.lists(st.floats(1.0, 10.0), min_size=2, max_size=2),
)
def test_rising_ratios_make_a_rising_weight(y: float, dy: float, u: float, low: float, rise: list[float]) -> None:
    ratios = (low, low * rise[0], low * rise[0] * rise[1])
    before = stats.mix(stats.bands(y, u, (-5.0, 5.0)), ratios)
    after = stats.mix(stats.bands(y + dy, u, (-5.0, 5.0)), ratios)
    assert after >= before * (1.0 - 1e-12)


# Weight of evidence


@pytest.mark.parametrize(
    ("prior", "db", "expected", "source"),
    [
        # prevalence 1 %, detection 80 %, false alarms 9.6 %: printed 7.8 %
        (0.01, 10 * math.log10(0.80 / 0.096), 0.0776, "Gigerenzer and Hoffrage, Psychol. Rev. 102, 1995, from memory"),
        (0.05, 10.0, 0.3448, "Bayes' rule by hand: 0.5/(0.5 + 0.95)"),
        (0.05, 7.0, 0.2087, "Bayes' rule, +10 and -3 dB"),
        (0.30, 10 * math.log10(30.0), 0.9278, "Bayes' rule by hand: 9/(9 + 0.7)"),
    ],
)
def test_posterior(prior: float, db: float, expected: float, source: str) -> None:
    assert stats.posterior(prior, db) == pytest.approx(expected, abs=5e-5), source
    joint = prior * 10 ** (db / 10)
    assert stats.posterior(prior, db) == pytest.approx(joint / (joint + 1 - prior), rel=1e-12)


def test_posterior_by_counting() -> None:
    # Natural frequencies as the teaching example puts them: of 1000, 10 ill of whom 8 found, 990 well of whom 95.04.
    assert stats.posterior(0.01, stats.decibans(0.80 / 0.096)) == pytest.approx(8 / (8 + 95.04), rel=1e-12)


@given(prior=chance, db=st.floats(-40, 40), more=st.floats(0, 20))
def test_posterior_rises_with_evidence_and_stays_a_probability(prior: float, db: float, more: float) -> None:
    p = stats.posterior(prior, db)
    assert 0.0 <= p <= 1.0
    assert stats.posterior(prior, db + more) >= p * (1 - 1e-12)


def test_decibans_and_odds_refuse_nonsense() -> None:
    for ratio in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(ValueError, match="likelihood ratio"):
            stats.decibans(ratio)
    for p in (-0.1, 1.1, math.nan):
        with pytest.raises(ValueError, match="probability"):
            stats.odds(p)
        with pytest.raises(ValueError, match="probability"):
            stats.posterior(p, 0.0)
    assert stats.odds(1.0) == math.inf


@given(db=st.floats(-60, 60))
def test_ratio_is_the_inverse_of_decibans(db: float) -> None:
    assert stats.decibans(stats.ratio(db)) == pytest.approx(db, abs=1e-9)


def test_mix_counts_what_no_band_takes_up_as_saying_nothing() -> None:
    assert stats.mix((0.5,), (3.0,)) == pytest.approx(2.0)
    with pytest.raises(ValueError, match="sum"):
        stats.mix((0.7, 0.7), (1.0, 2.0))
    with pytest.raises(ValueError, match="likelihood ratio"):
        stats.mix((1.0,), (0.0,))
    with pytest.raises(ValueError, match="negative"):
        stats.mix((-0.1,), (2.0,))


@pytest.mark.parametrize(("p", "n", "net", "conflicting"), [(10, 12, 1, True), (5, 12, -7, False), (5.5, 12, -5, True)])
def test_conflict(p: float, n: float, net: float, conflicting: bool) -> None:
    # Method, section 3, row 12 (defined there; worked by hand).
    assert stats.group_net(p, n) == (pytest.approx(net), conflicting)


def test_groups_then_conflict() -> None:
    # Method, row 21: groups a +7 +4 -3, b +10 -12: p 17, n 15, net +6.5, P 0.190 from a prior of 0.05.
    totals = stats.group_totals(((7.0, 4.0, -3.0), (10.0, -12.0)))
    assert totals == (17.0, 15.0)
    net = stats.group_net(*totals).db
    assert net == pytest.approx(6.5)
    assert stats.posterior(0.05, net) == pytest.approx(0.190, abs=5e-4)
    assert stats.group_totals(((35.0, -28.0), ())) == (20.0, 20.0)


sums = st.floats(0.0, 60.0)


@given(p=sums, n=sums, more=st.floats(0.0, 20.0))
def test_net_never_falls_with_support_nor_rises_with_opposition(p: float, n: float, more: float) -> None:
    net = stats.group_net(p, n).db
    assert stats.group_net(p + more, n).db >= net - 1e-9
    assert stats.group_net(p, n + more).db <= net + 1e-9
    assert -40.0 <= net <= 40.0


@given(p=sums, n=sums)
def test_net_has_no_step(p: float, n: float) -> None:
    # The steepest slope is 1 + (n - 6)/2 <= 28 for sums up to 60; a step would show as a jump that does not shrink.
    tiny = 1e-7
    net = stats.group_net(p, n).db
    assert abs(stats.group_net(p + tiny, n).db - net) <= 30 * tiny
    assert abs(stats.group_net(p, n + tiny).db - net) <= 30 * tiny


def test_net_refuses_nonsense() -> None:
    for bad in ((-1.0, 0.0), (0.0, math.nan), (math.inf, 0.0)):
        with pytest.raises(ValueError, match="sums"):
            stats.group_net(*bad)


@pytest.mark.parametrize(
    ("db", "days", "km", "expected"),
    [
        (-10.0, 180.0, 2000.0, -5.0),
        (-10.0, 540.0, 2000.0, -1.25),
        (-10.0, 90.0, 7500.0, -3.536),
        (-10.0, 100.0, None, -5.743),
        (10.0, 540.0, None, 10.0),
    ],
)
def test_fading(db: float, days: float, km: float | None, expected: float) -> None:
    # Method, section 3, row 13 (defined there); 2^-1.5 = 0.35355, 2^-0.8 = 0.57435 from any table of powers.
    assert stats.fade(db, days, km) == pytest.approx(expected, abs=5e-4)


def test_fading_with_the_sections_own_half_lives() -> None:
    assert stats.fade(-8.0, 30.0, 0.0, half_days=30.0, half_km=1e9) == -4.0
    assert stats.fade(-8.0, 1e6, 1e9, half_days=math.inf, half_km=math.inf) == -8.0
    assert stats.half_lives(100.0, -500.0, 180.0, 5000.0) == stats.half_lives(100.0, None, 180.0, 5000.0)
    with pytest.raises(ValueError, match="half-lives"):
        stats.half_lives(1.0, 1.0, 0.0, 5000.0)


@given(
    db=st.floats(-20, 20), days=st.floats(0, 4000), wait=st.floats(0, 4000), km=st.one_of(st.none(), st.floats(0, 2e5))
)
def test_waiting_never_makes_evidence_kinder(db: float, days: float, wait: float, km: float | None) -> None:
    assert stats.fade(db, days + wait, km) >= stats.fade(db, days, km)


# Symptoms

WEIGHTS = (0.30, 0.14, 0.10, 0.08, 0.33)


@pytest.mark.parametrize(
    ("ratios", "expected", "none"),
    [
        ((30.0, 0.5, 0.5, 0.5, 0.5), (0.9600, 0.0075, 0.0053, 0.0043, 0.0176), 0.0053),
        ((0.03, 1.3, 1.3, 1.3, 1.3), (0.0100, 0.2013, 0.1438, 0.1150, 0.4746), 0.0553),
    ],
)
def test_shares(ratios: tuple[float, ...], expected: tuple[float, ...], none: float) -> None:
    # Method, rows 6 and 7; checked here by numpy.
    import numpy as np

    found, left = stats.shares(WEIGHTS, ratios, 0.05)
    assert found == pytest.approx(expected, abs=5.1e-5)
    assert left == pytest.approx(none, abs=5.1e-5)
    joint = np.append(np.multiply(WEIGHTS, ratios), 0.05)
    assert [*found, left] == pytest.approx(joint / joint.sum(), rel=1e-12)


def test_a_symptom_raises_by_as_much_as_it_is_beyond() -> None:
    # Method, row 23: prior 0.05, net -5, w 0.30, p 0.8.
    own = stats.posterior(0.05, -5.0)
    by_symptom = stats.posterior(0.30, -5.0)
    assert (own, by_symptom) == pytest.approx((0.0164, 0.1194), abs=5e-5)
    assert stats.raised(own, by_symptom, 0.8) == pytest.approx(0.0977, abs=5e-5)


@given(own=chance, by_symptom=chance, p=chance)
def test_a_symptom_only_raises_and_a_clean_one_does_nothing(own: float, by_symptom: float, p: float) -> None:
    found = stats.raised(own, by_symptom, p)
    assert own <= found <= max(own, by_symptom) + 1e-12
    assert stats.raised(own, by_symptom, 0.05 * p) == own


def test_repair_arithmetic() -> None:
    # Method, row 22: after a repair P starts at min(q0, 0.15), 0.05 once proven; -7.03 and +6.78 dB decide from there.
    assert stats.posterior(min(0.62, 0.05), -7.03) == pytest.approx(0.0103, abs=5e-5)
    assert stats.posterior(min(0.62, 0.15), 6.78) == pytest.approx(0.457, abs=5e-4)
    assert stats.posterior(min(0.01, 0.05), -7.03) == pytest.approx(0.0020, abs=5e-5)


# Readings and changes


def test_mean_of_repeats_on_one_gauge() -> None:
    # JCGM 100:2008, 4.2.3; statistics.stdev as the independent figure. Method, row 18.
    values = (12.1, 12.3, 11.8)
    u_class = 0.016 * 25.0 / math.sqrt(3.0)
    mean = stats.mean_with_u(values, u_class, 0.1)
    assert mean.scatter == pytest.approx(statistics.stdev(values) / math.sqrt(3.0), rel=1e-9)
    assert (mean.value, mean.scatter, u_class, mean.u) == pytest.approx((12.067, 0.1453, 0.2309, 0.2728), abs=5e-4)


def test_repeats_never_beat_the_instrument() -> None:
    many = stats.mean_with_u([12.1] * 50, 0.2, 0.1)
    assert many.u == pytest.approx(math.hypot(0.2, 0.1 / math.sqrt(12.0)))
    assert stats.mean_with_u([12.1], 0.2, 0.1).u == many.u
    for values, u in (((), 0.1), ((1.0, 1.0), 0.0), ((math.nan,), 0.1)):
        with pytest.raises(ValueError, match=r"values|mean"):
            stats.mean_with_u(values, u)


def test_a_change_that_is_not_shown() -> None:
    # scipy.stats.norm; method, row 14: d 14, u 8.63, z 1.62, p 0.105; smallest showable 24.2.
    from scipy.stats import norm

    change = stats.difference(298.0, 0.02 * 298.0, 312.0, 0.02 * 312.0)
    assert (change.d, change.u, change.z, change.p) == pytest.approx((14.0, 8.63, 1.62, 0.105), abs=5e-3)
    assert change.p == pytest.approx(2.0 * norm.sf(change.z), rel=1e-12)
    assert not change.shown
    assert change.smallest == pytest.approx(24.2, abs=0.05)
    # 80 % power at 5 %, exactly: the two quantiles that the rounded factors stand for.
    assert change.smallest == pytest.approx((norm.ppf(0.975) + norm.ppf(0.80)) * change.u, rel=1e-3)


def test_the_smallest_change_is_found_four_times_in_five() -> None:
    import random

    chance = random.Random(5)
    u = math.hypot(3.0, 4.0)
    least = stats.smallest_change(u)
    found = sum(
        stats.difference(chance.gauss(100.0, 3.0), 3.0, chance.gauss(100.0 + least, 4.0), 4.0).shown
        for _ in range(20_000)
    )
    # Standard error of a share of 0.80 in 20 000: 0.003.
    assert found / 20_000 == pytest.approx(0.80, abs=0.012)


def test_what_two_readings_share_cancels() -> None:
    alone = stats.difference(1.0, 0.5, 2.0, 0.5)
    shared = stats.difference(1.0, 0.5, 2.0, 0.5, shared=0.4)
    assert alone.u == pytest.approx(math.sqrt(0.5))
    assert shared.u == pytest.approx(math.sqrt(2.0) * 0.3)
    for args in (
        (1.0, 0.5, 2.0, 0.5, 0.6),
        (1.0, 0.0, 2.0, 0.0, 0.0),
        (1.0, 0.5, 2.0, 0.5, 0.5),
        (1.0, -0.5, 2.0, 0.5, 0.0),
    ):
        with pytest.raises(ValueError, match="uncertaint"):
            stats.difference(*args)


def test_holm_of_the_textbook_triple() -> None:
    # Holm, Scandinavian Journal of Statistics 6, 1979: 3 x 0.01, 2 x 0.03, then never less.
    assert stats.holm((0.01, 0.04, 0.03)) == pytest.approx((0.03, 0.06, 0.06))
    assert stats.holm(()) == ()
    with pytest.raises(ValueError, match="probability"):
        stats.holm((0.1, 1.1))


@settings(max_examples=40, deadline=None)
@given(st.lists(chance, min_size=1, max_size=12))
def test_holm_against_statsmodels(ps: list[float]) -> None:
    from statsmodels.stats.multitest import multipletests

    assert stats.holm(ps) == pytest.approx(list(multipletests(ps, method="holm")[1]), abs=1e-12)
