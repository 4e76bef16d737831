"""What is seen and heard, the turbocharger's oil, oil temperature and film."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from oil_cases import ENGINE, View, case, engine, host, limits, look, sheet

from loadworthy.findings import Demand, Finding
from loadworthy_plugins.oil_system.judging import judge_case


def seen(vehicle: dict[str, Any] | None = None, **fields: Any) -> View:
    return look(vehicle, oil_look=[sheet(**fields)])


@pytest.mark.parametrize(
    ("level", "grade", "band"),
    [(-0.1, "stop", "low"), (0.0, "stop", "low"), (0.5, "clean", "between"), (1.4, "watch", "")],
)
def test_level(level: float, grade: str, band: str) -> None:
    found = seen(oil_level=level)
    assert found.grade("level") == ("clean" if level == 0.0 else grade)
    if level != 0.0:
        assert found.band("level") == band


def test_a_rising_level_is_fuel_or_coolant_until_proven_otherwise() -> None:
    rising = seen(oil_level=1.3, oil_level_trend="0.2 L/1000 km")
    assert rising.band("level_rising") == "rising"
    assert "oil-level-rises" in rising.symptoms()
    both = seen(oil_level=1.3, oil_level_trend="0.2 L/1000 km", coolant_level_falling=True)
    assert both.band("level_rising") == "rising_coolant_falling"
    assert seen(oil_level=0.6, oil_level_trend="0.2 L/1000 km").grade("level_rising") == "clean"
    assert seen(oil_level=1.3, oil_level_trend="-0.2 L/1000 km").symptoms() == set()


@pytest.mark.parametrize(
    ("use", "grade", "band"), [(0.2, "clean", "low"), (0.7, "watch", ""), (1.4, "fix_first", "high")]
)
def test_consumption(use: float, grade: str, band: str) -> None:
    found = seen(oil_consumption=f"{use} L/1000 km", oil_consumption_distance="1500 km")
    assert (found.grade("consumption"), found.band("consumption")) == (grade, band)


def test_a_short_run_shows_no_low_consumption() -> None:
    assert (
        "1 000 km"
        in seen(oil_consumption="0.1 L/1000 km", oil_consumption_distance="300 km").finding("consumption").unknown
    )
    high = seen(oil_consumption="1.6 L/1000 km")
    assert high.grade("consumption") == "watch"


@pytest.mark.parametrize(
    ("signs", "more", "grade", "band"),
    [
        (["pickup_screen_blocked"], {}, "stop", "screen_blocked"),
        (["hard_sludge"], {}, "fix_first", "hard_sludge"),
        (["dark_varnish"], {"oil_distance": "45000 km"}, "fix_first", "varnish_overdue"),
        (["dark_varnish"], {"oil_distance": "20000 km"}, "watch", ""),
        (["dark_varnish"], {}, "watch", ""),
        (["pickup_screen_clean"], {}, "clean", "screen_clean"),
        (["none"], {"filter_cut_open": "clean"}, "clean", "no_sign"),
        (["none"], {}, "clean", ""),
    ],
)
def test_sludge(signs: list[str], more: dict[str, Any], grade: str, band: str) -> None:
    found = seen(engine(oil_change_distance="15000 km"), sludge_signs=signs, **more)
    assert (found.grade("sludge"), found.band("sludge")) == (grade, band)


def test_cream_on_short_trips_is_condensation() -> None:
    assert seen(sludge_signs=["cap_cream"]).band("cap_cream") == "alone"
    harmless = engine(short_trips=True, coolant_loss=False)
    assert seen(harmless, sludge_signs=["cap_cream"]).band("cap_cream") == ""
    assert seen(harmless, sludge_signs=["cap_cream"], coolant_level_falling=True).band("cap_cream") == "alone"


@pytest.mark.parametrize(
    ("noise", "changes", "grade", "band"),
    [("none", None, "clean", ""), ("cold_rumble", None, "watch", ""), ("light_load_knock", True, "fix_first", ""),
     ("load_knock", None, "stop", ""), ("load_knock", True, "stop", "changes")],
)  # fmt: skip
def test_knock(noise: str, changes: bool | None, grade: str, band: str) -> None:
    found = seen(bearing_noise=noise, knock_changes_when_disabled=changes)
    assert (found.grade("knock"), found.band("knock")) == (grade, band)


def test_unknown_and_not_done_fire_and_clear_nothing() -> None:
    found = seen(bearing_noise="unknown", filter_cut_open="not_done", bearing_shells="not_checked")
    assert [r for r in found.results if isinstance(r, Finding)] == []


@pytest.mark.parametrize(
    ("word", "grade", "band"),
    [("flakes", "fix_first", "flakes"), ("glitter", "watch", ""), ("clean", "clean", "clean")],
)
def test_filter_cut_open(word: str, grade: str, band: str) -> None:
    found = seen(filter_cut_open=word)
    assert (found.grade("filter_cut"), found.band("filter_cut")) == (grade, band)


@pytest.mark.parametrize(
    ("field", "word", "rule", "grade", "band"),
    [("bearing_shells", "over", "shells", "stop", "over"),
     ("bearing_shells", "in_limits", "shells", "clean", "in_limits"),
     ("pump_seen", "worn", "pump", "fix_first", "worn"), ("pickup_seen", "faulty", "pick_up", "fix_first", "faulty"),
     ("pickup_seen", "sound", "pick_up", "clean", "sound"),
     ("relief_valve_seen", "stuck_open", "relief_valve", "fix_first", "stuck_open"),
     ("relief_valve_seen", "free", "relief_valve", "clean", "free")],
)  # fmt: skip
def test_parts_with_the_sump_off(field: str, word: str, rule: str, grade: str, band: str) -> None:
    found = seen(**{field: word})
    assert (found.grade(rule), found.band(rule)) == (grade, band)


# Turbocharger ---------------------------------------------------------------------------------------------------------

PLAIN = engine(turbo_bearing_kind="plain")


def turbo(vehicle: dict[str, Any] | None = None, **fields: Any) -> View:
    return look(vehicle or PLAIN, turbo_oil=[sheet(**fields)])


def test_feed_of_plain_bearings() -> None:
    sound = turbo(turbo_feed_idle="1.4 bar", turbo_feed_pressure="3.2 bar", gallery_pressure="3.8 bar")
    assert (sound.grade("turbo_feed"), sound.band("turbo_feed")) == ("clean", "sound")
    low = turbo(turbo_feed_pressure="1.2 bar", gallery_pressure="3.8 bar")
    assert (low.grade("turbo_feed"), low.band("turbo_feed")) == ("fix_first", "low")
    assert turbo(turbo_feed_pressure="1.2 bar").band("turbo_feed") == "low_gallery_unknown"
    # With a gallery as short, the fault lies before the line.
    assert turbo(turbo_feed_pressure="1.2 bar", gallery_pressure="1.3 bar").band("turbo_feed") == ""
    # Idle alone clears nothing.
    assert turbo(turbo_feed_idle="1.4 bar").grade("turbo_feed") == "unknown"


def test_unknown_bearings_give_watch_at_most_and_clear_nothing() -> None:
    bare = engine()
    assert turbo(bare, turbo_feed_pressure="1.0 bar").grade("turbo_feed") == "watch"
    assert turbo(bare, turbo_feed_pressure="3.2 bar").grade("turbo_feed") == "unknown"


def test_feed_of_ball_bearings_can_be_too_much() -> None:
    # Makers' guidance: 40 to 45 psi after a restrictor of about 1.0 mm.
    ball = engine(turbo_bearing_kind="ball")
    assert turbo(ball, turbo_feed_pressure="4.2 bar").grade("turbo_feed_high") == "watch"
    assert turbo(ball, turbo_feed_pressure="2.4 bar").grade("turbo_feed_high") == "clean"
    assert not turbo(ball, turbo_feed_pressure="2.4 bar").has("turbo_feed")


def test_two_banks_need_to_say_which() -> None:
    vee = engine(turbo_bearing_kind="plain", cylinder_banks=[[1, 2, 3], [4, 5, 6]])
    named = turbo(vee, bank=2, turbo_feed_pressure="1.2 bar", gallery_pressure="3.8 bar")
    assert [f.subject for f in named.all("turbo_feed")] == ["bank 2"]
    unnamed = turbo(vee, turbo_feed_pressure="3.2 bar", gallery_pressure="3.8 bar")
    assert [f.subject for f in unnamed.all("turbo_feed")] == ["bank 1", "bank 2"]
    assert {unnamed.grade("turbo_feed", i) for i in (0, 1)} == {"unknown"}
    assert "turbo_bank" in unnamed.gaps()


@pytest.mark.parametrize(
    ("fields", "grade", "band"),
    [({"turbo_drain_seen": "restricted"}, "fix_first", "restricted"),
     ({"blue_smoke": True, "crankcase_pressure_high": True}, "watch", "smoke_and_pressure"),
     ({"turbo_drain_seen": "clear", "blue_smoke": True, "crankcase_pressure_high": True}, "watch",
      "smoke_and_pressure"),
     ({"turbo_drain_fall": False}, "watch", ""),
     ({"turbo_drain_seen": "clear"}, "clean", "clear"),
     ({"blue_smoke": False, "crankcase_pressure_high": False}, "clean", "quiet"),
     ({"blue_smoke": True, "crankcase_pressure_high": False}, "unknown", "")],
)  # fmt: skip
def test_drain(fields: dict[str, Any], grade: str, band: str) -> None:
    found = turbo(**fields)
    assert (found.grade("turbo_drain"), found.band("turbo_drain")) == (grade, band)


def test_a_coked_line() -> None:
    assert turbo(turbo_feed_line="coked").band("turbo_line") == "coked"
    assert not turbo(turbo_feed_line="not_checked").has("turbo_line")


# Heat and film --------------------------------------------------------------------------------------------------------

STEADY = {"oil_temp_rate": "0.3 K", "power_at_oil_temp": "165 kW", "coolant_temp": "88 degC"}
TORQUE = {"2000 rpm": "280 N m", "4000 rpm": "300 N m", "5500 rpm": "260 N m"}
DRIVEN = {
    **ENGINE,
    "displacement": "1998 cm3",
    "cylinder_count": 4,
    "oil_cooler": "water_oil",
    "base_torque_measured": TORQUE,
    "standard_torque": TORQUE,
}
PLAN = {"torque": {"2000 rpm": "330 N m", "4000 rpm": "360 N m", "5500 rpm": "310 N m"}}


def planned(
    vehicle: dict[str, Any] | None = None, plan: dict[str, Any] | None = None, **tables: Any
) -> tuple[View, Demand]:
    """Return the check's view with the demand that it extends."""
    made = case(vehicle or DRIVEN, plan or PLAN, **tables)
    supplied = host().demand(made).demand
    assert supplied is not None
    demand = host().extend_demand(made, supplied).demand
    assert demand is not None
    return View(made, judge_case(made, demand, limits())), demand


def heat(celsius: float, vehicle: dict[str, Any] | None = None, **changed: Any) -> View:
    return look(vehicle or DRIVEN, oil_heat=[sheet(oil_temp_sustained=f"{celsius} degC", **{**STEADY, **changed})])


@pytest.mark.parametrize(
    ("celsius", "grade", "band"),
    [(105, "clean", "below"), (128, "watch", "watch"), (142, "fix_first", "fix"), (158, "stop", "fix")],
)
def test_sustained_oil_temperature(celsius: float, grade: str, band: str) -> None:
    found = heat(celsius)
    assert (found.grade("heat"), found.band("heat")) == (grade, band)


@pytest.mark.parametrize(
    "changed", [{"oil_temp_rate": "3 K"}, {"oil_temp_rate": None}, {"oil_temp_rate": None, "held": "1 min"}]
)
def test_what_has_not_settled_clears_nothing_and_still_convicts(changed: dict[str, Any]) -> None:
    assert heat(105, **changed).grade("heat") == "unknown"
    assert heat(105, **changed).bands("heat").get("below", 0.0) == 0.0
    assert heat(142, **changed).grade("heat") == "fix_first"


def test_three_minutes_held_are_steady() -> None:
    assert heat(105, oil_temp_rate=None, held="8 min").grade("heat") == "clean"


def test_planned_power_and_its_ceiling() -> None:
    # Oil 121 degC at 165 kW, coolant 88: 156.8 kW keep 120 degC.
    found, _ = planned(oil_heat=[sheet(oil_temp_sustained="121 degC", **STEADY)])
    ceiling = found.ceilings()["oil_heat"]
    assert (ceiling.quantity, ceiling.until) == ("power", "steady-load-log")
    assert ceiling.value / 1e3 == pytest.approx(156.8, abs=0.2)
    assert found.grade("heat_plan") == "watch"
    cool, _ = planned(oil_heat=[sheet(oil_temp_sustained="98 degC", **STEADY)])
    assert cool.grade("heat_plan") == "clean"


def test_an_unknown_cooler_takes_the_hotter_result() -> None:
    run = sheet(oil_temp_sustained="115 degC", ambient_temp="10 degC", **STEADY)

    def hottest(cooler: str) -> float:
        found, _ = planned({**DRIVEN, "oil_cooler": cooler}, oil_heat=[run])
        return float(found.step("heat_plan", "expected, the other end"))

    assert hottest("unknown") == max(hottest("air_oil"), hottest("water_oil"))
    # On a hot day of 40 degC air carries less away than on the day of the run.
    assert hottest("air_oil") > hottest("water_oil")


def test_oil_no_hotter_than_its_coolant_has_not_settled() -> None:
    found, _ = planned(oil_heat=[sheet(oil_temp_sustained="88 degC", **STEADY)])
    assert "not settled" in found.finding("heat_plan").unknown


def test_film_load_of_a_plan() -> None:
    found, demand = planned()
    band = demand.quantities["film_load"]
    i = demand.speeds.index(2000 / 60)
    j = demand.torque[i].index(demand.plan[i])
    # Same oil and temperature: torque over speed against the least of the standard engine, 2 000 rpm at 280 N m.
    assert band.nominal[i][j] == pytest.approx(330 / 280, rel=1e-6)
    assert band.low[i][j] < band.nominal[i][j] < band.high[i][j]
    assert found.grade("film") in ("clean", "watch")
    ceiling = found.ceilings()["film"]
    assert (ceiling.quantity, ceiling.value) == ("film_load", pytest.approx(1 / 0.80))
    assert any("oil temperature for the film" in a.what for a in demand.assumptions)


def test_film_load_rises_with_torque_everywhere() -> None:
    for tables in ({}, {"oil_heat": [sheet(oil_temp_sustained="112 degC", **STEADY)]}):
        _, demand = planned(**tables)
        for row in demand.quantities["film_load"].nominal:
            assert all(a < b for a, b in pairwise(row))


def test_a_hotter_plan_thins_the_film() -> None:
    def worst(**tables: Any) -> float:
        found, _ = planned(**tables)
        return float(found.step("film", "film index over the reference"))

    assert worst(oil_heat=[sheet(oil_temp_sustained="115 degC", **{**STEADY, "power_at_oil_temp": "140 kW"})]) < worst()


def test_thin_and_thinned_oil_thin_the_film() -> None:
    def worst(**fields: Any) -> float:
        found, _ = planned(oil_sample=[sheet(**fields)])
        return float(found.step("film", "film index over the reference"))

    right = worst(oil_grade_filled="5W-30")
    assert worst(oil_grade_filled="0W-20") < right < worst(oil_grade_filled="10W-60")
    assert worst(oil_grade_filled="5W-30", hths150="2.4 mPa s") < right
    thinned = worst(oil_grade_filled="5W-30", kv100="10.8 mm2/s", used_kv100="8.0 mm2/s")
    assert thinned == pytest.approx(right * 8.0 / 10.8, rel=1e-6)
    # Thickening by soot carries no load.
    assert worst(oil_grade_filled="5W-30", kv100="10.8 mm2/s", used_kv100="13.0 mm2/s") == pytest.approx(right)


def test_without_a_grade_there_is_no_film_load_and_it_is_said() -> None:
    bare = {key: value for key, value in DRIVEN.items() if key != "oil_grade_spec"}
    found, demand = planned(bare)
    assert "film_load" not in demand.quantities
    assert "film_unknown" in found.gaps()


def test_without_standard_torque_today_stands_for_it() -> None:
    bare = {key: value for key, value in DRIVEN.items() if key != "standard_torque"}
    _, demand = planned(bare)
    assert any("standard engine" in a.what for a in demand.assumptions)
    assert "film_load" in demand.quantities


def test_how_it_is_driven_speaks_for_fuel_in_the_oil() -> None:
    assert look(engine(fuel_system="direct", short_trips=True)).band("dilution_history") == "so"
    assert look(engine(fuel="diesel_b7", interrupted_regenerations=True)).band("dilution_history") == "so"
    assert not look(engine(fuel_system="direct")).has("dilution_history")
    assert not look(engine(fuel="diesel_b7", fuel_system="direct", short_trips=True)).has("dilution_history")


_ORDER = ("clean", "unknown", "note", "watch", "fix_first", "stop")


@given(st.floats(90, 160), st.floats(0, 20))
@settings(max_examples=30, deadline=None)
def test_hotter_oil_never_grades_milder_nor_allows_more(celsius: float, more: float) -> None:
    def of(t: float) -> View:
        return planned(oil_heat=[sheet(oil_temp_sustained=f"{t:.3f} degC", **STEADY)])[0]

    one, other = of(celsius), of(celsius + more)
    for rule in ("heat", "heat_plan"):
        assert _ORDER.index(other.grade(rule)) >= _ORDER.index(one.grade(rule))
    low, high = (c.value if c.quantity == "power" else 0.0 for c in (v.ceilings()["oil_heat"] for v in (other, one)))
    assert low <= high * (1 + 1e-12)
