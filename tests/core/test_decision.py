"""What information is worth, against a textbook and plain enumeration."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy import decision
from loadworthy.stats import posterior

# Raiffa, Decision Analysis, 1968, pp. 34-36: a well may be dry, wet or soaking; soundings give one of three results.
PAY = ((0.0, 0.0, 0.0), (0.0 - 70.0, 120.0 - 70.0, 270.0 - 70.0))
JOINT = ((0.30, 0.15, 0.05), (0.09, 0.12, 0.09), (0.02, 0.08, 0.10))
STATES = tuple(sum(row) for row in JOINT)


def test_the_drilling_problem() -> None:
    assert sum(STATES) == pytest.approx(1.0)
    without = decision.best(PAY, STATES)
    with_test = decision.value_with_information(PAY, JOINT)
    assert without == pytest.approx(20.0)
    assert with_test == pytest.approx(32.5)
    assert with_test - without == pytest.approx(12.5)
    assert decision.value_of_perfect_information(PAY, STATES) == pytest.approx(35.0)


def test_the_drilling_problem_by_enumerating_every_strategy() -> None:
    # A strategy says for each result whether to drill; the best of all eight is what the formula must find.
    strategies = itertools.product((0, 1), repeat=3)
    values = [sum(JOINT[state][k] * PAY[plan[k]][state] for state in range(3) for k in range(3)) for plan in strategies]
    assert decision.value_with_information(PAY, JOINT) == pytest.approx(max(values))


def test_perfect_information_is_a_test_that_never_errs() -> None:
    diagonal = tuple(tuple(p if i == j else 0.0 for j in range(3)) for i, p in enumerate(STATES))
    gain = decision.value_with_information(PAY, diagonal) - decision.best(PAY, STATES)
    assert gain == pytest.approx(decision.value_of_perfect_information(PAY, STATES))


def enumerated(p: float, repair: float, loss: float, results: tuple[tuple[float, float], ...]) -> float:
    """The value of a test through posteriors, as a person would tabulate it."""
    after = 0.0
    for with_cause, without in results:
        p_result = p * with_cause + (1 - p) * without
        if p_result > 0.0:
            after += p_result * min(repair, p * with_cause / p_result * loss)
    return min(repair, p * loss) - after


def test_repair_or_proceed() -> None:
    # Method, row 11: V 600, P(+) 0.30, P 0.75 / 0.0357, value 340, EVPI 450 (enumeration).
    p, repair, loss = 0.25, 600.0, 3200.0
    results = ((0.9, 0.1), (0.1, 0.9))
    assert decision.value(p, repair, loss) == 600.0
    p_plus = p * 0.9 + (1 - p) * 0.1
    assert (p_plus, p * 0.9 / p_plus, p * 0.1 / (1 - p_plus)) == pytest.approx((0.30, 0.75, 0.0357), abs=5e-5)
    assert decision.expected_value_of_test(p, repair, loss, results) == pytest.approx(340.0)
    assert enumerated(p, repair, loss, results) == pytest.approx(340.0)
    assert decision.evpi(p, repair, loss) == 450.0


def test_likelihoods_from_a_pair_of_ratios() -> None:
    # Method, row 24: P(f) 0.1453 / 0.8718; P 0.667 / 0.048; value 301.3 (enumeration).
    fired, clean = decision.likelihood_pair(6.0, 0.15)
    assert (fired.no_cause, fired.cause) == pytest.approx((0.1453, 0.8718), abs=5e-5)
    assert fired.cause / fired.no_cause == pytest.approx(6.0)
    assert clean.cause / clean.no_cause == pytest.approx(0.15)
    assert posterior(0.25, 10 * math.log10(6.0)) == pytest.approx(0.667, abs=5e-4)
    assert posterior(0.25, 10 * math.log10(0.15)) == pytest.approx(0.048, abs=5e-4)
    value = decision.expected_value_of_test(0.25, 600.0, 3200.0, (fired, clean))
    assert value == pytest.approx(301.3, abs=0.05)
    assert value == pytest.approx(enumerated(0.25, 600.0, 3200.0, (tuple(fired), tuple(clean))))


@given(
    p=st.floats(0, 1),
    repair=st.floats(0, 1e4),
    loss=st.floats(0, 1e5),
    fired=st.floats(1.01, 1e3),
    not_fired=st.floats(1e-3, 0.99),
)
def test_a_test_is_worth_between_nothing_and_certainty(
    p: float, repair: float, loss: float, fired: float, not_fired: float
) -> None:
    pair = decision.likelihood_pair(fired, not_fired)
    value = decision.expected_value_of_test(p, repair, loss, pair)
    assert 0.0 <= value <= decision.evpi(p, repair, loss)
    assert value == pytest.approx(enumerated(p, repair, loss, tuple(map(tuple, pair))), abs=1e-6)


@given(p=st.floats(0.01, 0.99), repair=st.floats(1, 1e4), loss=st.floats(1, 1e5))
def test_a_test_that_says_nothing_is_worth_nothing(p: float, repair: float, loss: float) -> None:
    worth = decision.expected_value_of_test(p, repair, loss, ((0.3, 0.3), (0.7, 0.7)))
    assert worth == pytest.approx(0.0, abs=1e-9 * loss)
    perfect = decision.expected_value_of_test(p, repair, loss, ((1.0, 0.0), (0.0, 1.0)))
    assert perfect == pytest.approx(decision.evpi(p, repair, loss), abs=1e-9 * loss)


def test_a_test_without_results_is_worth_nothing() -> None:
    assert decision.expected_value_of_test(0.25, 600.0, 3200.0, ()) == 0.0


@pytest.mark.parametrize("pair", [(1.0, 0.5), (6.0, 1.0), (0.5, 0.1), (6.0, 0.0), (math.inf, 0.1)])
def test_pairs_on_one_side_of_one_must_be_declared(pair: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="either side"):
        decision.likelihood_pair(*pair)


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="sum to 1"):
        decision.expected_value_of_test(0.5, 1.0, 1.0, ((0.5, 0.5), (0.4, 0.5)))
    with pytest.raises(ValueError, match="probability"):
        decision.value(1.5, 1.0, 1.0)
    with pytest.raises(ValueError, match="amounts"):
        decision.evpi(0.5, -1.0, 1.0)
