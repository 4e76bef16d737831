"""The wet test: volume of the oil and recovery against a control cylinder."""

from __future__ import annotations

from math import radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.compression.geometry import Cylinder
from loadworthy_plugins.compression.wet import MOST_OIL_SHARE, oil_rise_bound, recovery

SQUARE = Cylinder(0.086, 0.086, 0.143, 10.0)


@pytest.mark.parametrize(("millilitres", "percent"), [(5, 11.9), (15, 45.6)])
def test_oil_alone_raises_the_reading(millilitres: float, percent: float) -> None:
    # Independent: volumes in millilitres. A tablespoon is what TM 5-4210-230-14&P-1 has.
    bound = oil_rise_bound(SQUARE, radians(50.0), millilitres * 1e-6)
    closed = 55.5070 + 5.80880 * 74.4853
    wet = ((closed - millilitres) / (55.5070 - millilitres)) ** 1.25 - 1
    dry = (closed / 55.5070) ** 1.25 - 1
    assert 100 * bound == pytest.approx(100 * (wet / dry - 1), abs=0.01)
    assert 100 * bound == pytest.approx(percent, abs=0.2)


def test_usual_amount_of_oil() -> None:
    assert MOST_OIL_SHARE * SQUARE.displacement == pytest.approx(5e-6, rel=1e-3)


def test_recovery_of_a_ring_path() -> None:
    found = recovery(9.6, 12.1, 12.2, 13.4)
    assert found.dry_deficit == pytest.approx(0.213, abs=0.005)
    assert found.wet_deficit == pytest.approx(0.097, abs=0.005)
    assert found.recovered == pytest.approx(0.545, abs=0.005)
    assert found.conclusive


def test_uncertainty_of_the_recovery_by_simulation() -> None:
    import numpy as np

    rng = np.random.default_rng(37)
    draws = 1 + 0.025 * rng.standard_normal((20000, 4))
    drawn = [recovery(9.0 * a, 10.0 * b, 12.0 * c, 12.6 * d).recovered for a, b, c, d in draws.tolist()]
    assert recovery(9.0, 10.0, 12.0, 12.6).u == pytest.approx(float(np.std(drawn)), rel=0.35)


def test_nothing_to_recover() -> None:
    found = recovery(12.3, 13.0, 12.2, 13.4)
    assert not found.conclusive
    assert found.recovered == 0.0
    assert not recovery(11.4, 12.9, 12.2, 13.4).conclusive


@given(st.floats(5.0, 11.0), st.floats(5.0, 14.0), st.floats(11.5, 14.0), st.floats(12.0, 16.0), st.floats(0.1, 8.0))
def test_unit_of_pressure_does_not_matter(
    dry: float, wet: float, control: float, control_wet: float, factor: float
) -> None:
    one = recovery(dry, wet, control, control_wet)
    other = recovery(dry * factor, wet * factor, control * factor, control_wet * factor)
    assert one.recovered == pytest.approx(other.recovered, abs=1e-9)
    assert recovery(dry, wet + 0.5, control, control_wet).recovered > one.recovered
