"""Grades of SAE J300."""

from __future__ import annotations

import pytest

from loadworthy_plugins.physics.oil_grades import grades_of, read_grade, typical_viscosity
from loadworthy_plugins.physics.viscosity import viscosity_index


@pytest.mark.parametrize(
    ("text", "low", "high", "hths"),
    [
        # SAE J300: bands of the viscosity at 100 degC and least high-shear viscosity.
        ("0W-8", 4.0, 6.1, 1.7),
        ("0W-12", 5.0, 7.1, 2.0),
        ("0W-16", 6.1, 8.2, 2.3),
        ("0W-20", 6.9, 9.3, 2.6),
        ("5W-30", 9.3, 12.5, 2.9),
        ("10W-40", 12.5, 16.3, 3.5),
        ("15W-40", 12.5, 16.3, 3.7),
        ("SAE 40", 12.5, 16.3, 3.7),
        ("10W-50", 16.3, 21.9, 3.7),
        ("10W-60", 21.9, 26.1, 3.7),
    ],
)
def test_bands(text: str, low: float, high: float, hths: float) -> None:
    grade = read_grade(text)
    assert grade.band == pytest.approx((low * 1e-6, high * 1e-6))
    assert grade.least_hths == pytest.approx(hths * 1e-3)


@pytest.mark.parametrize(
    ("text", "least"), [("0W", 3.8), ("5W", 3.8), ("10W", 4.1), ("15W", 5.6), ("20W", 5.6), ("25W", 9.3)]
)
def test_w_grades(text: str, least: float) -> None:
    grade = read_grade(text)
    assert grade.band[0] == pytest.approx(least * 1e-6)
    assert grade.band[1] == float("inf")
    assert grade.least_hths is None


@pytest.mark.parametrize("text", ["5W-30", "5w30", " SAE 5W-30 ", "sae 5W/30", "5W 30"])
def test_ways_to_write_a_grade(text: str) -> None:
    assert read_grade(text).name == "5W-30"


@pytest.mark.parametrize(
    "text", ["", "W", "30W", "5W-31", "5W-30 A3", "full synthetic", "5W-30-40", chr(0x665) + "W-30", "530", "-"]
)
def test_what_is_no_grade(text: str) -> None:
    with pytest.raises(ValueError, match="no oil grade"):
        read_grade(text)


def test_viscosity_alone_gives_a_set_and_high_shear_narrows_it() -> None:
    # SAE J300: the bands of 8, 12, 16 and 20 overlap; of several grades the highest whose least high-shear is met.
    assert grades_of(8.00e-6) == (16, 20)
    assert grades_of(8.00e-6, 2.4e-3) == (16,)
    assert grades_of(8.00e-6, 2.7e-3) == (20,)
    assert grades_of(10.8e-6) == (30,)
    assert grades_of(8.00e-6, 1.0e-3) == ()
    assert grades_of(30e-6) == ()


def test_lower_bound_is_in_the_band_and_the_upper_is_not() -> None:
    assert grades_of(9.3e-6) == (30,)
    assert grades_of(12.5e-6) == (40,)


@pytest.mark.parametrize(("text", "index"), [("5W-30", 165.0), ("10W-60", 165.0), ("SAE 30", 100.0)])
def test_a_typical_oil_of_a_grade(text: str, index: float) -> None:
    kv40, kv100 = typical_viscosity(text)
    low, high = read_grade(text).band
    assert kv100 == pytest.approx((low + high) / 2)
    assert viscosity_index(kv40, kv100) == pytest.approx(index, abs=0.01)


def test_a_w_grade_alone_has_no_typical_hot_viscosity() -> None:
    with pytest.raises(ValueError, match="W grade alone"):
        typical_viscosity("10W")
