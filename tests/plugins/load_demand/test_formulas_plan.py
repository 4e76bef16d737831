"""Curves, envelopes, the table of defaults and uncertainties."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from loadworthy_plugins.load_demand import defaults, envelope, uncertainty
from loadworthy_plugins.load_demand.formulas import OutsideModelError, peak_conflict, power_of, torque_of

POINTS = ((2000 / 60, 300.0), (4000 / 60, 320.0), (6000 / 60, 260.0))


def test_given_points_are_joined_by_lines() -> None:
    assert envelope.curve_torque(POINTS, 50.0) == pytest.approx(310.0)
    assert envelope.curve_torque(POINTS, 5000 / 60) == pytest.approx(290.0)


def test_a_curve_is_continued_by_five_per_cent_at_most() -> None:
    assert envelope.curve_torque(POINTS, 6300 / 60) == pytest.approx(251.0)
    assert envelope.curve_torque(POINTS, 1900 / 60) == pytest.approx(299.0)
    for rpm in (1899.0, 6301.0):
        with pytest.raises(OutsideModelError, match="2000 and 6000 rpm"):
            envelope.curve_torque(POINTS, rpm / 60)


def test_envelope_over_two_peaks() -> None:
    peaks = envelope.Peaks(180e3, 5500 / 60, 380.0, 2000 / 60)
    assert envelope.envelope_torque(peaks, 3000 / 60) == 380.0
    assert envelope.envelope_torque(peaks, 5500 / 60) == pytest.approx(312.52, abs=0.005)
    assert envelope.envelope_torque(peaks, 6000 / 60) == pytest.approx(torque_of(180e3, 100.0))
    assert envelope.envelope_torque(peaks, 1000 / 60) == pytest.approx(380.0 * 0.775)


@given(st.floats(1000 / 60, 110.0))
def test_envelope_is_continuous_and_within_both_peaks(speed: float) -> None:
    peaks = envelope.Peaks(180e3, 5500 / 60, 380.0, 2000 / 60)
    torque = envelope.envelope_torque(peaks, speed)
    assert torque <= 380.0
    assert power_of(torque, speed) <= 180e3 * (1 + 1e-12)
    assert envelope.envelope_torque(peaks, speed + 1e-6) == pytest.approx(torque, rel=1e-6)


@given(st.floats(0.56, 1.0))
def test_an_early_plateau_is_covered_but_never_above_the_peak(share: float) -> None:
    u = envelope.early_plateau_u(share * 300.0, 300.0)
    assert share * 300.0 * (1 + 2 * u) <= 300.0 * (1 + 1e-12)
    assert u == pytest.approx(0.15) or share > 1 / 1.3 - 1e-9


def test_peaks_of_points() -> None:
    peaks = envelope.peaks_of(POINTS)
    assert (peaks.torque, peaks.torque_speed) == (320.0, 4000 / 60)
    assert (peaks.power, peaks.power_speed) == (power_of(260.0, 100.0), 100.0)


def test_grid_holds_ends_marks_and_every_250_rpm() -> None:
    speeds = [round(60 * n, 6) for n in envelope.grid(1600 / 60, 3100 / 60, (1875 / 60, 2249.5 / 60, 9000 / 60))]
    assert speeds == [1600, 1750, 1875, 2000, 2249.5, 2500, 2750, 3000, 3100]


@given(st.floats(10.0, 40.0), st.floats(41.0, 120.0), st.floats(41.0, 120.0))
def test_grid_rises_strictly(low: float, high: float, mark: float) -> None:
    assume(abs(mark - high) > 0.02)
    speeds = envelope.grid(low, high, (mark,))
    assert all(a < b for a, b in pairwise(speeds))
    assert speeds[0] == low
    assert speeds[-1] == high
    assert (mark in speeds) == (mark <= high)


SHAPES = [
    # Judgement: rated speeds 6 200, 5 500, 4 000 rpm; torque ratios 1.10, 1.25, 1.30; speed ratios 0.72, 0.45, 0.48.
    ("spark", "none", 6200.0, 1.10, 0.72),
    ("spark", "turbo", 5500.0, 1.25, 0.45),
    ("spark", "twin", 5500.0, 1.25, 0.45),
    ("spark", "supercharger", 6200.0, 1.10, 0.72),
    ("diesel", "turbo", 4000.0, 1.30, 0.48),
    ("diesel", "none", 4000.0, 1.30, 0.48),
]


@pytest.mark.parametrize(("family", "induction", "rpm", "torque", "speed"), SHAPES)
def test_power_alone_is_completed(
    family: defaults.Family, induction: str, rpm: float, torque: float, speed: float
) -> None:
    shape = defaults.curve_shape(family, induction)
    peaks = envelope.complete_peaks(shape, 150e3, None, None, None)
    assert 60 * peaks.power_speed == pytest.approx(rpm)
    assert peaks.torque / torque_of(150e3, peaks.power_speed) == pytest.approx(torque)
    assert peaks.torque_speed / peaks.power_speed == pytest.approx(speed)
    assert [a.what for a in peaks.assumed] == ["speed of peak power", "speed of peak torque", "peak torque"]
    assert all(a.u == pytest.approx(0.1 * float(a.value)) and a.why for a in peaks.assumed)


def test_torque_alone_inverts_the_ratio() -> None:
    shape = defaults.curve_shape("spark", "turbo")
    peaks = envelope.complete_peaks(shape, None, None, 400.0, 1700 / 60)
    # The rated speed stays the usual one: 1 700 rpm over 0.45 would make a weak engine of it.
    assert 60 * peaks.power_speed == pytest.approx(5500)
    assert torque_of(peaks.power, peaks.power_speed) == pytest.approx(320.0)
    assert peaks.torque_speed == 1700 / 60
    late = envelope.complete_peaks(shape, None, None, 400.0, 3600 / 60)
    assert 60 * late.power_speed == pytest.approx(8000)


def test_assumed_speeds_give_way_to_stated_peaks() -> None:
    shape = defaults.curve_shape("spark", "none")
    # 180 kW and 240 N m: at 6 200 rpm 180 kW would need 277 N m.
    peaks = envelope.complete_peaks(shape, 180e3, None, 240.0, None)
    assert peak_conflict(peaks.power, peaks.power_speed, peaks.torque, peaks.torque_speed).worst <= 1.0 + 1e-12
    assert 60 * peaks.power_speed == pytest.approx(1.10 * 180e3 / power_of(240.0, 1 / 60))
    # 100 kW and 400 N m: at 0.72 of 6 200 rpm 400 N m are already 187 kW.
    peaks = envelope.complete_peaks(shape, 100e3, None, 400.0, None)
    assert peak_conflict(peaks.power, peaks.power_speed, peaks.torque, peaks.torque_speed).worst <= 1.0 + 1e-12


def test_stated_peaks_are_left_alone() -> None:
    shape = defaults.curve_shape("spark", "turbo")
    peaks = envelope.complete_peaks(shape, 180e3, 90.0, 380.0, 30.0)
    assert peaks == envelope.Peaks(180e3, 90.0, 380.0, 30.0)


def test_no_peak_no_curve() -> None:
    with pytest.raises(ValueError, match="neither"):
        envelope.complete_peaks(defaults.curve_shape("spark", "turbo"), None, 90.0, None, 30.0)


@pytest.mark.parametrize(
    ("kind", "induction", "valves", "phasing", "row", "exact"),
    [
        ("petrol", "none", 4, True, defaults.PETROL_PHASED, True),
        ("petrol", "none", 5, False, defaults.PETROL_FIXED, True),
        ("petrol", "none", 4, None, defaults.PETROL_FIXED, True),
        ("petrol", "none", 2, True, defaults.PETROL_TWO_VALVE, True),
        ("petrol", "none", None, None, defaults.PETROL_TWO_VALVE, True),
        ("petrol", "turbo", 4, None, defaults.PETROL_TURBO, True),
        ("petrol", "turbo", 2, None, defaults.PETROL_TURBO, False),
        ("petrol", "turbo", None, None, defaults.PETROL_TURBO, False),
        ("petrol", "twin", 4, None, defaults.PETROL_TURBO, False),
        ("petrol", "supercharger", None, None, defaults.PETROL_SUPERCHARGED, True),
        ("gas", "none", 4, True, defaults.PETROL_PHASED, False),
        ("alcohol", "turbo", 4, True, defaults.PETROL_TURBO, False),
        ("diesel", "turbo", 4, None, defaults.DIESEL_COMMON_RAIL, True),
        ("diesel", "turbo", 2, None, defaults.DIESEL_OLD, True),
        ("diesel", "turbo", None, None, defaults.DIESEL_OLD, True),
        ("diesel", "none", 4, None, defaults.DIESEL_ASPIRATED, True),
        ("diesel", "supercharger", 4, None, defaults.DIESEL_COMMON_RAIL, False),
    ],
)
def test_row_of_an_engine(
    kind: str, induction: str, valves: int | None, phasing: bool | None, row: defaults.Row, exact: bool
) -> None:
    choice = defaults.choose_row(kind, induction, valves, phasing)
    assert choice.row is row
    assert choice.exact is exact
    more = 0.0 if exact else 0.03
    assert choice.u_specific == pytest.approx(row.u_specific + more)
    assert choice.u_filling == pytest.approx(row.u_filling + more)
    assert choice.why


def test_unknown_valves_never_fill_better() -> None:
    for kind in ("petrol", "diesel", "gas", "alcohol"):
        for induction in ("none", "turbo", "supercharger", "twin"):
            unknown = defaults.choose_row(kind, induction, None, None)
            for valves in (2, 3, 4, 5):
                for phasing in (True, False, None):
                    known = defaults.choose_row(kind, induction, valves, phasing)
                    assert unknown.row.filling <= known.row.filling
                    assert unknown.u_filling >= known.u_filling


def test_a_kind_of_induction_that_does_not_exist() -> None:
    with pytest.raises(ValueError, match="induction"):
        defaults.choose_row("petrol", "steam", 4, None)


@pytest.mark.parametrize(
    ("text", "specific", "mixture", "filling", "u_specific", "u_filling"),
    [
        # Judgement, every figure.
        ("petrol, naturally aspirated, 4 valves, phased cams", (3.45, 3.65), (0.90, 0.88), (1.00, 0.95), 5, 6),
        ("petrol, naturally aspirated, 4 valves, fixed cams", (3.50, 3.70), (0.90, 0.88), (0.94, 0.90), 5, 6),
        ("petrol, naturally aspirated, 2 valves", (3.55, 3.80), (0.89, 0.87), (0.87, 0.80), 6, 7),
        ("petrol, turbo, 4 valves", (3.70, 3.85), (0.88, 0.82), (0.95, 0.90), 5, 6),
        ("petrol, mechanical supercharger", (3.95, 4.30), (0.88, 0.84), (0.93, 0.88), 7, 6),
        ("diesel, turbo, common rail", (0.208, 0.225), (1.20, 1.28), (0.92, 0.88), 6, 6),
        ("diesel, turbo, old indirect or 2 valves", (0.245, 0.270), (1.25, 1.35), (0.86, 0.80), 8, 7),
        ("diesel, naturally aspirated", (0.255, 0.275), (1.20, 1.25), (0.86, 0.80), 8, 7),
    ],
)
def test_figures_of_the_table(
    text: str,
    specific: tuple[float, float],
    mixture: tuple[float, float],
    filling: tuple[float, float],
    u_specific: float,
    u_filling: float,
) -> None:
    (row,) = (r for r in defaults.ROWS if r.text == text)
    assert (row.specific, row.mixture, row.filling) == (specific, mixture, filling)
    assert (100 * row.u_specific, 100 * row.u_filling) == pytest.approx((u_specific, u_filling))


def test_columns_are_joined_over_speed() -> None:
    column = [defaults.at_speed((1.0, 2.0), n, 30.0, 50.0) for n in (10.0, 30.0, 35.0, 50.0, 90.0)]
    assert column == [1.0, 1.0, 1.25, 2.0, 2.0]
    # Both peaks at one speed: the rated column, the hungrier one, from there up.
    assert [defaults.at_speed((1.0, 2.0), n, 50.0, 50.0) for n in (49.0, 50.0, 51.0)] == [1.0, 2.0, 2.0]


def test_ethanol_needs_a_little_less_air() -> None:
    shares = [defaults.alcohol_air_factor(v) for v in (0.0, 0.10, 0.475, 0.85, 1.0)]
    assert shares == pytest.approx([1.0, 1.0, 0.985, 0.97, 0.97])


def test_default_uncertainty_of_pressure_against_monte_carlo() -> None:
    import numpy as np

    u = uncertainty.pressure_u(0.02, 0.05, 0.06, 0.025)
    assert 100 * u == pytest.approx(8.44, abs=0.1)
    assert 100 * uncertainty.gauge_u(u, 200e3, 101.3e3) == pytest.approx(17.1, abs=0.1)
    rng = np.random.default_rng(20)
    power, specific, filling, temperature = (rng.normal(1.0, s, 200_000) for s in (0.02, 0.05, 0.06, 0.025))
    pressure = 200e3 * power * specific * temperature / filling
    assert 100 * float(np.std(pressure) / 200e3) == pytest.approx(100 * u, abs=0.5)
    assert 100 * float(np.std(pressure - 101.3e3) / (200e3 - 101.3e3)) == pytest.approx(17.1, abs=0.5)


def test_anchored_uncertainty_of_pressure_against_monte_carlo() -> None:
    import numpy as np

    u = uncertainty.anchored_pressure_u(0.02, 0.03, 0.015)
    assert 100 * u == pytest.approx(3.91, abs=0.1)
    assert 100 * uncertainty.gauge_u(u, 200e3, 101.3e3) == pytest.approx(7.9, abs=0.1)
    rng = np.random.default_rng(21)
    power, work, temperature = (rng.normal(1.0, s, 200_000) for s in (0.02, 0.03, 0.015))
    pressure = 200e3 * power * temperature / work
    assert 100 * float(np.std(pressure) / 200e3) == pytest.approx(100 * u, abs=0.1)


def test_uncertainty_of_a_planned_figure() -> None:
    assert uncertainty.power_u("crank_measured", True) == 0.02
    assert uncertainty.power_u("wheel", True) == 0.04
    assert uncertainty.power_u("crank_declared", True) == uncertainty.power_u("unknown", True) == 0.05
    assert uncertainty.power_u("crank_measured", False) == pytest.approx((0.02**2 + 0.03**2) ** 0.5)
    assert uncertainty.power_u("unknown", False, 0.014) == pytest.approx((0.05**2 + 0.03**2 + 0.014**2) ** 0.5)


@given(st.floats(0.0, 1e6), st.floats(0.0, 2.0))
def test_ranges_enclose_their_value(nominal: float, relative: float) -> None:
    r = uncertainty.around(nominal, relative)
    assert 0.0 <= r.low <= r.nominal <= r.high


def test_no_boost_no_gauge_uncertainty() -> None:
    with pytest.raises(ValueError, match="no boost"):
        uncertainty.gauge_u(0.05, 95e3, 101.3e3)
