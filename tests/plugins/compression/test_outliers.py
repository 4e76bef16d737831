"""Self-scaled outlier tests: tables, formula and their weakness."""

from __future__ import annotations

from math import sqrt

import pytest

from loadworthy_plugins.compression.outliers import CRITICAL, dixon_ratio, grubbs, mad_score, supporting

TWO_LOW = [12.1, 7.9, 8.0, 12.2]


@pytest.mark.parametrize("n", sorted(CRITICAL))
def test_grubbs_critical_values_by_students_t(n: int) -> None:
    # Formula of NIST/SEMATECH e-Handbook 1.3.5.17.1 (from memory) with scipy's Student t.
    from scipy.stats import t as student

    for share, value in ((0.05, CRITICAL[n].grubbs), (0.025, CRITICAL[n].grubbs_two_sided)):
        t = float(student.ppf(1 - share / n, n - 2))
        assert value == pytest.approx((n - 1) / sqrt(n) * sqrt(t * t / (n - 2 + t * t)), abs=6e-4)


def test_the_widely_copied_value_for_seven_is_wrong() -> None:
    assert CRITICAL[7].grubbs_two_sided == pytest.approx(2.020, abs=0.001)


@pytest.mark.parametrize("n", sorted(CRITICAL))
def test_dixon_critical_values_by_simulation(n: int) -> None:
    # One-sided 5 %: Dixon 1951. Two-sided: upper 2.5 % point of one side (r10: Rorabacher 1991, from memory).
    import numpy as np

    x = np.sort(np.random.default_rng(1951 + n).standard_normal((120_000, n)), axis=1)
    near, far = (1, -1) if n <= 7 else (1, -2) if n <= 10 else (2, -2)
    ratios = (x[:, near] - x[:, 0]) / (x[:, far] - x[:, 0])
    assert CRITICAL[n].dixon == pytest.approx(float(np.quantile(ratios, 0.95)), abs=0.008)
    assert CRITICAL[n].dixon_two_sided == pytest.approx(float(np.quantile(ratios, 0.975)), abs=0.008)
    # The ratios themselves, against the array arithmetic.
    assert dixon_ratio([float(v) for v in x[0]], high=False) == pytest.approx(float(ratios[0]))
    assert dixon_ratio([-float(v) for v in x[0]], high=True) == pytest.approx(float(ratios[0]))


def test_published_set_is_not_significant() -> None:
    # TM 5-3895-359-14&P, Table 2.
    readings = [445.0, 440.0, 405.0, 435.0]
    assert dixon_ratio(readings, high=False) == pytest.approx(0.750, abs=0.002)
    assert dixon_ratio(readings, high=False) < CRITICAL[4].dixon
    assert grubbs(readings) == pytest.approx(1.461, abs=0.002)
    assert grubbs(readings) < CRITICAL[4].grubbs


def test_two_low_of_four_hide_each_other() -> None:
    assert dixon_ratio(TWO_LOW, high=False) == pytest.approx(0.023, abs=0.002)
    assert grubbs(TWO_LOW) == pytest.approx(0.886, abs=0.002)
    assert mad_score(TWO_LOW, 1) == pytest.approx(-0.69, abs=0.005)
    found = supporting(TWO_LOW)
    assert found is not None
    assert not found.dixon_flags
    assert not found.grubbs_flags


def test_three_equal_readings_make_any_fourth_an_outlier() -> None:
    readings = [12.0, 12.0, 12.0, 11.8]
    found = supporting(readings)
    assert found is not None
    assert found.dixon == 1.0
    assert found.dixon_flags
    assert mad_score(readings, 3) is None


def test_largest_possible_grubbs_value() -> None:
    for n in CRITICAL:
        assert grubbs([0.0] + [1.0] * (n - 1)) == pytest.approx((n - 1) / sqrt(n))
        assert CRITICAL[n].grubbs_two_sided < (n - 1) / sqrt(n)


def test_equal_readings_and_odd_sizes() -> None:
    assert dixon_ratio([12.0] * 4, high=True) == 0.0
    assert grubbs([12.0] * 4) == 0.0
    assert supporting([12.0, 11.0]) is None
    with pytest.raises(ValueError, match="3 to 13"):
        dixon_ratio([12.0, 11.0], high=False)
