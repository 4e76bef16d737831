"""End of compression, raised ratio and blow-by, against property libraries and independent numbers."""

from __future__ import annotations

from math import exp, log, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.compression import load_context as context
from loadworthy_plugins.compression.crankcase import blowby_share, same_conditions

SEA = 101325.0


def test_raised_compression_by_15_percent() -> None:
    raised = context.estimated_ratio(8.795, 1.15 * 1433.3e3, 1433.3e3, SEA)
    assert raised == pytest.approx(9.768, abs=0.002)
    temperatures = [330.0 * ratio**0.33 for ratio in (8.795, raised)]
    assert temperatures == pytest.approx([676.3, 700.1], abs=0.05)
    assert context.delay_factor(8.795, raised) == pytest.approx(0.777, abs=0.002)


@pytest.mark.parametrize(("rise", "factor"), [(1.10, 0.80), (1.05, 0.89)])
def test_delay_factor_of_usual_rises(rise: float, factor: float) -> None:
    # +10 % and +5 % of ratio.
    assert context.delay_factor(8.795, 8.795 * rise) == pytest.approx(factor, abs=0.006)


def test_delay_factor_keeps_the_ignition_delay() -> None:
    # Independent: solve tau(p, T) equal for both by bisection, tau = p^-1.7 exp(3800/T) (SAE 780080, from memory).
    def delay(p: float, t: float) -> float:
        return -1.7 * log(p) + 3800.0 / t

    low, high, target = 0.3, 1.0, delay(8.795**1.33, 330.0 * 8.795**0.33)
    for _ in range(60):
        middle = (low + high) / 2
        if delay(middle * 9.768**1.33, 330.0 * 9.768**0.33) > target:
            low = middle
        else:
            high = middle
    assert context.delay_factor(8.795, 9.768) == pytest.approx(low, abs=1e-6)


def test_pair_by_octane_slopes_and_delay_bound() -> None:
    pair = context.octane_pressure_pair(10.0, 11.0, 310.0)
    assert pair.centre == pytest.approx(exp(-5 / 35), abs=1e-9)
    assert (pair.centre, pair.pessimistic) == pytest.approx((0.867, 0.814), abs=5e-4)


def test_isentropic_exponents_against_a_property_library() -> None:
    # Air from 330 K at 1 bar through a volume ratio of 8 along the isentrope: exponent 1.38 to 1.39 (CoolProp).
    from CoolProp.CoolProp import PropsSI

    density = PropsSI("D", "P", 1e5, "T", 330.0, "Air")
    entropy = PropsSI("S", "P", 1e5, "T", 330.0, "Air")
    pressure = PropsSI("P", "D", density * 8.0, "S", entropy, "Air")
    assert log(pressure / 1e5) / log(8.0) == pytest.approx(context.DIESEL_CHARGE_GAMMA, abs=0.015)


def test_end_of_compression() -> None:
    petrol = context.end_of_compression(100e3, 8.795, diesel=False)
    assert petrol.pressure == pytest.approx(100e3 * 8.795**1.3)
    # Relation of an ideal gas between both exponents.
    assert petrol.temperature == pytest.approx(330.0 * 8.795 ** (1.3 * 0.33 / 1.33))
    assert (petrol.peak_low, petrol.peak_high) == pytest.approx((1.5 * petrol.pressure, 2.6 * petrol.pressure))
    diesel = context.end_of_compression(200e3, 16.0, diesel=True, closing_temperature=350.0)
    assert diesel.temperature > petrol.temperature
    assert diesel.peak_high / diesel.peak_low == pytest.approx(1.6 / 1.4)


def test_head_force_and_peak_ratio() -> None:
    assert context.head_force(8e6, 0.087) == pytest.approx(8e6 * pi * 0.0435**2)
    assert context.peak_ratio(1.25) == pytest.approx(1.25)
    assert context.peak_ratio(1.0, 9.0, 9.9) == pytest.approx(1.1**1.3)
    assert context.peak_factor(9.0, 9.9) == pytest.approx(1 / 1.1**1.3)


@given(st.floats(6.0, 20.0), st.floats(0.8, 1.3))
def test_no_factor_ever_raises_the_planned_pressure(ratio: float, change: float) -> None:
    factors = [
        context.delay_factor(ratio, ratio * change),
        context.peak_factor(ratio, ratio * change),
        *context.octane_pressure_pair(ratio, ratio * change, 310.0),
    ]
    assert all(0.0 < factor <= 1.0 for factor in factors)
    if change > 1.0:
        assert all(factor < 1.0 for factor in factors)


def test_blow_by_limit_of_a_manual() -> None:
    # TM 9-2815-255-24, par. 3-6: 225 ft3/h is 6.37 m3/h (the manual prints 6.0).
    flow = 225 * 0.3048**3 / 3600
    assert flow * 3600 == pytest.approx(6.37, abs=0.005)
    assert blowby_share(flow, 12e-3, 35.0) == pytest.approx(0.0084, abs=1e-4)


def test_only_equal_conditions_compare() -> None:
    assert same_conditions((35.0, "full"), (36.0, "full"))
    assert not same_conditions((35.0, "full"), (45.0, "full"))
    assert not same_conditions((35.0, "full"), (35.0, "none"))
    assert not same_conditions((None, "full"), (35.0, "full"))
    assert not same_conditions((35.0, ""), (35.0, ""))
