"""What the rules of the mixture run declare: limits with side, grade and mark, and every likelihood ratio."""

from __future__ import annotations

import pytest
from run_cases import case, host, limits, run

from loadworthy.errors import CaseError
from loadworthy.units import parse
from loadworthy_plugins.modifications.sheet_run import MIXTURE_RUN, POINTS

CATALOGUE = host().catalogue
#: Name, value, side on which it is exceeded, grade; all judgement.
LIMITS = [
    ("trim_watch", 0.08, "above", "watch"),
    ("trim_fix", 0.15, "above", "fix_first"),
    ("trim_retest", 0.05, "above", "watch"),
    ("balance_retest", 0.05, "above", "watch"),
    ("trim_uniform", 0.04, "setting", None),
    ("trim_bank_difference", 0.06, "setting", None),
    ("trim_distance", "30 km", "setting", None),
    ("ve_low", 0.65, "below", "watch"),
    ("ve_high", 1.18, "above", "watch"),
    ("ve_factor_low", 0.85, "below", "watch"),
    ("ve_factor_high", 1.15, "above", "watch"),
    ("ve_factor_spread", 0.08, "setting", None),
    ("balance_tol", 0.07, "above", "watch"),
    ("balance_tol_untested", 0.12, "above", "watch"),
    ("balance_documented", 0.03, "setting", None),
    ("key_on_scale", 0.10, "above", "watch"),
    ("key_on_documented", "2 kPa", "setting", None),
    ("fuel_set_tol", 0.05, "above", "watch"),
    ("ethanol_tol", "5 %", "setting", None),
    ("spring_tol", "10 kPa", "above", "watch"),
    ("spring_tol_share", 0.15, "setting", None),
    ("cr_ratio_tol", 0.06, "setting", None),
    ("overall_ratio_tol", 0.02, "above", "watch"),
    ("idle_vacuum_low", "12 kPa", "above", "watch"),
    ("compressor_choke", 1.0, "above", "watch"),
    ("boost_onset_shift", "400 rpm", "above", "watch"),
    ("boost_short", "5 kPa", "setting", None),
    ("boost_short_share", 0.05, "setting", None),
    ("posterior_report", 0.5, "above", "note"),
    ("posterior_conflict", 0.7, "above", "watch"),
]
METER = "air-meter-contaminated-or-housing-changed"
#: Rule, band, ratios; all judgement. Ratios of 1 say that a test is silent on a cause.
TABLE = {
    ("key_on", "changed"): {
        "pressure-sensor-scaling-changed": 25,
        "pressure-sensor-wrong-or-saturated": 5,
        "signal-converter-fitted": 5,
    },
    ("key_on", "typical_ratio"): {
        "pressure-sensor-scaling-changed": 60,
        "pressure-sensor-wrong-or-saturated": 5,
        "signal-converter-fitted": 5,
    },
    ("key_on", "clean"): {"pressure-sensor-scaling-changed": 0.1, "signal-converter-fitted": 0.1},
    ("connectors", "original"): {"signal-converter-fitted": 0.1},
    ("ve_constant", "constant"): {"displacement-data-wrong": 6, "air-meter-scaling-wrong": 10},
    ("ve_constant", "clean"): {"displacement-data-wrong": 0.2, "air-meter-scaling-wrong": 0.2},
    ("meter_trend", "trend"): {METER: 10, "intake-kit-fitted": 3},
    ("meter_trend", "clean"): {METER: 0.3, "intake-kit-fitted": 0.3},
    ("uniform_trim", "uniform"): {"injector-size-changed": 20},
    ("uniform_trim", "clean"): {"injector-size-changed": 0.1},
    ("dead_time", "alike"): {"injector-dead-time-wrong": 0.1},
    ("rail_flow", "off"): {"rail-sensor-scaling-or-converter": 10, "injector-size-changed": 5},
    ("rail_flow", "off_size_counted"): {"rail-sensor-scaling-or-converter": 10},
    ("rail_flow", "clean"): {"rail-sensor-scaling-or-converter": 0.3, "injector-size-changed": 0.3},
    ("rail_flow", "clean_size_counted"): {"rail-sensor-scaling-or-converter": 0.3},
    # 0.05 in all: key-on has cleared the scaling by 0.1, the rail's flow injectors and rail sensor by 0.3.
    ("data_documented", "stands"): {
        "pressure-sensor-scaling-changed": 0.5,
        "displacement-data-wrong": 0.05,
        "air-meter-scaling-wrong": 0.05,
        METER: 0.05,
        "injector-size-changed": 0.05,
        "injector-dead-time-wrong": 0.05,
        "rail-sensor-scaling-wrong": 0.05,
    },
    ("data_documented", "stands_rail_counted"): {
        "pressure-sensor-scaling-changed": 0.5,
        "displacement-data-wrong": 0.05,
        "air-meter-scaling-wrong": 0.05,
        METER: 0.05,
        "injector-size-changed": pytest.approx(0.05 / 0.3),
        "injector-dead-time-wrong": 0.05,
        "rail-sensor-scaling-wrong": pytest.approx(0.05 / 0.3),
    },
    ("fuel_set", "off"): {"fuel-pressure-regulator-fault": 15},
    ("fuel_set", "clean"): {"fuel-pressure-regulator-fault": 0.1},
    ("spring", "off"): {"wastegate-spring-or-actuator-changed": 12},
    ("spring", "creep"): {"boost-creep": 5},
    ("spring", "both"): {"wastegate-spring-or-actuator-changed": 12, "boost-creep": 5},
    ("spring", "clean"): {"wastegate-spring-or-actuator-changed": 0.2, "boost-creep": 0.2},
    ("compressor", "beyond"): {"turbocharger-changed": 10, "cam-or-exhaust-changed": 3},
    ("compressor", "clean"): {"turbocharger-changed": 0.3, "cam-or-exhaust-changed": 0.3},
    ("idle_vacuum", "cam"): {"camshaft-changed": 8, "valve-timing-off": 6},
    ("idle_vacuum", "clean"): {"camshaft-changed": 0.2, "valve-timing-off": 0.2},
    ("gearing", "all_of_three"): {"tyre-or-final-drive-data-wrong": 30},
    ("gearing", "all_of_two"): {"tyre-or-final-drive-data-wrong": 15},
    ("gearing", "one_gear"): {"gearbox-ratios-changed": 15},
    ("gearing", "clean"): {"tyre-or-final-drive-data-wrong": 0.05, "gearbox-ratios-changed": 0.05},
    ("boost_short", "short"): {"turbocharger-at-its-limit": 5},
    ("limits_above", "above"): {"present-calibration-changed": 10},
    ("calibration_number", "mismatch"): {"present-calibration-changed": 30},
    ("calibration_number", "clean"): {"present-calibration-changed": 0.1},
}
#: The measurement that rules share, as the evidence groups of all checks name it.
GROUPS = {
    "key_on": "key-on",
    "ve": "air meter",
    "ve_constant": "air meter",
    "meter_trend": "air meter",
    "compressor": "air meter",
    "balance": "air meter",
    "trim": "lambda sensor",
    "uniform_trim": "lambda sensor",
    "dead_time": "lambda sensor",
    "fuel_set": "fuel pressure",
    "rail_flow": "fuel pressure",
    "spring": "log",
    "idle_vacuum": "log",
    "gearing": "log",
    "boost_short": "log",
}


@pytest.mark.parametrize(("name", "value", "worse", "grade"), LIMITS, ids=[row[0] for row in LIMITS])
def test_limits(name: str, value: str | float, worse: str, grade: str | None) -> None:
    declared = CATALOGUE.limits[f"modifications.{name}"]
    expected = parse(value, declared.kind).value if isinstance(value, str) else value
    assert declared.value == pytest.approx(expected)
    assert (declared.worse, declared.grade, declared.mark) == (worse, grade, "judgement")
    assert "judgement" in declared.source


def test_no_limit_is_left_out() -> None:
    own = {id.partition(".")[2] for id in CATALOGUE.limits if id.startswith("modifications.")}
    assert own == {row[0] for row in LIMITS}


@pytest.mark.parametrize(("rule", "band"), TABLE, ids=["-".join(key) for key in TABLE])
def test_likelihood_ratios(rule: str, band: str) -> None:
    declared = CATALOGUE.rules[f"modifications.{rule}"]
    assert {cause: ratio for cause, ratio in declared.bands[band].items() if ratio != 1.0} == TABLE[rule, band]
    assert declared.source == "judgement"


def test_no_band_is_left_out() -> None:
    own = {
        (rule.name, band)
        for id, rule in CATALOGUE.rules.items()
        if id.startswith("modifications.")
        for band in rule.bands
    }
    assert own == set(TABLE)


@pytest.mark.parametrize(("rule", "group"), GROUPS.items(), ids=list(GROUPS))
def test_groups(rule: str, group: str) -> None:
    assert CATALOGUE.rules[f"modifications.{rule}"].group == group
    assert CATALOGUE.groups[group].per_sheet is (group in ("fuel pressure", "log"))


@pytest.mark.parametrize("name", [row[0] for row in LIMITS if row[3]])
def test_a_reading_at_its_limit_has_fired_and_one_on_the_good_side_has_not(name: str) -> None:
    limit = limits()[f"modifications.{name}"]
    u = limit.number * 1e-3
    good = limit.number + (-4 * u if limit.worse == "above" else 4 * u)
    assert limit.judge(limit.number, u).p_beyond == pytest.approx(0.5)
    assert limit.judge(good, u).p_beyond < 0.001


def test_every_channel_of_a_log_has_a_place() -> None:
    names = {field.name for field in POINTS}
    assert names >= {
        "region", "engine_speed", "vehicle_speed", "gear", "air_flow", "map", "charge_temp", "pulse_width",
        "pulse_includes_dead_time", "injector_voltage", "trim_short", "trim_long", "lambda_measured", "lambda_target",
        "rail_pressure", "pump_voltage", "boost_duty", "filter_dp", "exhaust_backpressure",
    }  # fmt: skip
    assert all(field.text for field in (*POINTS, *MIXTURE_RUN.fields))


@pytest.mark.parametrize(
    ("field", "value"),
    [("air_flow", "1600 g/s"), ("map", "5 kPa"), ("map", "510 kPa"), ("boost_duty", 1.2), ("trim_long", {1: "-120 %"})],
)
def test_impossible_values_are_refused(field: str, value: object) -> None:
    with pytest.raises(CaseError, match=field):
        case(mixture_run=[run(None, row={field: value})])
