"""Compression of the charge against an independent library and real air."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.physics import compressor


def _real_outlet(t1: float, ratio: float, efficiency: float) -> float:
    from CoolProp.CoolProp import PropsSI

    h1, s1 = PropsSI("H", "P", 100e3, "T", t1, "Air"), PropsSI("S", "P", 100e3, "T", t1, "Air")
    ideal = PropsSI("H", "P", ratio * 100e3, "S", s1, "Air")
    return float(PropsSI("T", "P", ratio * 100e3, "H", h1 + (ideal - h1) / efficiency, "Air"))


@pytest.mark.parametrize(
    ("t1", "ratio", "efficiency", "ours", "real"),
    [(298.15, 2.2, 0.70, 405.77, 405.34), (308.15, 2.8, 0.65, 470.29, 468.94)],
)
def test_outlet_temperature(t1: float, ratio: float, efficiency: float, ours: float, real: float) -> None:
    import fluids

    result = compressor.outlet_temperature(t1, ratio, efficiency)
    assert result == pytest.approx(ours, abs=0.01)
    theirs = fluids.isentropic_T_rise_compression(T1=t1, P1=100e3, P2=ratio * 100e3, k=1.4, eta=efficiency)
    assert result == pytest.approx(theirs, abs=1e-6)
    assert _real_outlet(t1, ratio, efficiency) == pytest.approx(real, abs=0.02)
    assert result == pytest.approx(real, abs=1.4)


def test_climbing_with_the_boost_held_overspeeds_the_compressor() -> None:
    # 230 kPa behind the compressor, 25 degC at sea level, standard atmosphere above (ISO 2533).
    from loadworthy_plugins.physics.atmosphere import standard_air

    here = standard_air(0.0)
    t_here = 298.15
    tip, flow = [], []
    for height in (1000.0, 2000.0):
        there = standard_air(height)
        t_there = t_here + there.temperature - here.temperature
        ratios = [230e3 / (s.pressure - 3e3) for s in (here, there)]
        tip.append(compressor.tip_speed_ratio(t_there, ratios[1], t_here, ratios[0]))
        flow.append(
            compressor.corrected_flow(1.0, t_there, there.pressure - 3e3)
            / compressor.corrected_flow(1.0, t_here, here.pressure - 3e3)
        )
    assert tip == pytest.approx([1.07, 1.13], abs=0.006)
    assert flow == pytest.approx([1.12, 1.26], abs=0.006)


def test_power_put_into_the_charge() -> None:
    # 192.5 g/s from 30 to 147.7 degC: 22.77 kW.
    assert compressor.compressor_power(0.1925, 303.15, 420.85) == pytest.approx(22.77e3, rel=5e-4)


def test_corrected_flow_depends_on_the_map_reference() -> None:
    # References that occur on compressor maps lie up to 8 % apart.
    flows = [
        compressor.corrected_flow(0.2, 298.15, 95e3, t, p)
        for t, p in ((298.0, 100e3), (302.8, 96.17e3), (288.15, 101.325e3))
    ]
    assert compressor.corrected_flow(0.2, 298.15, 100e3) == pytest.approx(0.2)
    assert max(flows) / min(flows) == pytest.approx(1.08, abs=0.005)


@given(st.floats(270.0, 330.0), st.floats(1.05, 3.5), st.floats(0.4, 1.0))
def test_efficiency_undoes_the_outlet_temperature(t1: float, ratio: float, efficiency: float) -> None:
    t2 = compressor.outlet_temperature(t1, ratio, efficiency)
    assert compressor.isentropic_efficiency(t1, t2, ratio) == pytest.approx(efficiency, rel=1e-9)


@given(st.floats(1.0, 3.5), st.floats(1.01, 3.5), st.floats(0.001, 0.5))
def test_tip_speed_rises_with_the_ratio(ratio: float, demonstrated: float, more: float) -> None:
    here = compressor.tip_speed_ratio(300.0, ratio, 300.0, demonstrated)
    assert compressor.tip_speed_ratio(300.0, ratio + more, 300.0, demonstrated) > here
    assert compressor.tip_speed_ratio(300.0, demonstrated, 300.0, demonstrated) == 1.0


def test_nothing_demonstrated_gives_no_ratio() -> None:
    with pytest.raises(ValueError, match="demonstrated"):
        compressor.tip_speed_ratio(300.0, 2.0, 300.0, 1.0)
