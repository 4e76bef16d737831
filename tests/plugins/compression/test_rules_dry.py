"""Dry readings: check sets, votes, conditions, and the traps."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from compression_cases import DAY, DIESEL, PETROL, belief, dry, leak, look, ratio, refused, register

from loadworthy.findings import Advice

SPEC = {**PETROL, "compression_spec_min": "10 bar"}
NOMINAL = {**PETROL, "compression_spec_nominal": "12.2 bar", "compression_spec_min": "9.5 bar"}
EVEN = [13.0, 13.1, 12.9, 13.0]


def test_even_set_inside_the_band_is_clear_and_asks_for_the_maker() -> None:
    found = look(compression=[dry(EVEN)])
    assert found.grades("balance") == ["clean"] * 4
    assert found.covered().state == "met"
    assert "maker_minimum" in found.gaps()
    assert found.symptoms() == set()


def test_nearly_equal_set_of_the_trade_is_clear() -> None:
    # 12.0, 12.0, 12.0, 11.8 bar: Dixon calls the last an outlier; 1.7 % is nothing. Just below the band: maker needed.
    found = look(SPEC, compression=[dry([12.0, 12.0, 12.0, 11.8])])
    assert found.grades("balance") == ["clean"] * 4
    assert found.finding("balance", "cylinder 4").verdicts[0].p_beyond < 0.05
    assert found.step("deficit", "balance", "cylinder 4") == pytest.approx(0.0167, abs=1e-3)


def test_below_the_band_without_maker_is_unknown() -> None:
    found = look(compression=[dry([11.0, 11.1, 10.9, 11.0])])
    assert found.grades("balance") == ["unknown"] * 4
    assert found.covered().state == "unknown"
    assert "below what the geometry allows" in found.covered().why
    no_bore = {key: value for key, value in PETROL.items() if key != "bore"}
    assert "geometry is not known" in look(no_bore, compression=[dry(EVEN)]).covered().why


@pytest.mark.parametrize(
    ("readings", "grades"),
    [
        ([12.1, 12.0, 12.2, 9.0], ["clean", "clean", "clean", "stop"]),
        ([12.1, 12.0, 9.0, 9.0], ["clean", "clean", "stop", "stop"]),
        ([12.1, 7.9, 8.0, 12.2], ["clean", "stop", "stop", "clean"]),
        ([12.0, 12.1, 11.9, 10.3], ["clean", "clean", "clean", "fix_first"]),
        ([12.0, 12.1, 11.9, 11.05], ["clean", "clean", "clean", "watch"]),
    ],
)
def test_grades_by_deficit(readings: list[float], grades: list[str]) -> None:
    found = look(SPEC, compression=[dry(readings)])
    assert found.grades("balance") == grades


def test_three_low_of_four_accuse_the_engine_through_the_mirror() -> None:
    found = look(compression=[dry([12.1, 9.0, 9.0, 9.0])])
    assert found.grade("mirror") == "stop"
    assert found.step("deepest deficit from it", "mirror") == pytest.approx(0.256, abs=0.002)
    assert found.grades("balance") == ["unknown"] * 4
    assert found.grade("single_high", "cylinder 1") == "fix_first"
    # The crowd is suspected as well as the high one, by half.
    assert {("compression-low-one-cylinder", f"cylinder {n}") for n in (2, 3, 4)} <= found.symptoms()
    assert found.symptom("compression-low-one-cylinder", "cylinder 2").p_beyond == pytest.approx(0.5, abs=0.01)
    # Three of four are a majority, so it is the mirror that speaks.
    assert found.grade("majority") == "clean"
    assert found.covered().state == "unknown"


@pytest.mark.parametrize(
    "known",
    [
        {"compression_spec_min": "10 bar"},
        {"compression_spec_nominal": "12 bar"},
    ],
)
def test_a_known_value_condemns_the_crowd_itself(known: dict[str, str]) -> None:
    found = look({**PETROL, **known}, compression=[dry([12.1, 9.0, 9.0, 9.0])])
    assert found.grades("balance")[1:] == ["stop"] * 3


def test_mirror_becomes_the_groups_own_below_the_makers_minimum() -> None:
    found = look({**PETROL, "compression_spec_min": "9.5 bar"}, compression=[dry([12.1, 9.0, 9.0, 9.0])])
    assert found.grades("balance") == ["clean", "stop", "stop", "stop"]
    assert found.grade("single_high", "cylinder 1") == "clean"
    assert found.grades("absolute") == ["clean", "fix_first", "fix_first", "fix_first"]


def test_mirror_becomes_the_groups_own_where_the_crowd_leaks() -> None:
    readings = [12.1, 9.0, 9.0, 9.0]
    tight = look(compression=[dry(readings)], leak_down=[leak([5, 30, 31, 30])])
    assert tight.grades("balance")[1:] == ["stop"] * 3
    healthy = look(compression=[dry(readings)], leak_down=[leak([5, 5, 5, 5])])
    assert healthy.grades("balance")[1:] != ["stop"] * 3


def test_one_high_of_four_is_a_finding_and_condemns_nobody_else() -> None:
    found = look(SPEC, compression=[dry([11.80, 11.95, 12.10, 14.50])])
    assert found.grades("balance") == ["clean"] * 4
    assert found.grades("single_high") == ["clean", "clean", "clean", "fix_first"]
    assert ("compression-high-one-cylinder", "cylinder 4") in found.symptoms()
    words = [found.finding("single_high", f"cylinder {n}").text for n in (1, 4)]
    assert [" below " in words[0], " above " in words[1], "-" in words[0]] == [True, True, False]
    assert found.grade("mirror") == "fix_first"


def test_two_of_four_without_anything_known_is_unresolved() -> None:
    found = look(compression=[dry([12.1, 7.9, 8.0, 12.2])])
    assert found.grade("majority") == "fix_first"
    assert look(SPEC, compression=[dry([12.1, 7.9, 8.0, 12.2])]).grade("majority") == "clean"
    settled = look(compression=[dry([12.1, 7.9, 8.0, 12.2])], leak_down=[leak([5, 40, 40, 5])])
    assert settled.grade("majority") == "clean"


def test_three_cylinders_cannot_tell_two_low_from_one_high() -> None:
    three = {**PETROL, "cylinder_count": 3, "displacement": "1499 cm3"}
    found = look(three, compression=[dry([13.0, 10.0, 10.1])])
    assert found.grade("majority") == "fix_first"
    assert {found.grade("balance", f"cylinder {n}") for n in (1, 2, 3)} == {"unknown"}
    even = look(three, compression=[dry([13.0, 13.1, 13.0])])
    assert even.covered().state == "met"


def test_a_missing_cylinder_is_unknown_and_the_engine_not_clear() -> None:
    found = look(SPEC, compression=[dry([12.0, 12.1, None, 12.0])])
    assert found.grade("balance", "cylinder 3") == "unknown"
    assert found.covered().state == "unknown"
    assert "cylinder 3" in found.covered().why
    assert "missing_reading" in found.gaps()


def test_a_cylinder_that_the_engine_does_not_have_is_said_and_not_judged() -> None:
    found = look(SPEC, compression=[dry([12.0, 12.1, 12.0, 12.1, 3.0])])
    assert not found.has("balance", "cylinder 5")
    assert found.grades("balance") == ["clean"] * 4
    assert any("cylinder 5 named" in text for text in found.advice())


def test_zero_is_a_reading() -> None:
    found = look(SPEC, compression=[dry([12.0, 12.1, 0, 12.0])])
    assert found.grade("balance", "cylinder 3") == "stop"
    assert found.covered().state == "met"


def test_twelve_cylinders() -> None:
    twelve = {
        **SPEC,
        "cylinder_count": 12,
        "displacement": "5994 cm3",
        "cylinder_arrangement": "vee",
        "cylinder_banks": [[1, 2, 3, 4, 5, 6], [7, 8, 9, 10, 11, 12]],
    }
    readings: list[float | None] = [12.0, 12.2, 11.9, 12.1, 12.3, 11.8, 12.0, 12.1, 11.9, 12.2, 12.0, 12.1]
    assert look(twelve, compression=[dry(readings)]).grades("balance", 12) == ["clean"] * 12
    readings[6] = 8.9
    found = look(twelve, compression=[dry(readings)])
    assert found.grades("balance", 12) == ["clean"] * 6 + ["stop"] + ["clean"] * 5
    # From seven cylinders z must pass 3.0: 7 % is noise in such a crowd.
    readings[6] = 11.2
    assert look(twelve, compression=[dry(readings)]).grade("balance", "cylinder 7") == "clean"


def test_one_and_two_cylinders_are_compared_with_maker_and_record_only() -> None:
    two = {**PETROL, "cylinder_count": 2, "displacement": "1000 cm3"}
    found = look(two, compression=[dry([13.0, 9.0])])
    assert not found.has("majority")
    assert found.covered().state == "unknown"
    judged = look({**two, "compression_spec_nominal": "13 bar"}, compression=[dry([13.0, 9.0])])
    assert [judged.grade("balance", f"cylinder {n}") for n in (1, 2)] == ["clean", "stop"]
    one = {**PETROL, "cylinder_count": 1, "displacement": "500 cm3", "compression_spec_nominal": "13 bar"}
    assert look(one, compression=[dry([13.0])]).grade("balance", None) == "clean"


@pytest.mark.parametrize("cycle", ["two_stroke", "rotary"])
def test_other_cycles_are_refused(cycle: str) -> None:
    found = look({**SPEC, "engine_cycle": cycle}, compression=[dry(EVEN)])
    assert [c.state for c in (found.covered(), found.covered("leak_down"))] == ["unknown"] * 2
    assert "not covered" in found.covered().why
    assert len(found.results) == 2


# Conditions ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"throttle_state": "closed"}, True),
        ({"throttle_state": "unknown"}, False),
        ({"throttle_state": None}, False),
        ({"compression_strokes": 3}, True),
        ({"compression_strokes": None}, False),
        ({"cranking_speed": "140 rpm"}, True),
        ({"cranking_speed": None}, False),
        ({"cranking_speed": None, "cranking_speeds": {"1": "230 rpm", "2": "200 rpm"}}, True),
        ({"coolant_temp": "25 degC"}, True),
        ({"coolant_temp": None}, False),
        ({"altitude": None}, False),
        ({"altitude": None, "ambient_pressure": "1013 mbar"}, False),
        ({"altitude": None, "ambient_pressure": "1013 mbar", "ambient_pressure_kind": "sea_level_reduced"}, False),
    ],
    ids=str,
)
def test_wrong_or_unknown_conditions_clear_nothing(change: dict[str, Any], wrong: bool) -> None:
    even = look(SPEC, compression=[dry(EVEN, **change)])
    assert even.grades("balance") == ["unknown"] * 4
    assert even.covered().state == "unknown"
    assert "compression_conditions" in even.gaps()
    low = look(SPEC, compression=[dry([12.1, 12.0, 12.2, 8.0], **change)])
    # Wrong ones take the stop away, unknown ones do not.
    assert low.grade("balance", "cylinder 4") == ("fix_first" if wrong else "stop")
    assert low.accept("balance", "cylinder 4") is wrong


def test_unthrottled_diesel_needs_no_throttle() -> None:
    found = look(
        {**DIESEL, "compression_spec_min": "24 bar"},
        compression=[dry([30.0, 30.4, 29.8, 30.1], throttle_state="none", cranking_speed="200 rpm")],
    )
    assert found.grades("balance") == ["clean"] * 4
    assert found.covered().state == "met"


def test_identical_readings_clear_nothing_until_confirmed() -> None:
    copied = look(SPEC, compression=[dry([12.0, 12.0, 12.0, 12.0])])
    assert copied.grades("balance") == ["unknown"] * 4
    assert any("identical" in text for text in copied.advice())
    confirmed = look(SPEC, compression=[dry([12.0, 12.0, 12.0, 12.0], repeat_reading={"1": "12.1 bar"})])
    assert confirmed.grades("balance") == ["clean"] * 4


def test_identical_readings_are_identical_in_every_unit() -> None:
    sheet = dry([12.9] * 4)
    sheet["dry_reading"] |= {"4": "9675.794328408967 mmHg"}  # 12.9 bar, as a conversion there and back leaves it
    assert look(SPEC, compression=[sheet]).grades("balance") == ["unknown"] * 4


def test_psi_typed_as_bar_is_refused_and_the_unit_suggested() -> None:
    sheet = dry(EVEN)
    sheet["dry_reading"] = {"1": "175 bar", "2": "178 bar", "3": "176 bar", "4": "174 bar"}
    words = refused(SPEC, compression=[sheet])
    assert "impossible" in words
    assert "175 psi" in words


# Altitude and maker -------------------------------------------------------------------------------------------------


def test_altitude_is_corrected_by_pressure() -> None:
    # 10.2 bar at 1 600 m is 12.37 bar at the standard atmosphere; uncorrected it would be below the minimum.
    vehicle = {**PETROL, "compression_spec_min": "11 bar"}
    readings = [10.2, 10.25, 10.15, 10.2]
    high = look(vehicle, compression=[dry(readings, altitude="1600 m")])
    assert high.step("reading at standard atmosphere", "balance", "cylinder 1") == pytest.approx(1237e3, rel=2e-3)
    assert high.grades("absolute") == ["clean"] * 4
    low = look(vehicle, compression=[dry(readings, altitude="0 m")])
    assert low.grades("absolute") == ["fix_first"] * 4


def test_weather_report_needs_the_altitude() -> None:
    vehicle = {**PETROL, "compression_spec_min": "11 bar"}
    sheet = dry([10.2, 10.25, 10.15, 10.2], altitude="1600 m", ambient_pressure="1013.25 mbar")
    reduced = look(vehicle, compression=[{**sheet, "ambient_pressure_kind": "sea_level_reduced"}])
    assert reduced.step("air pressure at the place", "balance", "cylinder 1") == pytest.approx(83524, rel=2e-3)
    station = look(vehicle, compression=[{**sheet, "ambient_pressure_kind": "station"}])
    # Typed as measured at the place it hides the altitude.
    assert station.grades("absolute") == ["fix_first"] * 4


@pytest.mark.parametrize(
    ("reading", "grade"),
    [(12.2, "clean"), (11.6, "clean"), (11.2, "watch"), (10.9, "fix_first"), (10.0, "fix_first")],
)
def test_makers_minimum_and_the_gauge(reading: float, grade: str) -> None:
    # Within one standard uncertainty (0.231 bar of a class 1.6 gauge of 25 bar) above it: watch.
    gauge = {"id": "g", "measures": "pressure_gauge", "span": "25 bar", "class": 1.6}
    sheet = dry([reading, reading + 0.05, reading, reading + 0.05], instrument="g")
    found = look({**PETROL, "compression_spec_min": "11 bar"}, compression=[sheet], instrument=[gauge])
    assert found.grade("absolute", "cylinder 1") == grade


def test_floors_of_the_trade() -> None:
    one = look(compression=[dry([12.0, 12.1, 12.0, 6.5])])
    assert one.grade("absolute", "cylinder 4") == "stop"
    every = look(compression=[dry([6.5, 6.4, 6.6, 6.5])])
    assert every.grades("absolute") == ["fix_first"] * 4
    late = look({**PETROL, "intake_closing": "85 deg"}, compression=[dry([6.5, 6.4, 6.6, 6.5])])
    assert not late.has("absolute", "cylinder 1")
    diesel = look(DIESEL, compression=[dry([16.0, 30.0, 30.1, 30.0], cranking_speed="200 rpm")])
    assert diesel.grade("absolute", "cylinder 1") == "stop"


def test_makers_greatest_difference() -> None:
    vehicle = {**SPEC, "compression_spec_max_difference": "1.5 bar"}
    assert look(vehicle, compression=[dry([12.0, 12.1, 12.0, 9.9])]).grade("spread") == "fix_first"
    assert look(vehicle, compression=[dry([12.0, 12.1, 12.0, 11.9])]).grade("spread") == "clean"


def test_trade_rules_are_notes() -> None:
    found = look(SPEC, compression=[dry([12.0, 12.1, 12.0, 10.5])])
    assert found.grade("spread") == "note"
    assert "trade rules differ" in found.finding("spread").text


# Record -------------------------------------------------------------------------------------------------------------


def test_own_record_judges_a_later_session() -> None:
    first, second = dry(EVEN), dry([11.0, 11.1, 10.9, 11.0], day=60)
    found = look(compression=[first, second])
    assert "below this engine's own record" in found.finding("balance", "cylinder 1").text
    assert found.grades("balance") == ["fix_first"] * 4
    assert ("compression-low-all", None) in found.symptoms()
    # A first session with a low cylinder, or in doubtful conditions, is no record.
    for earlier in (dry([13.0, 13.1, 9.0, 13.0]), dry(EVEN, throttle_state="closed")):
        assert ("compression-low-all", None) not in look(compression=[earlier, second]).symptoms()


def test_a_repair_of_the_ratio_ends_the_record() -> None:
    repair = {
        "id": "r",
        "date": DAY + datetime.timedelta(days=30),
        "what": "pistons of lower ratio",
        "treats": ["raised-compression-ratio"],
    }
    second = dry([11.0, 11.1, 10.9, 11.0], day=60)
    found = look(compression=[dry(EVEN), second], repair=[repair])
    assert ("compression-low-all", None) not in found.symptoms()


def test_motor_generator_start_compares_with_its_own_record_only() -> None:
    vehicle = {**PETROL, "motor_generator_start": True, "compression_spec_min": "11 bar"}
    sheet = dry([8.0, 8.1, 8.0, 7.9], cranking_speed="900 rpm")
    alone = look(vehicle, compression=[sheet])
    assert not alone.has("absolute", "cylinder 1")
    assert alone.covered().state == "unknown"


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


# All low, and what is said beside the verdicts -----------------------------------------------------------------------

ALL_LOW = [9.0, 9.1, 8.9, 9.0]
MAKER = {**PETROL, "compression_spec_min": "10.5 bar", "compression_spec_nominal": "13 bar"}


@pytest.mark.parametrize(
    ("throttle", "expected"), [("closed", 4.0), ("unknown", 4.0), ("none", 4.0), (None, 4.0), ("wide_open", None)]
)
def test_all_low_with_a_throttle_nobody_saw_open(throttle: str | None, expected: float | None) -> None:
    # Ratio 4 for a shut throttle and a restricted intake alike (judgement); "none" is for unthrottled diesels only.
    made = register(MAKER, compression=[dry(ALL_LOW, throttle_state=throttle)])
    for cause in ("throttle-shut", "intake-restricted"):
        if expected is not None:
            assert ratio(made, cause, None, "all_low_throttle") == pytest.approx(expected, rel=0.01)
    if expected is None:
        assert ratio(made, "throttle-shut", None, "all_low_throttle") == pytest.approx(0.1)
        # An open blade is no proof of a free filter.
        assert belief(made, "intake-restricted", None).net == 0.0


def test_no_throttle_is_an_answer_for_a_diesel_only() -> None:
    assert look(MAKER, compression=[dry([13.0, 13.1, 12.9, 13.0], throttle_state="none")]).grades("balance") == (
        ["unknown"] * 4
    )


def test_low_cylinders_that_share_no_wall() -> None:
    apart = look(MAKER, compression=[dry([10.0, 13.0, 10.1, 13.0])])
    assert apart.grade("separate_low") == "note"
    assert "1 and 3" in apart.finding("separate_low").text
    together = look(MAKER, compression=[dry([13.0, 10.0, 10.1, 13.0])])
    assert together.grade("separate_low") == "clean"
    plain = {key: value for key, value in MAKER.items() if key != "cylinder_arrangement"}
    assert not look(plain, compression=[dry([10.0, 13.0, 10.1, 13.0])]).has("separate_low")


def test_of_two_groups_of_equal_size_the_higher_is_taken_and_said_so() -> None:
    tied = look(PETROL, compression=[dry([12.1, 7.9, 8.0, 12.2])])
    assert "higher one is taken" in tied.finding("majority").text
    assert "higher one" not in look(PETROL, compression=[dry([12.1, 12.0, 8.0, 12.2])]).finding("majority").text


def test_oil_beyond_one_per_cent_and_a_wet_reading_below_the_dry_one() -> None:
    # 1 % of 500 ml is 5 ml; a wet reading lies no more than 3 % below the dry one (judgement).
    wet = {"wet_reading": {"1": "13.2 bar", "4": "12.0 bar"}}
    usual = look(MAKER, compression=[dry([12.2, 12.1, 12.2, 9.6], oil_volume="4.9 mL", **wet)])
    assert not any("oil than 1 %" in text or "below the dry" in text for text in usual.advice())
    much = look(MAKER, compression=[dry([12.2, 12.1, 12.2, 9.6], oil_volume="15 mL", **wet)])
    assert any("oil than 1 %" in text for text in much.advice())
    mixed = look(MAKER, compression=[dry([12.2, 12.1, 12.2, 9.6], wet_reading={"1": "11.7 bar", "4": "12.0 bar"})])
    assert [a.subject for a in mixed.results if isinstance(a, Advice) and "below the dry" in a.text] == ["cylinder 1"]


def test_first_puff_outside_its_usual_share() -> None:
    # Usual: 50 to 85 % of the final value; its meaning depends on the hose.
    puffs = {"1": "9 bar", "2": "9.1 bar", "3": "9 bar", "4": "12 bar"}
    found = look(MAKER, compression=[dry([13.0, 13.1, 12.9, 13.0], first_puff_reading=puffs)])
    assert [found.grade("first_puff", f"cylinder {n}") for n in (1, 4)] == ["clean", "note"]


def test_facts_that_cannot_be_are_said_and_not_used() -> None:
    sheet = dry([13.0, 13.1, 12.9, 13.0])
    short = look({**MAKER, "stroke": "110 mm", "rod_length": "52 mm"}, compression=[sheet])
    assert any("connecting rod" in text for text in short.advice())
    twice = look({**MAKER, "firing_order": [1, 3, 3, 2]}, compression=[sheet])
    assert any("firing order" in text for text in twice.advice())
    assert not any("connecting rod" in t or "firing order" in t for t in look(MAKER, compression=[sheet]).advice())
