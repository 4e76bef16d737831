"""Wet test: what oil in the bore brings back."""

from __future__ import annotations

from typing import Any

import pytest
from compression_cases import PETROL, dry, leak, look, ratio, register

SPEC = {**PETROL, "compression_spec_min": "9 bar"}
LOW_ONE = [12.2, 12.1, 12.2, 9.6]


def wet(low: float, control: float | None = 13.4, **more: Any) -> dict[str, Any]:
    readings = {"4": f"{low} bar"}
    if control is not None:
        readings["1"] = f"{control} bar"
    return dry(LOW_ONE, wet_reading=readings, **more)


def test_oil_that_brings_it_back_points_at_the_rings() -> None:
    found = look(SPEC, compression=[wet(12.1)])
    assert found.step("recovered", "wet", "cylinder 4") == pytest.approx(0.545, abs=0.005)
    made = register(SPEC, compression=[wet(13.2)])
    assert ratio(made, "ring-seal", "cylinder 4", "wet") == pytest.approx(6.0, rel=0.05)
    assert ratio(made, "exhaust-valve-seal", "cylinder 4", "wet") == pytest.approx(0.3, rel=0.1)


def test_oil_that_does_not_points_at_the_valves() -> None:
    made = register(SPEC, compression=[wet(10.2)])
    assert ratio(made, "ring-seal", "cylinder 4", "wet") < 0.6
    assert ratio(made, "intake-valve-seal", "cylinder 4", "wet") > 2.0


def test_in_between_is_mixed_not_cut() -> None:
    made = register(SPEC, compression=[wet(11.3)])
    assert 0.5 < ratio(made, "ring-seal", "cylinder 4", "wet") < 4.0


def test_washed_bore() -> None:
    made = register(SPEC, compression=[wet(13.2, wet_plug_or_long_cranking=True)])
    assert ratio(made, "fuel-washed-bore", "cylinder 4", "wet") == pytest.approx(5.0, rel=0.05)


def test_without_a_control_the_volume_of_the_oil_is_taken_off_first() -> None:
    # 15 ml can raise a sound cylinder by 46 %: a rise of 26 % says nothing.
    assert look(SPEC, compression=[wet(12.1, None, oil_volume="15 mL")]).grade("wet", "cylinder 4") == "unknown"
    assert look(SPEC, compression=[wet(12.1, None)]).grade("wet", "cylinder 4") == "unknown"
    corrected = look(SPEC, compression=[wet(13.6, None, oil_volume="5 mL")])
    assert corrected.step("recovered", "wet", "cylinder 4") == pytest.approx(
        ((13.6 / 1.119) / 9.6 - 1) * 9.6 / (12.2 - 9.6), abs=0.02
    )


@pytest.mark.parametrize(
    "change",
    [{"fuel": "diesel_b7"}, {"pre_chamber": True}, {"cylinder_arrangement": "flat"}, {"cylinder_arrangement": "other"}],
    ids=str,
)
def test_engines_on_which_the_wet_test_says_nothing(change: dict[str, Any]) -> None:
    found = look({**SPEC, **change}, compression=[wet(13.2)])
    assert found.grade("wet", "cylinder 4") == "unknown"
    assert "no wet test" in found.finding("wet", "cylinder 4").unknown


def test_a_shallow_deficit_is_inconclusive() -> None:
    sheet = dry([12.2, 12.1, 12.2, 11.2], wet_reading={"1": "13.4 bar", "4": "13.0 bar"})
    assert look(SPEC, compression=[sheet]).grade("wet", "cylinder 4") == "unknown"


def test_air_at_the_filler_that_oil_does_not_stop() -> None:
    tables = {"compression": [wet(10.2)], "leak_down": [leak([5, 5, 5, 35], leak_escape={"4": ["oil_filler"]})]}
    made = register(SPEC, **tables)
    assert ratio(made, "piston-or-ring-land-broken", "cylinder 4", "wet_with_escape") == pytest.approx(3.0, rel=0.05)


def test_neighbours_that_oil_does_not_bring_back() -> None:
    sheet = dry([12.2, 12.1, 8.0, 8.1], wet_reading={"1": "13.4 bar", "3": "8.7 bar", "4": "8.8 bar"})
    made = register(SPEC, compression=[sheet])
    assert ratio(made, "head-gasket-between-cylinders", "cylinders 3+4", "wet_pair") == pytest.approx(2.0, rel=0.05)
