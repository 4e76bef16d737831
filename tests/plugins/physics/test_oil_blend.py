"""Fuel in oil: blending, what a loss of viscosity says, fuel told from sheared polymer."""

from __future__ import annotations

from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy_plugins.physics.oil_blend import blend, mass_share, reason_of_loss, residue, share_from_loss
from loadworthy_plugins.physics.viscosity import T40, T100, ViscosityLine, line_through

OIL = line_through(T40, 63.0e-6, T100, 10.80e-6)
HEAVY = line_through(T40, 95.0e-6, T100, 14.2e-6)


def refutas(parts: list[tuple[float, float]]) -> float:
    """Return the viscosity of a blend, m2/s, by Refutas' index (from memory): 14.534 ln ln(nu + 0.8) + 10.975."""
    index = sum(share * (14.534 * log(log(1e6 * nu + 0.8)) + 10.975) for share, nu in parts)
    return 1e-6 * (exp(exp((index - 10.975) / 14.534)) - 0.8)


def test_five_percent_petrol_makes_a_20_of_a_30() -> None:
    # ASTM D7152; a laboratory's note: 5 % of petrol turn a 30 into a 20 grade. Refutas with the same shares: 7.995.
    parts = [(0.95, 10.8e-6), (0.05, 0.45e-6)]
    assert 1e6 * blend(parts) == pytest.approx(8.00, rel=5e-3)
    assert 1e6 * refutas(parts) == pytest.approx(7.995, rel=1e-3)
    assert 100 * share_from_loss(10.8e-6, 8.0e-6, 0.45e-6) == pytest.approx(4.998, rel=5e-3)


@given(st.floats(5e-6, 25e-6), st.floats(0.0, 0.06))
def test_blending_agrees_with_another_index(oil: float, share: float) -> None:
    parts = [(1.0 - share, oil), (share, 1.1e-6)]
    assert blend(parts) == pytest.approx(refutas(parts), rel=0.015)


@given(st.floats(4e-6, 30e-6), st.floats(0.001, 0.3))
def test_the_share_comes_back(oil: float, share: float) -> None:
    assert share_from_loss(oil, blend([(1.0 - share, oil), (share, 0.45e-6)]), 0.45e-6) == pytest.approx(
        share, rel=0.02
    )


def test_residues_lie_between_fuels_that_a_library_knows() -> None:
    # CoolProp: m-xylene 0.37 and 0.58, n-nonane 0.47 and 0.78 mm2/s at 100 and 40 degC.
    from CoolProp.CoolProp import PropsSI

    def kinematic(fluid: str, kelvin: float) -> float:
        return float(PropsSI("V", "T", kelvin, "P", 5e5, fluid) / PropsSI("D", "T", kelvin, "P", 5e5, fluid))

    petrol = residue("petrol")
    for kelvin in (T40, T100):
        assert kinematic("m-Xylene", kelvin) < petrol.at(kelvin) < kinematic("n-Nonane", kelvin)


@pytest.mark.parametrize("oil", [OIL, HEAVY], ids=["30", "40"])
@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
@pytest.mark.parametrize("share", [0.02, 0.05, 0.08])
def test_fuel_gives_equal_shares_at_both_temperatures(oil: ViscosityLine, fuel: str, share: float) -> None:
    line = residue(fuel)
    found = []
    for kelvin in (T40, T100):
        fresh = oil.at(kelvin)
        used = blend([(1.0 - share, fresh), (share, line.at(kelvin))])
        found.append(share_from_loss(fresh, used, line.at(kelvin)))
    assert reason_of_loss(found[0], found[1], fuel) == "fuel"


@pytest.mark.parametrize("oil", [OIL, HEAVY], ids=["30", "40"])
@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
@pytest.mark.parametrize(("lost40", "lost100"), [(0.08, 0.08), (0.12, 0.12), (0.10, 0.12)])
def test_shear_does_not(oil: ViscosityLine, fuel: str, lost40: float, lost100: float) -> None:
    line = residue(fuel)
    found = [
        share_from_loss(fresh, (1.0 - lost) * fresh, line.at(kelvin))
        for kelvin, lost in ((T40, lost40), (T100, lost100))
        for fresh in (oil.at(kelvin),)
    ]
    assert reason_of_loss(found[0], found[1], fuel) == "shear"


def test_in_between_there_is_no_evidence() -> None:
    assert reason_of_loss(0.77, 1.0, "petrol") == ""
    assert reason_of_loss(1.3, 1.0, "petrol") == ""
    assert reason_of_loss(0.0, 0.02, "petrol") == reason_of_loss(0.02, -0.01, "diesel") == ""


def test_shares_that_do_not_sum_to_one_are_refused() -> None:
    for parts in ([(0.9, 1e-5)], [(1.1, 1e-5), (-0.1, 1e-6)]):
        with pytest.raises(ValueError, match="sum to 1"):
            blend(parts)


def test_mass_is_not_volume() -> None:
    # Factors 1.13 and 1.03 from mass to volume: judgement, by the densities of oil and fuel.
    assert mass_share(0.0565, "petrol") == pytest.approx(0.05)
    assert mass_share(0.0515, "diesel") == pytest.approx(0.05)
