"""Drift and repeats of dry readings, and what they weigh for which cause."""

from __future__ import annotations

import pytest
from compression_cases import PETROL, belief, dry, look, ratio, register

SPEC = {**PETROL, "compression_spec_min": "10 bar"}
EVEN = [13.0, 13.1, 12.9, 13.0]


# Drift, repeats -----------------------------------------------------------------------------------------------------


def test_a_stop_stands_under_drift() -> None:
    found = look(SPEC, compression=[dry([12.0, 11.9, 11.8, 8.0], test_order=[1, 2, 3, 4])])
    assert found.grade("drift") == "watch"
    assert found.grade("balance", "cylinder 4") == "stop"
    assert "repeat_set" in found.gaps()
    assert found.covered().state == "unknown"


def test_a_trend_excuses_only_itself() -> None:
    # 12.0 falling by 0.45 a step: the last is 11.3 % low with the trend, sound without.
    sheet = dry([12.0, 11.55, 11.1, 10.5], test_order=[1, 2, 3, 4])
    found = look(SPEC, compression=[sheet])
    assert found.grade("drift") == "watch"
    assert found.grade("balance", "cylinder 4") == "watch"
    without = look(SPEC, compression=[dry([12.0, 11.55, 11.1, 10.4], test_order=[4, 2, 1, 3])])
    assert without.grade("drift") == "clean"


def test_repeats_that_scatter_clear_nothing_and_do_not_widen_the_group() -> None:
    again = {"1": "10.8 bar", "2": "12.9 bar", "3": "11.0 bar"}
    found = look(SPEC, compression=[dry([12.0, 12.1, 12.0, 10.2], repeat_reading=again)])
    assert found.grade("repeats") == "watch"
    assert found.step("repeatability in use", "repeats") == 0.04
    assert found.grades("balance")[:3] == ["unknown"] * 3
    assert found.grade("balance", "cylinder 4") in ("watch", "fix_first")


def test_repeats_given_as_lists_count_as_pairs() -> None:
    sheet = dry([12.0, 11.0, 9.0, 12.0])
    sheet["dry_reading"] = {
        "1": ["12.0 bar", "12.3 bar"],
        "2": ["11.0 bar", "10.8 bar"],
        "3": ["9.0 bar", "9.2 bar"],
        "4": "12.0 bar",
    }
    found = look(SPEC, compression=[sheet])
    assert found.step("repeatability in use", "repeats") == pytest.approx(0.0154, abs=1e-4)


def test_gauge_zero_error_is_taken_off() -> None:
    found = look(SPEC, compression=[dry([12.5, 12.6, 12.5, 12.6], gauge_zero_error="0.5 bar")])
    assert found.step("reading at standard atmosphere", "balance", "cylinder 1") == pytest.approx(1.2e6)


# Weights ------------------------------------------------------------------------------------------------------------


def test_a_single_low_cylinder_speaks_for_rings_and_exhaust_valve() -> None:
    found = register(SPEC, compression=[dry([12.1, 12.0, 12.2, 8.0])])
    assert ratio(found, "ring-seal", "cylinder 4", "balance") == pytest.approx(3.0, rel=1e-3)
    assert ratio(found, "exhaust-valve-seal", "cylinder 4", "balance") == pytest.approx(3.0, rel=1e-3)
    assert belief(found, "exhaust-valve-seal", "cylinder 4").p > 0.25
    # Sound neighbours gain nothing.
    assert belief(found, "ring-seal", "cylinder 1").net <= 0.0


def test_even_and_at_spec_exonerates_a_little() -> None:
    found = register(SPEC, compression=[dry(EVEN)])
    assert ratio(found, "intake-valve-seal", "cylinder 2", "balance") == pytest.approx(0.4, abs=0.02)
    without = register(PETROL, compression=[dry(EVEN)])
    assert not belief(without, "intake-valve-seal", "cylinder 2").weights


def test_high_cylinder_speaks_for_liquid_and_more_after_standing() -> None:
    sheets = [dry([11.8, 11.9, 12.0, 15.0])]
    plain = register(SPEC, compression=sheets)
    stood = register({**SPEC, "stood_unused": True}, compression=sheets)
    assert ratio(plain, "liquid-in-cylinder", "cylinder 4", "single_high") == pytest.approx(6.0, rel=1e-3)
    assert ratio(plain, "carbon-in-chamber", "cylinder 4", "single_high") == pytest.approx(4.0, rel=1e-3)
    assert ratio(stood, "liquid-in-cylinder", "cylinder 4", "single_high") == pytest.approx(18.0, rel=1e-3)
    assert ratio(stood, "head-gasket-or-crack-to-coolant", "cylinder 4", "single_high") == pytest.approx(4.0, rel=1e-3)


def test_first_puff_against_the_others() -> None:
    sheet = dry(
        [12.0, 12.1, 12.0, 12.1], first_puff_reading={"1": "8.4 bar", "2": "8.5 bar", "3": "8.4 bar", "4": "6.0 bar"}
    )
    found = register(SPEC, compression=[sheet])
    assert ratio(found, "ring-seal", "cylinder 4", "first_puff") == pytest.approx(2.0)
    assert look(SPEC, compression=[sheet]).grade("first_puff", "cylinder 1") == "clean"


def test_first_puff_against_a_hose_of_known_volume() -> None:
    # 15 ml behind the check valve of a 55 ml chamber: 75 % of the final reading on the first stroke.
    sheet = dry([12.0, 12.1, 12.0, 12.1], first_puff_reading={"4": "9.1 bar"}, hose_volume="15 mL")
    found = look(SPEC, compression=[sheet])
    assert found.step("by the volume of the hose", "first_puff", "cylinder 4") == pytest.approx(0.754, abs=0.005)
    assert found.grade("first_puff", "cylinder 4") == "clean"
    low = look(SPEC, compression=[{**sheet, "first_puff_reading": {"4": "7.0 bar"}}])
    assert low.grade("first_puff", "cylinder 4") == "note"
    at_gauge = look(SPEC, compression=[{**sheet, "check_valve_at_cylinder_end": False}])
    assert not at_gauge.has("first_puff", "cylinder 4")


def test_a_hose_before_the_check_valve_is_dead_volume() -> None:
    # 10.5 bar is below the band of this engine, but not with 15 ml more above the piston.
    readings = [10.5, 10.6, 10.4, 10.5]
    assert look(compression=[dry(readings)]).covered().state == "unknown"
    hose = {"check_valve_at_cylinder_end": False, "hose_volume": "15 mL"}
    assert look(compression=[dry(readings, **hose)]).covered().state == "met"


def test_oil_in_the_bores_hides_worn_rings() -> None:
    vehicle = {**PETROL, "compression_spec_nominal": "12.5 bar", "oil_use_high": True}
    found = look(vehicle, compression=[dry(EVEN)])
    assert found.grades("balance") == ["unknown"] * 4
    assert "oil in the bores" in found.covered().why
    below = look({**vehicle, "compression_spec_nominal": "13.2 bar"}, compression=[dry(EVEN)])
    assert below.grades("balance") == ["clean"] * 4


def test_another_camshaft_widens_the_band() -> None:
    readings = [11.9, 12.0, 11.8, 11.9]
    assert look(compression=[dry(readings)]).covered().state == "met"
    late = {**PETROL, "intake_closing": "20 deg"}
    assert look(late, compression=[dry(readings)]).covered().state == "unknown"
    assert look({**late, "cam_changed": True}, compression=[dry(readings)]).covered().state == "met"


def test_cranking_below_the_makers_test_speed_is_said() -> None:
    vehicle = {**SPEC, "compression_spec_cranking_speed": "300 rpm", "compression_spec_source": "manual, page 7"}
    found = look(vehicle, compression=[dry(EVEN, plugs_removed="one")])
    assert any("300 rpm" in text for text in found.advice())
    assert any("take all plugs out" in text for text in found.advice())
    step = next(s for s in found.finding("absolute", "cylinder 1").steps if s.label == "least reading")
    assert step.source == "manual, page 7"


def test_second_gauge() -> None:
    agrees = register(SPEC, compression=[dry([12.0, 12.1, 12.0, 9.0], second_gauge_reading={"4": "9.1 bar"})])
    assert ratio(agrees, "gauge-or-adaptor-error", None, "second_gauge") == pytest.approx(0.1)
    differs = register(SPEC, compression=[dry([12.0, 12.1, 12.0, 9.0], second_gauge_reading={"4": "12.0 bar"})])
    assert ratio(differs, "gauge-or-adaptor-error", None, "second_gauge") == pytest.approx(5.0)


def test_recovery_after_a_warm_run_is_a_result() -> None:
    sheet = dry([12.0, 12.1, 12.0, 9.0], after_warm_run={"4": "recovered"})
    assert look(SPEC, compression=[sheet]).grade("after_warm_run", "cylinder 4") == "watch"
    assert ratio(
        register(SPEC, compression=[sheet]), "fuel-washed-bore", "cylinder 4", "after_warm_run"
    ) == pytest.approx(20)
    still = register(SPEC, compression=[dry([12.0, 12.1, 12.0, 9.0], after_warm_run={"4": "still_low"})])
    assert ratio(still, "fuel-washed-bore", "cylinder 4", "after_warm_run") == pytest.approx(0.1)


def test_low_hot_and_better_cold() -> None:
    hot, cold = dry([12.0, 12.1, 12.0, 9.0]), dry([11.8, 11.9, 11.8, 11.6], day=1, coolant_temp="20 degC")
    found = register(SPEC, days=2, compression=[hot, cold])
    assert ratio(found, "tight-valve-clearance", "cylinder 4", "hot_and_cold") == pytest.approx(5.0)


def test_order_of_the_sheet_does_not_matter() -> None:
    sheet = dry([12.1, 12.0, 9.0, 9.1])
    turned = {**sheet, "dry_reading": dict(reversed(list(sheet["dry_reading"].items())))}
    one, other = look(SPEC, compression=[sheet]), look(SPEC, compression=[turned])
    assert [repr(r) for r in one.results] == [repr(r) for r in other.results]
