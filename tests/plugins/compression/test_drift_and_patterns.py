"""Drift with the order of taking, and what the low cylinders have in common."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.compression.balance import compare
from loadworthy_plugins.compression.drift import drift
from loadworthy_plugins.compression.patterns import (
    adjacency_ratio,
    equal_depth,
    low_pairs,
    neighbours,
    whole,
)

INLINE = [[1, 2, 3, 4]]
VEE = [[1, 3, 5, 7], [2, 4, 6, 8]]


def test_a_stop_is_no_drift() -> None:
    found = drift([12.0, 11.9, 11.8, 8.0], 0.025)
    assert found.drifting
    assert found.per_step == pytest.approx(-0.1)
    assert found.without == pytest.approx([12.0, 12.0, 12.0, 8.3])
    assert compare(found.without, 0.025).deviations[3].deficit == pytest.approx(0.308, abs=0.002)


@pytest.mark.parametrize(
    ("readings", "repeat", "drifting", "per_step"),
    [
        ([12.0, 11.8, 11.6, 11.4], None, True, -0.2),
        ([12.0, 11.8, 11.6, 11.4], 11.2, True, -0.2),
        # the repeat shows less: the smaller trend is removed
        ([12.0, 11.8, 11.6, 11.4], 11.8, True, -0.05),
        # the repeat shows no trend at all: nothing is excused
        ([12.0, 11.8, 11.6, 11.4], 12.0, True, 0.0),
        # less than 4 % in all, or not falling throughout, or too few
        ([12.0, 11.9, 11.8, 11.7], None, False, 0.0),
        ([12.0, 11.5, 11.6, 11.2], None, False, 0.0),
        ([12.0, 11.5, 11.0], None, False, 0.0),
        # one low cylinder taken last is not a trend
        ([12.0, 12.0, 12.0, 9.0], None, False, 0.0),
        # the repeat alone: more than 2.8 x 2.5 %
        ([12.0, 12.2, 12.1, 12.4], 11.1, True, 0.0),
        ([12.0, 11.9, 12.1, 12.0], 11.2, False, 0.0),
        ([12.0, 11.7, 11.8, 11.5], 11.0, True, -0.25),
    ],
)
def test_drift(readings: list[float], repeat: float | None, drifting: bool, per_step: float) -> None:
    found = drift(readings, 0.025, repeat)
    assert found.drifting is drifting
    assert found.per_step == pytest.approx(per_step)


@given(st.lists(st.floats(5.0, 15.0), min_size=4, max_size=12), st.one_of(st.none(), st.floats(5.0, 15.0)))
def test_removing_a_trend_never_lowers_a_falling_reading(readings: list[float], repeat: float | None) -> None:
    found = drift(readings, 0.025, repeat)
    assert found.without[0] == readings[0]
    if not found.drifting:
        assert found.without == tuple(readings)
    if found.per_step <= 0.0:
        assert all(b >= a for a, b in zip(readings, found.without, strict=True))


def test_facing_cylinders_of_a_vee_are_no_neighbours() -> None:
    assert (1, 2) not in set(neighbours(VEE))
    assert set(neighbours(VEE)) == {(1, 3), (3, 5), (5, 7), (2, 4), (4, 6), (6, 8)}
    assert low_pairs([1, 2], VEE) == ((), True)
    assert low_pairs([3, 1], VEE) == (((1, 3),), False)


@pytest.mark.parametrize(
    "layout", [INLINE, [[1, 2, 3]], [[1, 2, 3, 4, 5, 6]], VEE, [[1, 2, 3], [4, 5, 6]], [[1, 2], [3, 4]]]
)
def test_adjacency_by_luck_by_counting_every_pair(layout: list[list[int]]) -> None:
    cylinders = sorted(c for bank in layout for c in bank)
    pairs = list(combinations(cylinders, 2))
    lucky = sum(pair in set(neighbours(layout)) for pair in pairs) / len(pairs)
    assert adjacency_ratio(layout) == pytest.approx(1 / lucky)
    n = len(cylinders)
    expected = 2 / n if len(layout) == 1 else 2 * (n - 2) / (n * (n - 1))
    assert lucky == pytest.approx(expected)


def test_no_layout_gives_no_pair() -> None:
    assert adjacency_ratio([[1], [2], [3]]) == 1.0
    assert low_pairs([1, 2], []) == ((), True)


def test_more_low_cylinders_take_no_label_away() -> None:
    assert whole([1, 3], [1, 3])
    assert whole([1, 3], [1, 2, 3])
    assert not whole([1, 3], [1])
    assert not whole([], [1])
    assert low_pairs([2, 3, 4], INLINE) == (((2, 3), (3, 4)), True)


def test_equal_depth_is_the_critical_difference() -> None:
    assert equal_depth(0.350, 0.342, 0.025)
    assert not equal_depth(0.350, 0.270, 0.025)
