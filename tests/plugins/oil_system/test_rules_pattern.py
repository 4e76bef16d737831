"""Shapes of the pressures: droop, flutter, plateau, cold start, surge; the sender, the filter, the gallery, stages."""

from __future__ import annotations

import pytest
from oil_cases import SOUND, View, engine, look, points, pressures, scaled, sheet, spec, sweep

#: Pressure falls from 4 500 rpm up, relief valve at 4.0 bar.
FALLING = {800: 1.5, 3000: 3.1, 4500: 3.95, 5500: 3.4, 6500: 3.0}
AT_4 = engine(record=False, relief_pressure="4.0 bar")
COLD = [{"rpm": "2000 rpm", "pressure": "4.4 bar", "oil_temp": "20 degC"}]


def test_a_droop_is_a_suction_limit() -> None:
    found = pressures(FALLING, AT_4)
    assert found.grade("droop") == "fix_first"
    assert found.band("droop") == "droops_idle_low"
    assert found.ceilings()["rpm_droop"].value * 60 == pytest.approx(4000)
    lower = pressures({**FALLING, 4500: 3.12}, AT_4)
    assert lower.ceilings()["rpm_droop"].value * 60 == pytest.approx(2500)


def test_with_a_sound_idle_a_droop_speaks_against_the_bearings() -> None:
    record = engine(relief_pressure="4.5 bar")
    assert pressures({800: 1.6, 2000: 3.2, 3000: 4.4, 5500: 3.2}, record).band("droop") == "droops"


def test_without_a_relief_setting_no_droop_is_no_evidence() -> None:
    found = pressures(vehicle=engine(relief_pressure=None))
    assert found.grade("droop") == "unknown"
    assert pressures().grade("droop") == "clean"


def test_regulated_pumps_do_not_droop() -> None:
    assert not pressures(FALLING, engine(record=False, oil_pump_kind="variable")).has("droop")


@pytest.mark.parametrize(("scatter", "grade"), [("2 kPa", "clean"), ("50 kPa", "watch"), (None, "")])
def test_flutter(scatter: str | None, grade: str) -> None:
    rows = points(SOUND)
    for row in rows:
        row["std"] = scatter
    rows = [{key: value for key, value in row.items() if value is not None} for row in rows]
    found = look(oil_pressure=[sweep(rows=rows)])
    assert (found.grade("flutter") if found.has("flutter") else "") == grade
    assert ("scatter" in found.advice()) == (scatter is None)


def test_a_low_plateau_is_judged_not_skipped() -> None:
    low = {800: 1.5, 2000: 2.9, 3500: 2.95, 5500: 3.0}
    assert pressures(low, engine(record=False)).grade("plateau_low") == "watch"
    assert pressures(low, engine(record=False, relief_pressure=None)).grade("plateau_low") == "unknown"
    assert (
        pressures({**low, 2000: 2.1, 3500: 2.15, 5500: 2.2}, engine(record=False, relief_pressure=None)).grade(
            "plateau_low"
        )
        == "watch"
    )


@pytest.mark.parametrize(
    ("cold", "band", "grade"),
    [(4.4, "normal", "clean"), (2.0, "far_below", "watch"), (3.7, "", "clean")],
)
def test_cold_pressure_against_the_relief_setting(cold: float, band: str, grade: str) -> None:
    rows = [{"rpm": "2000 rpm", "pressure": f"{cold} bar", "oil_temp": "20 degC"}]
    found = pressures(cold_start_points=rows)
    assert found.band("cold_pressure") == band or not band
    assert found.grade("cold_pressure") == grade


def test_a_warm_or_fast_cold_start_says_nothing() -> None:
    for rows in (
        [{"rpm": "2000 rpm", "pressure": "2 bar", "oil_temp": "60 degC"}],
        [{"rpm": "3500 rpm", "pressure": "2 bar", "oil_temp": "20 degC"}],
        [{"rpm": "2000 rpm", "pressure": "2 bar"}],
    ):
        assert pressures(cold_start_points=rows).finding("cold_pressure").unknown
    assert pressures(vehicle=engine(relief_pressure=None), cold_start_points=COLD).finding("cold_pressure").unknown


def test_a_relief_valve_stuck_shut_shows_cold() -> None:
    high = [{"rpm": "2000 rpm", "pressure": "7.5 bar", "oil_temp": "20 degC"}]
    found = pressures(cold_start_points=high)
    assert (found.grade("plateau_high"), found.band("plateau_high")) == ("watch", "cold")
    assert pressures(cold_start_points=COLD).band("plateau_high") == "cold_at_relief"
    assert not pressures().has("plateau_high")


@pytest.mark.parametrize(("seconds", "grade"), [(2, "clean"), (9, "watch")])
def test_time_to_pressure(seconds: float, grade: str) -> None:
    found = pressures(time_to_pressure=f"{seconds} s")
    assert found.grade("build_time") == grade
    assert (found.band("build_time") == "slow") == (grade == "watch")


def test_surge_speaks_only_with_a_low_level() -> None:
    assert pressures(pressure_surge="none").grade("surge") == "clean"
    assert not pressures(pressure_surge="unknown").has("surge")
    full = pressures(pressure_surge="cornering_or_braking", oil_level=0.9)
    assert (full.grade("surge"), full.bands("surge")) == ("watch", {})
    assert pressures(pressure_surge="cornering_or_braking", oil_level=-0.1).band("surge") == "level_low"


# Sender ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gauge", "sender", "band", "grade"),
    [
        ("3.0 bar", "3.1 bar", "agrees", "clean"),
        ("3.0 bar", "2.3 bar", "gauge_normal", "fix_first"),
        ("1.0 bar", "2.0 bar", "gauge_low", "fix_first"),
        # A tenth of the gauge where that is more than 20 kPa.
        ("4.0 bar", "4.35 bar", "agrees", "clean"),
    ],
)
def test_sender_against_gauge(gauge: str, sender: str, band: str, grade: str) -> None:
    found = pressures(mechanical_gauge_pressure=gauge, sender_pressure=sender)
    assert (found.band("sender_disagree"), found.grade("sender_disagree")) == (band, grade)


def test_a_sender_that_reads_absolute_pressure() -> None:
    found = pressures(sender_engine_off="1.0 bar")
    assert "absolute pressure" in found.finding("sender_zero").text
    assert found.grade("sender_zero") == "watch"
    assert pressures(sender_engine_off="0.03 bar").grade("sender_zero") == "clean"


def test_points_of_a_failed_sender_are_struck_and_low_ones_keep_their_stop() -> None:
    by_sender = points(scaled(0.15), source="sender_log")
    failed = {"mechanical_gauge_pressure": "3.2 bar", "sender_pressure": "1.0 bar"}
    found = look(engine(record=False), oil_pressure=[sweep(rows=by_sender, **failed)])
    assert found.grade("absolute_min") == "stop"
    assert "gauge" in found.gaps()
    assert found.covered().state == "unknown"
    sound = look(engine(record=False), oil_pressure=[sweep(rows=points(SOUND, source="sender_log"), **failed)])
    assert sound.grade("absolute_min") == "unknown"
    with_gauge = look(engine(record=False), oil_pressure=[sweep(rows=by_sender + points(SOUND), **failed)])
    assert with_gauge.grade("absolute_min") == "clean"
    assert "gauge" not in with_gauge.gaps()


def test_filter_drop() -> None:
    assert pressures(pressure_before_filter="4.5 bar", pressure_after_filter="3.4 bar").band("filter_drop") == "over"
    found = pressures(pressure_before_filter="4.5 bar", pressure_after_filter="4.4 bar")
    assert (found.grade("filter_drop"), found.band("filter_drop")) == ("clean", "below_half")
    cold = pressures(temperature=50.0, pressure_before_filter="4.5 bar", pressure_after_filter="3.0 bar")
    assert (cold.grade("filter_drop"), cold.band("filter_drop")) == ("watch", "")


def test_far_gallery() -> None:
    assert pressures(gallery_pressure="4.0 bar", far_gallery_pressure="3.9 bar").band("far_gallery") == "near"
    assert pressures(gallery_pressure="4.0 bar", far_gallery_pressure="2.8 bar").grade("far_gallery") == "watch"


# Stages ---------------------------------------------------------------------------------------------------------------

FIGURES = spec({750: 0.8, 3000: 1.2}, stage="low", max="2.2 bar")
FIGURES += spec({2000: 2.6, 6000: 2.9}, stage="high", max="4.2 bar")
TWO = engine(record=False, oil_pump_kind="two_stage", relief_pressure=None, oil_pressure_spec=FIGURES)


def stages(low: float, high: float) -> View:
    rows = points({750: low, 2000: low}, 95.0, commanded_stage="low")
    rows += points({3000: high, 6000: high}, 97.0, commanded_stage="high")
    return look(TWO, oil_pressure=[sweep(rows=rows)])


@pytest.mark.parametrize(
    ("low", "high", "band", "grade"),
    [
        (1.6, 3.4, "reached", "clean"),
        (1.6, 1.8, "high_not_reached", "fix_first"),
        (3.4, 3.4, "stuck_high", "watch"),
    ],
)
def test_commanded_stages(low: float, high: float, band: str, grade: str) -> None:
    found = stages(low, high)
    assert (found.band("stages"), found.grade("stages")) == (band, grade)


def test_a_commanded_pressure_is_a_set_point_too() -> None:
    vehicle = engine(record=False, oil_pump_kind="variable", relief_pressure=None)
    rows = points({750: 1.5, 3000: 2.0}, 95.0, commanded_stage="low", commanded_pressure="1.6 bar")
    rows += points({3000: 3.4, 6000: 3.5}, 97.0, commanded_stage="high", commanded_pressure="3.5 bar")
    assert look(vehicle, oil_pressure=[sweep(rows=rows)]).finding("stages").bands.get("stuck_high", 0.0) > 0.0
    assert look(vehicle, oil_pressure=[sweep(rows=points(SOUND))]).finding("stages").unknown


# Ceilings -------------------------------------------------------------------------------------------------------------


def test_the_first_short_speed_is_the_ceiling() -> None:
    # 1.8 bar at 2 000 and 3.4 bar at 6 000 rpm asked for, linear; 2.6 bar held from 3 000 rpm up: short from 4 000.
    vehicle = engine(record=False, minimum=True, relief_pressure=None)
    found = pressures({800: 1.6, 2000: 2.4, 3000: 2.6, 5900: 2.6}, vehicle)
    assert found.ceilings()["rpm_maker"].value * 60 == pytest.approx(4000, rel=0.01)


def test_short_at_the_lowest_point_allows_no_raise() -> None:
    ceiling = pressures({**SOUND, 800: 0.5}, engine(record=False, minimum=True)).ceilings()["rpm_maker"]
    assert (ceiling.quantity, ceiling.value) == ("torque", "as_received")


def test_rule_of_thumb_is_advisory() -> None:
    low = {800: 1.2, 2000: 2.0, 3000: 2.3, 6500: 3.0}
    found = pressures(low, engine(record=False, relief_pressure=None))
    assert found.ceilings()["rpm_rule"].kind == "advisory"


def test_what_was_not_measured_is_no_more_than_as_received() -> None:
    plan = {"engine_speed_limit": "7000 rpm"}
    found = look(engine(record=False, relief_pressure=None), plan=plan, oil_pressure=[sweep(scaled(0.8))])
    ceiling = found.ceilings()["rpm_unmeasured"]
    assert (ceiling.origin, ceiling.basis) == ("gap", "demonstrated")
    assert ceiling.value * 60 == pytest.approx(5500)
    assert "top_speed" in found.gaps()
    # At the relief setting the pressure is known to stay.
    assert "rpm_unmeasured" not in look(engine(record=False), plan=plan, oil_pressure=[sweep()]).ceilings()


def test_flakes_hold_until_the_sump_was_off() -> None:
    ceiling = look(oil_look=[sheet(filter_cut_open="flakes")]).ceilings()["flakes"]
    assert (ceiling.value, ceiling.until) == ("as_received", "sump-off-inspection")
