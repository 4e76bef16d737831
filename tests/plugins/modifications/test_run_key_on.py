"""Pressure sensors at key-on, added connectors, and what a false one does to every other rule."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from run_cases import look, register, run

SCALING = "pressure-sensor-scaling-changed"


@pytest.mark.parametrize(
    ("kpa", "grade", "band"),
    [
        (66.7, "watch", "typical_ratio"),  # 300 kPa read with the slope of 200 kPa
        (80.0, "watch", "typical_ratio"),
        (150.0, "watch", "typical_ratio"),
        (85.0, "watch", "changed"),
        (91.3, "watch", "clean"),  # borderline: k 1.095
        (100.4, "clean", "clean"),
        (95.0, "clean", "clean"),  # an offset: judged elsewhere
    ],
)
def test_key_on(kpa: float, grade: str, band: str) -> None:
    found = look(run(map_key_on=f"{kpa} kPa"))
    assert (found.grade("key_on"), found.band("key_on")) == (grade, band)


def test_what_the_ratio_makes_of_a_log() -> None:
    # Key-on 66.7 at ambient 100: k 1.50 (computed here).
    found = look(run(map_key_on="66.7 kPa"))
    assert found.step("key_on", "k") == pytest.approx(1.50, abs=0.01)
    assert "1.50 times" in found.finding("key_on").text


def test_the_worse_of_two_sensors_decides() -> None:
    found = look(run(boost_key_on="66.7 kPa"))
    assert found.band("key_on") == "typical_ratio"
    assert found.grade("ve_constant") == "unknown"
    assert "barometer" not in found.finding("key_on").text
    assert look(run(boost_key_on="100 kPa")).grade("key_on") == "clean"
    both = look(run(map_key_on="85 kPa", boost_key_on="85 kPa"))
    assert "barometer" in both.finding("key_on").text


@pytest.mark.parametrize(
    "changed",
    [
        {"map_key_on": None},
        {"ambient_pressure": None},
        {"ambient_pressure_kind": None},  # as a weather report it would be reduced to sea level
        {"ambient_pressure_kind": "sea_level_reduced"},  # and then the altitude is needed
    ],
)
def test_unknown_without_station_pressure_or_reading(changed: dict[str, Any]) -> None:
    found = look(run(**changed))
    assert found.grade("key_on") == "unknown"
    assert "key_on" in found.gaps()


def test_a_weather_report_at_altitude() -> None:
    # 1013 hPa at sea level is 840 hPa at 1 550 m (standard atmosphere).
    told = {"ambient_pressure": "101.3 kPa", "ambient_pressure_kind": "sea_level_reduced", "altitude": "1550 m"}
    assert look(run(map_key_on="84.0 kPa", **told)).grade("key_on") == "clean"
    assert look(run(map_key_on="101.3 kPa", **told)).grade("key_on") == "watch"
    assert look(run(map_key_on="84.0 kPa", ambient_pressure=None, altitude="1550 m")).grade("key_on") == "clean"
    # A low of 970 hPa at sea level is 804 hPa there.
    low = {**told, "ambient_pressure": "97.0 kPa"}
    assert look(run(map_key_on="80.4 kPa", **low)).step("key_on", "k") == pytest.approx(1.0, abs=2e-3)
    # 30 m of altitude are 360 Pa, 3 000 m would be 36 kPa: nothing can be told then.
    vague = {**told, "altitude": "1550 m +- 5000 m"}
    assert look(run(map_key_on="66.7 kPa", **vague)).finding("key_on").verdicts[0].p_beyond < 0.8


USES_PRESSURE = ("ve", "ve_constant", "meter_trend", "fuel_set", "balance", "uniform_trim", "spring", "boost_short")


def _full(**changed: Any) -> dict[str, Any]:
    base = [{"engine_speed": f"{n} rpm", "boost": "50 kPa"} for n in (3000, 5000)]
    row = {"boost_duty": 1.0, "map_target": "230 kPa"}
    return run(0.0, base_pressure_points=base, charge_leak_test="tight", row=row, **changed)


def test_a_scaled_sensor_silences_every_rule_that_uses_manifold_pressure() -> None:
    found = look(_full(map_key_on="66.7 kPa"))
    assert {rule: found.grade(rule) for rule in USES_PRESSURE} == dict.fromkeys(USES_PRESSURE, "unknown")
    # The uniform trim lacks what these would have told it.
    assert {
        rule: "off by a ratio" in found.finding(rule).unknown for rule in USES_PRESSURE if rule != "uniform_trim"
    } == {rule: True for rule in USES_PRESSURE if rule != "uniform_trim"}
    assert found.grade("trim") == "clean"
    sound = look(_full())
    assert "unknown" not in {sound.grade(rule) for rule in USES_PRESSURE}


def test_sensors_that_were_not_read_at_key_on_let_pressure_clear_nothing() -> None:
    found = look(_full(map_key_on=None))
    assert {found.grade(rule) for rule in USES_PRESSURE if rule != "boost_short"} == {"unknown"}


def test_without_key_on_a_constant_factor_is_no_verdict() -> None:
    assert look(run(row={"air": 1.3})).grade("ve_constant") == "watch"
    found = look(run(row={"air": 1.3}, map_key_on=None))
    assert "key-on" in found.finding("ve_constant").unknown


def test_connectors() -> None:
    assert look(run(sensor_connectors="original")).band("connectors") == "original"
    added = look(run(sensor_connectors="added"))
    assert (added.grade("connectors"), added.finding("connectors").names) == (
        "watch",
        (("signal-converter-fitted", None),),
    )
    assert not look(run(sensor_connectors="not_checked")).has("connectors")
    assert not look(run()).has("connectors")


def test_a_typical_ratio_is_likelier_than_not_and_asks_for_eyes() -> None:
    # Prior 0.05, ratio 60: 0.76, above 0.7 (computed here); 25: 0.57, a note alone.
    typical, other = look(run(map_key_on="66.7 kPa")), look(run(map_key_on="85 kPa"))
    assert "0.76" in typical.finding("undeclared").text
    assert f"undeclared.{SCALING}" in typical.gaps()
    assert "0.57" in other.finding("undeclared").text
    assert not any(gap.startswith("undeclared") for gap in other.gaps())
    assert look(run()).grade("undeclared") == "clean"


def test_in_the_register_the_watch_bears_a_word_of_acceptance() -> None:
    found = register(run(map_key_on="66.7 kPa"))
    standing = next(one for one in found.standings if one.finding.rule == "modifications.key_on")
    assert (standing.grade, standing.accept) == ("watch", True)


@given(st.floats(0.0, 60.0), st.floats(0.0, 30.0), st.booleans())
@settings(max_examples=40, deadline=None)
def test_a_larger_deviation_never_clears_more_nor_grades_milder(off: float, more: float, low: bool) -> None:
    sign = -1.0 if low else 1.0

    def of(by: float) -> tuple[float, float]:
        k = 1.0 + by / 100.0
        found = look(run(map_key_on=f"{100.0 * k**sign:.4f} kPa"))
        return found.finding("key_on").verdicts[0].p_beyond, found.bands("key_on").get("clean", 0.0)

    (p, clean), (p_more, clean_more) = of(off), of(off + more)
    assert p_more >= p - 1e-9
    assert clean_more <= clean + 1e-9
