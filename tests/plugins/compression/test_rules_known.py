"""Dry readings against the maker, the trade and the record of this engine."""

from __future__ import annotations

import datetime

import pytest
from compression_cases import DAY, DIESEL, PETROL, dry, look

SPEC = {**PETROL, "compression_spec_min": "10 bar"}
EVEN = [13.0, 13.1, 12.9, 13.0]


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
