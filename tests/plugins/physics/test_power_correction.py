"""Power correction rules against the figures of the rules themselves."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from loadworthy_plugins.physics import power_correction as rule

THIRTY = 303.15  # the rules write 303 K


def test_factors_at_95_kpa_and_30_degrees() -> None:
    # Computed from the formulas of ISO 1585 / UN R85 Annex 5 and SAE J1349 with T = 303 K.
    assert rule.iso_1585_spark(95e3, THIRTY).factor == pytest.approx(1.0613, abs=1e-4)
    assert rule.sae_j1349(95e3, THIRTY).factor == pytest.approx(1.0600, abs=1e-4)
    assert rule.atmospheric_factor(95e3, THIRTY, turbocharged=False) == pytest.approx(1.0543, abs=1e-4)
    assert rule.atmospheric_factor(95e3, THIRTY, turbocharged=True) == pytest.approx(1.0553, abs=1e-4)


def test_newer_editions_weigh_temperature_less() -> None:
    old = rule.atmospheric_factor(95e3, THIRTY, turbocharged=True)
    air_cooler = rule.atmospheric_factor(95e3, THIRTY, turbocharged=True, temperature_exponent=1.2)
    liquid = rule.atmospheric_factor(95e3, THIRTY, turbocharged=True, temperature_exponent=0.7)
    assert air_cooler == pytest.approx((99 / 95) ** 0.7 * (303 / 298) ** 1.2, rel=1e-12)
    assert old > air_cooler > liquid > 1.0


def test_engine_factor_of_un_r85() -> None:
    # UN R85 Annex 5, 5.4.2.2.
    q_c = rule.corrected_fuel_per_cycle(8e-3, 2.0e-3, 4000 / 60, 2.2)
    assert rule.corrected_fuel_per_cycle(8e-3, 2.0e-3, 4000 / 60, 1.0) == pytest.approx(120.0, abs=1e-4)
    assert q_c == pytest.approx(54.545, abs=1e-3)
    assert rule.engine_factor(q_c) == pytest.approx(0.8236, abs=1e-4)
    f_a = rule.atmospheric_factor(95e3, THIRTY, turbocharged=True)
    assert rule.iso_1585_compression_ignition(f_a, rule.engine_factor(q_c)).factor == pytest.approx(1.0453, abs=1e-4)
    assert rule.engine_factor(40.0) == pytest.approx(0.30, abs=1e-4)
    assert rule.engine_factor(65.0) == pytest.approx(1.20, abs=1e-4)


def test_engine_factor_of_newer_editions_starts_lower() -> None:
    assert rule.engine_factor(37.0, newer_edition=True) == 0.2
    assert rule.engine_factor(37.2, newer_edition=True) == pytest.approx(0.2, abs=1e-3)
    assert rule.engine_factor(38.0, newer_edition=True) == pytest.approx(0.228)
    assert rule.engine_factor(38.0) == 0.3


@given(st.floats(0.0, 100.0), st.booleans())
@example(37.195, True)
def test_engine_factor_rises_without_a_jump_of_its_own(q_c: float, newer: bool) -> None:
    here = rule.engine_factor(q_c, newer_edition=newer)
    there = rule.engine_factor(q_c + 0.01, newer_edition=newer)
    # The newer edition's own figures do not meet: 0.2 below 37.2, 0.036 x 37.2 - 1.14 = 0.1992 at it.
    step = 0.0008 if newer and q_c < 37.2 <= q_c + 0.01 else 0.0
    assert here - step - 1e-12 <= there <= here + 0.002


def test_rules_at_the_reference_of_the_iso_rule() -> None:
    # 990 hPa dry and 25 degC: the old rules promise 3 to 4 % that are not there.
    assert rule.iso_1585_spark(99e3, 298.15).factor == pytest.approx(1.0, abs=1e-4)
    assert rule.sae_j1349(99e3, 298.15).factor == pytest.approx(1.0, abs=1e-4)
    assert rule.din_70020(99e3, 298.15).factor == pytest.approx(1.0322, abs=1e-4)
    assert rule.j607_standard(99e3, 298.15).factor == pytest.approx(1.0401, abs=1e-4)


def test_outside_its_window_a_factor_is_shown_and_marked() -> None:
    inside = rule.iso_1585_spark(95e3, THIRTY)
    assert not inside.outside_rule
    assert inside.excess == 0.0
    thin = rule.iso_1585_spark(90e3, THIRTY)
    assert thin.outside_rule
    assert thin.excess == pytest.approx(thin.factor - 1.07)
    dense = rule.sae_j1349(106e3, 283.15)
    assert dense.outside_rule
    assert dense.excess == pytest.approx(0.93 - dense.factor)
    assert rule.iso_1585_compression_ignition(1.2, 1.0).excess == pytest.approx(0.1)


@given(st.floats(85e3, 104e3), st.floats(275.0, 310.0))
def test_thinner_air_is_corrected_up(pressure: float, temperature: float) -> None:
    for factor in (rule.iso_1585_spark, rule.sae_j1349, rule.din_70020, rule.j607_standard):
        assert factor(pressure - 500.0, temperature).factor > factor(pressure, temperature).factor
        assert factor(pressure, temperature + 1.0).factor > factor(pressure, temperature).factor
