"""Oil pressure against maker, record, trade and physics."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from oil_cases import SOUND, engine, look, points, pressures, register, scaled, spec, sweep

MADE = engine(record=False, minimum=True)
BARE = engine(record=False)


def test_a_sound_engine_passes_everything() -> None:
    found = pressures(vehicle=engine(minimum=True))
    for rule in ("maker_min", "leak_index", "physics_floor", "rule_of_thumb", "droop", "flutter"):
        assert found.grade(rule) == "clean", rule
    assert found.symptoms() == set()
    assert found.covered().state == "met"
    assert found.covered("oil_viscosity").state == "met"


def test_below_the_makers_least_is_a_stop_and_a_symptom() -> None:
    found = pressures(scaled(0.4), MADE)
    assert found.grade("maker_min") == "stop"
    assert found.symptoms() == {"oil-pressure-low-hot"}
    # The maker's figure covers idle: no rule of the trade for a hot idle is used beside it.
    assert not found.has("hot_idle")


def test_the_worst_point_judges_not_the_mean() -> None:
    found = pressures({**SOUND, 2000: 1.2}, MADE)
    assert found.grade("maker_min") == "stop"
    assert "2000 rpm" in found.finding("maker_min").text


def test_thick_oil_does_not_pass_a_worn_engine() -> None:
    worn = {800: 0.95, 2000: 2.0, 3000: 2.5, 5500: 4.2}
    thick = {"used_kv40": "160 mm2/s", "used_kv100": "23 mm2/s", "oil_grade_filled": "10W-60"}
    assert pressures(worn, MADE).grade("maker_min") != "stop"
    assert pressures(worn, MADE, **thick).grade("maker_min") == "stop"


def test_thin_oil_excuses_no_pressure_that_it_runs_on() -> None:
    # With the oil that the maker asks for the engine would hold pressure; with the one that is in it does not.
    low = {800: 0.6, 2000: 1.4, 3000: 2.0, 5500: 3.2}
    thin = {"used_kv40": "30 mm2/s", "used_kv100": "6.0 mm2/s", "oil_grade_filled": "5W-30"}
    assert pressures(low, MADE, **thin).grade("maker_min") == "stop"


def test_hotter_oil_is_allowed_for() -> None:
    # Oil at 118 instead of 100 degC has about two thirds of the viscosity: 1.35 bar at 2 000 rpm are 1.8 bar then.
    hot = {800: 0.75, 2000: 1.55, 3000: 2.2, 5500: 3.6}
    assert pressures(hot, MADE, temperature=118.0).grade("maker_min") not in ("stop", "fix_first")
    assert pressures(hot, MADE, temperature=100.0).grade("maker_min") == "stop"


def test_far_from_the_reference_temperature_nothing_passes_but_raw_limits_convict() -> None:
    cool = pressures(SOUND, MADE, temperature=59.0)
    assert cool.grade("maker_min") == "unknown"
    assert cool.covered().state == "unknown"
    assert "oil_temperature" in cool.gaps()
    assert pressures({**SOUND, 800: 0.3}, BARE, temperature=59.0).grade("absolute_min") == "stop"


@pytest.mark.parametrize(("bar", "grade"), [(0.30, "stop"), (0.45, "watch"), (0.70, "clean")])
def test_absolute_minimum_where_no_maker_speaks(bar: float, grade: str) -> None:
    # A maker's service manual: 41 kPa in any condition.
    assert pressures({**SOUND, 800: bar}, BARE).grade("absolute_min") == grade


def test_the_absolute_minimum_is_for_points_that_no_maker_covers() -> None:
    found = pressures(SOUND, MADE)
    assert not found.has("absolute_min")


@pytest.mark.parametrize(("bar", "grade"), [(0.40, "fix_first"), (0.60, "watch"), (1.2, "clean")])
def test_hot_idle_by_the_trade(bar: float, grade: str) -> None:
    # Common practice: 70 kPa to be watched, 50 kPa to be put right first, at 100 degC.
    assert pressures({**SOUND, 800: bar}, BARE).grade("hot_idle") == grade


def test_rule_of_thumb_is_a_note_and_only_for_fixed_pumps() -> None:
    low = scaled(0.5)
    assert pressures(low, BARE).grade("rule_of_thumb") == "note"
    for kind in ("two_stage", "variable", "unknown", None):
        assert not pressures(low, engine(record=False, oil_pump_kind=kind)).has("rule_of_thumb")


def test_an_unknown_pump_gives_watch_at_most_and_is_asked_for() -> None:
    found = pressures({**SOUND, 800: 0.42}, engine(record=False, oil_pump_kind=None))
    assert found.grade("hot_idle") == "watch"
    assert "pump_kind" in found.gaps()


def test_the_makers_greatest_pressure() -> None:
    vehicle = engine(record=False, oil_pressure_spec=spec({2000: 1.5, 4000: 2.0}, max="3.0 bar"), relief_pressure=None)
    assert pressures(SOUND, vehicle).grade("maker_max") == "watch"
    assert pressures(scaled(0.6), vehicle).grade("maker_max") == "clean"


def test_figures_are_not_stretched_beyond_their_speeds() -> None:
    # Up to 500 rpm beyond the last figure it is held, further on it says nothing.
    vehicle = engine(record=False, oil_pressure_spec=spec({2000: 3.0, 3000: 3.5}))
    assert "3000 rpm" in pressures({**SOUND, 3000: 2.0}, vehicle).finding("maker_min").text
    beyond = pressures({**SOUND, 5500: 1.0}, vehicle)
    assert "5500 rpm" not in beyond.finding("maker_min").text
    assert "5500 rpm" in beyond.finding("absolute_min").text


def test_own_record_asks_for_four_fifths_where_no_maker_speaks() -> None:
    # With the oil and temperature of the record: 0.8 of 3.2 bar at 2 000 rpm is 2.56 bar.
    vehicle = engine(relief_pressure=None)
    assert pressures({**SOUND, 2000: 2.2}, vehicle).grade("record_share") == "note"
    assert pressures({**SOUND, 2000: 3.0}, vehicle).grade("record_share") == "clean"


def test_oil_reaches_the_crank_axis() -> None:
    # 232 kPa are needed at 6 200 rpm with a radius of 28 mm (rigid rotation and a margin).
    rows = {800: 1.6, 2000: 3.2, 3000: 3.9, 6200: 2.0}
    assert pressures(rows, BARE).grade("physics_floor") == "fix_first"
    assert pressures({**rows, 6200: 2.7}, BARE).grade("physics_floor") == "clean"
    covered = engine(record=False, oil_pressure_spec=spec({800: 0.6, 6200: 1.5}))
    assert pressures(rows, covered).grade("physics_floor") == "note"


def test_no_correction_at_the_relief_setting() -> None:
    # Cold oil at its relief pressure: bringing it to 100 degC would take pressure away that the valve sets.
    vehicle = engine(record=False, oil_pressure_spec=spec({800: 0.8, 5000: 4.2}))
    rows = points({800: 2.4, 2000: 3.9}, 85.0) + points({3000: 4.5, 5000: 4.5}, 82.0)
    assert look(vehicle, oil_pressure=[sweep(rows=rows)]).grade("maker_min") != "stop"


def test_a_correction_lifts_no_pressure_above_the_relief_setting() -> None:
    vehicle = engine(record=False, oil_pressure_spec=spec({800: 0.8, 5500: 4.4}))
    hot = pressures({800: 1.2, 2000: 2.4, 3000: 3.0, 5500: 3.9}, vehicle, temperature=125.0)
    assert hot.grade("maker_min") in ("stop", "watch")


def test_a_regulated_pump_is_judged_as_read_by_its_stage() -> None:
    figures = spec({750: 0.8, 3000: 1.2}, stage="low") + spec({2000: 2.6, 6000: 2.9}, stage="high")
    vehicle = engine(record=False, oil_pump_kind="two_stage", relief_pressure=None, oil_pressure_spec=figures)
    rows = points({750: 1.4, 2000: 1.6}, 95.0, commanded_stage="low")
    high = points({3000: 3.3, 6000: 3.4}, 98.0, commanded_stage="high")
    assert look(vehicle, oil_pressure=[sweep(rows=rows + high)]).grade("maker_min") == "clean"
    low_high = points({3000: 1.7, 6000: 1.8}, 98.0, commanded_stage="high")
    found = look(vehicle, oil_pressure=[sweep(rows=rows + low_high)])
    assert found.grade("maker_min") == "stop"
    assert found.finding("leak_index").unknown


def test_us_units_say_the_same() -> None:
    bars = pressures(scaled(0.5), MADE).finding("maker_min")
    rows = points({n: {"pressure": f"{p * 14.503773773:.6f} psi"} for n, p in scaled(0.5).items()}, None)
    for row in rows:
        row["oil_temp"] = "212 degF"
    psi = look(MADE, oil_pressure=[sweep(rows=rows)]).finding("maker_min")
    assert psi.verdicts[0].p_beyond == pytest.approx(bars.verdicts[0].p_beyond, abs=1e-6)


def test_a_missing_point_of_the_minimum_set_exonerates_nothing() -> None:
    for speed in SOUND:
        left = {n: p for n, p in SOUND.items() if n != speed}
        found = pressures(left)
        assert any(gap.startswith("point.") for gap in found.gaps()), speed
        assert found.grade("leak_index") == "unknown"
        assert "clear_measured" not in found.bands("leak_index")
        assert found.covered().state == "unknown"


def test_two_strokes_are_not_covered() -> None:
    found = pressures(SOUND, engine(engine_cycle="two_stroke"))
    assert found.covered().state == "not_applicable"
    assert len(found.results) == 2


def test_without_a_sheet_the_rows_are_absent() -> None:
    assert look().covered().state == "absent"
    assert look().covered("oil_viscosity").state == "absent"


def test_a_point_without_temperature_is_not_hot() -> None:
    found = pressures(SOUND, MADE, temperature=None)
    assert "oil_temperature" in found.gaps()
    assert found.grade("maker_min") == "unknown"


_ORDER = ("clean", "unknown", "note", "watch", "fix_first", "stop")


@given(
    st.sampled_from(sorted(SOUND)), st.floats(0.1, 1.0), st.floats(0.3, 1.0), st.sampled_from(["record", "minimum", ""])
)
@settings(max_examples=60, deadline=None)
def test_a_lower_pressure_never_grades_milder(speed: int, factor: float, all_of: float, kind: str) -> None:
    vehicle = engine(record=kind == "record", minimum=kind == "minimum")
    before = {n: p * all_of for n, p in SOUND.items()}
    after = {**before, speed: before[speed] * factor}
    for rule in ("maker_min", "absolute_min", "hot_idle", "record_share", "rule_of_thumb", "physics_floor"):
        one, other = pressures(before, vehicle), pressures(after, vehicle)
        if one.has(rule):
            assert _ORDER.index(other.grade(rule)) >= _ORDER.index(one.grade(rule)), rule


def test_the_core_takes_every_result() -> None:
    found = register(engine(minimum=True), oil_pressure=[sweep(scaled(0.45))])
    assert found.outcome in ("hold", "incomplete")
    assert any(r.id == "crankshaft-bearing-clearance" for r in found.risks)
