"""Viscosity over temperature, density, viscosity index, against the standards' examples and open libraries."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.physics.viscosity import (
    T40,
    T100,
    density,
    dynamic_viscosity,
    from_transform,
    index_bounds,
    kv40_of_index,
    line_through,
    transform,
    viscosity_index,
)
from loadworthy_plugins.physics.viscosity_index_table import TABLE

#: A multigrade: 63.0 mm2/s at 40 degC, 10.80 at 100 degC, 855 kg/m3 at 15 degC.
OIL = line_through(T40, 63.0e-6, T100, 10.80e-6)


def kelvin(celsius: float) -> float:
    return celsius + 273.15


def test_viscosity_between_two_temperatures() -> None:
    # A public worksheet of ASTM D341 gives 8.5 mm2/s at 80 degC (with 273 for 273.15: A 9.5259, B 3.7449).
    line = line_through(T40, 32e-6, T100, 5.4e-6)
    assert 1e6 * line.at(kelvin(80)) == pytest.approx(8.5, abs=0.05)
    assert 1e6 * line.at(kelvin(80)) == pytest.approx(8.53, rel=3e-3)
    assert (line.a, line.b) == pytest.approx((9.5308, 3.7466), rel=1e-4)


def test_the_line_of_a_multigrade() -> None:
    # Computed from ASTM D341-20, section 5, for 63.0 and 10.80 mm2/s.
    assert (OIL.a, OIL.b) == pytest.approx((7.8184, 3.0300), rel=1e-4)
    found = [1e6 * OIL.at(kelvin(t)) for t in (90, 120, 150)]
    assert found == pytest.approx([13.48, 7.344, 4.604], rel=1e-3)


def test_thin_liquids_need_the_whole_formula() -> None:
    # n-dodecane: CoolProp gives 0.4987 mm2/s at 150 degC; without the exponentials one gets 0.537.
    from CoolProp.CoolProp import PropsSI

    def kinematic(celsius: float) -> float:
        at = ("T", kelvin(celsius), "P", 5e5, "n-Dodecane")
        return float(PropsSI("V", *at) / PropsSI("D", *at))

    line = line_through(T40, 1.4442e-6, T100, 0.7367e-6)
    assert 1e6 * line.at(kelvin(150)) == pytest.approx(0.4944, rel=1e-3)
    assert line.at(kelvin(150)) == pytest.approx(kinematic(150), rel=0.015)
    assert (kinematic(40), kinematic(100)) == pytest.approx((1.4442e-6, 0.7367e-6), rel=0.01)


def test_n_hexadecane() -> None:
    # The open library thermo (REFPROP_FIT) gives 1.569 mm2/s at 80 degC for 2.931 and 1.244 at 40 and 100 degC. It is
    # asked in a process of its own: its loading of tables warns, and warnings are errors here.
    asked = (
        "from thermo import ViscosityLiquid, VolumeLiquid; from chemicals import CAS_from_any, MW;"
        "cas = CAS_from_any('n-hexadecane'); mu = ViscosityLiquid(CASRN=cas, method='REFPROP_FIT');"
        "from thermo import Chemical; c = Chemical('n-hexadecane', T=353.15, P=101325);"
        "print(mu.T_dependent_property(353.15) / c.rhol)"
    )
    done = subprocess.run([sys.executable, "-W", "ignore", "-c", asked], capture_output=True, text=True, check=True)
    reference = float(done.stdout.split()[-1])
    line = line_through(T40, 2.931e-6, T100, 1.244e-6)
    assert 1e6 * reference == pytest.approx(1.569, rel=5e-3)
    assert 1e6 * line.at(kelvin(80)) == pytest.approx(1.574, rel=1e-3)
    assert line.at(kelvin(80)) == pytest.approx(reference, rel=5e-3)


def test_density_and_dynamic_viscosity() -> None:
    # API MPMS 11.1 constant for lubricating oils (from memory); the figures are computed from the formula.
    assert [density(855.0, kelvin(t)) for t in (100, 40)] == pytest.approx([800.8, 839.2], rel=5e-4)
    found = [1e3 * dynamic_viscosity(OIL.at(kelvin(t)), density(855.0, kelvin(t))) for t in (80, 100, 120)]
    assert found == pytest.approx([14.01, 8.648, 5.786], rel=2e-3)
    assert density(855.0, kelvin(15)) == 855.0


@pytest.mark.parametrize(
    ("kv40", "kv100", "printed", "exact"),
    [
        (73.30, 8.86, 92, 92.43),  # ASTM D2270, worked example 5.1.4
        (22.83, 5.05, 156, 156.4),  # ASTM D2270, worked example 6.1.4 (1)
    ],
)
def test_viscosity_index_of_the_standards_examples(kv40: float, kv100: float, printed: int, exact: float) -> None:
    from chemicals import viscosity_index as reference

    found = viscosity_index(kv40 * 1e-6, kv100 * 1e-6)
    assert round(found) == printed
    assert found == pytest.approx(exact, abs=0.1)
    assert found == pytest.approx(reference(kv40 * 1e-6, kv100 * 1e-6), abs=1e-6)


@given(st.floats(2.0, 150.0), st.floats(1.2, 60.0))
def test_viscosity_index_against_the_open_library(kv100: float, ratio: float) -> None:
    from chemicals import viscosity_index as reference

    kv40 = kv100 * ratio
    expected = reference(kv40 * 1e-6, kv100 * 1e-6)
    if expected > 400.0:
        with pytest.raises(ValueError, match="units"):
            viscosity_index(kv40 * 1e-6, kv100 * 1e-6)
    else:
        assert viscosity_index(kv40 * 1e-6, kv100 * 1e-6) == pytest.approx(expected, rel=1e-9, abs=1e-6)


def test_the_table_is_that_of_the_open_library() -> None:
    from chemicals import viscosity

    table = list(zip(viscosity.VI_nus, viscosity.VI_Ls, viscosity.VI_Hs, strict=True))
    assert [list(row) for row in TABLE] == [pytest.approx(row, rel=1e-9) for row in table]


def test_the_index_is_refused_where_it_is_not_defined() -> None:
    with pytest.raises(ValueError, match="below 2"):
        viscosity_index(5e-6, 1.9e-6)
    with pytest.raises(ValueError, match="check which figure"):
        viscosity_index(5e-6, 9e-6)
    # The open library, fed mm2/s instead of m2/s, answers with 760 to 820 and no error.
    with pytest.raises(ValueError, match="check the units"):
        viscosity_index(63.0, 10.8)


@pytest.mark.parametrize("index", [60.0, 100.0, 165.0, 210.0])
def test_the_index_turned_round(index: float) -> None:
    for kv100 in (3e-6, 10.9e-6, 40e-6, 90e-6):
        assert viscosity_index(kv40_of_index(kv100, index), kv100) == pytest.approx(index, abs=1e-6)


def test_bounds_do_not_jump_where_the_table_ends() -> None:
    below, above = index_bounds(69.999e-6), index_bounds(70.001e-6)
    assert above == pytest.approx(below, rel=2e-3)


@given(st.floats(2e-7, 2e-3))
def test_transform_and_back(viscosity: float) -> None:
    # The two exponentials of the standard are each other's inverse within its own 0.5 %.
    assert from_transform(transform(viscosity)) == pytest.approx(viscosity, rel=5e-3)


@given(st.floats(5e-6, 500e-6), st.floats(0.05, 0.8), st.floats(250.0, 450.0), st.floats(0.1, 50.0))
def test_viscosity_falls_with_temperature(nu40: float, ratio: float, temperature: float, warmer: float) -> None:
    line = line_through(T40, nu40, T100, nu40 * ratio)
    assert line.at(temperature + warmer) < line.at(temperature)


def test_a_parallel_line_passes_its_point() -> None:
    used = OIL.through(T100, 8.0e-6)
    assert used.at(T100) == pytest.approx(8.0e-6, rel=1e-6)
    assert used.b == OIL.b
    assert used.at(T40) < OIL.at(T40)


@pytest.mark.parametrize(
    "points",
    [(T40, 10e-6, T100, 10e-6), (T40, 5e-6, T100, 10e-6), (T100, 10e-6, T40, 5e-6), (T40, 10e-6, T40, 5e-6)],
)
def test_a_viscosity_that_does_not_fall_is_refused(points: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="viscosity must fall"):
        line_through(*points)


def test_order_of_the_points_does_not_matter() -> None:
    assert line_through(T100, 10.8e-6, T40, 63e-6) == OIL


@pytest.mark.parametrize("bad", [0.0, -1e-6, float("nan"), float("inf")])
def test_impossible_viscosities_and_temperatures(bad: float) -> None:
    with pytest.raises(ValueError, match="not positive"):
        transform(bad)
    with pytest.raises(ValueError, match="absolute zero"):
        OIL.at(bad)
