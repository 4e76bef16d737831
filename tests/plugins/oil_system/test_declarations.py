"""What this check declares: every limit with value, side, grade and mark, and every likelihood ratio."""

from __future__ import annotations

import pytest
from oil_cases import engine, host, limits, look, points, sheet, sweep

from loadworthy.units import parse

CATALOGUE = host().catalogue
J, T, P = "judgement", "common practice, no source", "published"

#: Name, value with its unit ("" for numbers), side on which it is exceeded, grade, mark.
LIMITS = [
    ("oil_p_absolute_min", "40 kPa", "below", "stop", P),  # a maker's service manual: 41 kPa in any condition
    ("oil_p_hot_idle_low_watch", "70 kPa", "below", "watch", T),
    ("oil_p_hot_idle_low_fix", "50 kPa", "below", "fix_first", T),
    ("oil_p_rule_slope", "68.95 kPa/1000 rpm", "below", "note", T),  # 10 psi
    ("oil_p_history_share", 0.8, "below", "note", J),
    ("oil_p_floor_margin", "100 kPa", "setting", None, J),
    ("leak_index_ratio_low_watch", 0.80, "below", "watch", J),
    ("leak_index_ratio_low_fix", 0.65, "below", "fix_first", J),
    ("leak_index_ratio_high", 1.35, "above", "watch", J),
    ("leak_index_ratio_speaks", 0.75, "setting", None, J),
    ("leak_index_ratio_clear_record", 0.85, "setting", None, J),
    ("leak_index_ratio_clear_minimum", 1.25, "setting", None, J),
    ("plateau_high", 1.25, "above", "watch", J),
    ("plateau_low", 0.80, "below", "watch", J),
    ("plateau_low_unknown", "250 kPa", "below", "watch", J),
    ("cold_far_below", 0.75, "setting", None, J),
    ("cold_normal", 0.90, "setting", None, J),
    ("flutter_max", 0.10, "above", "watch", J),
    ("droop_max", 0.10, "above", "fix_first", J),
    ("time_to_pressure_max", "5 s", "above", "watch", T),
    ("sender_disagree", "20 kPa", "above", "fix_first", J),
    ("sender_disagree_share", 0.10, "setting", None, J),
    ("sender_zero", "10 kPa", "above", "watch", J),
    ("filter_drop_max", "80 kPa", "above", "fix_first", T),
    ("gallery_drop_max", 0.10, "above", "watch", J),
    ("kv100_change_loss", 0.15, "above", "watch", P),  # a lubricant maker's handbook, 2004
    ("kv100_change_rise", 0.20, "above", "watch", P),  # a commercial laboratory's guide
    ("fuel_petrol_watch", "2.5 %", "above", "watch", P),  # the same guide, as the next eight
    ("fuel_petrol_fix", "3.5 %", "above", "fix_first", P),
    ("fuel_petrol_stop", "5 %", "above", "stop", P),
    ("fuel_diesel_watch", "3.5 %", "above", "watch", P),
    ("fuel_diesel_fix", "5 %", "above", "fix_first", P),
    ("fuel_diesel_stop", "7 %", "above", "stop", P),
    ("soot_watch", "3.5 %", "above", "watch", P),
    ("soot_fix", "5 %", "above", "fix_first", P),
    ("soot_stop", "7 %", "above", "stop", P),
    ("soot_direct_watch", "1 %", "above", "watch", J),
    ("soot_direct_fix", "2 %", "above", "fix_first", J),
    ("water_watch", "0.1 %", "above", "watch", P),
    ("water_fix", "0.3 %", "above", "fix_first", P),
    ("water_stop", "0.5 %", "above", "stop", P),
    ("tbn_loss_watch", 0.50, "above", "watch", P),
    ("tbn_loss_fix", 0.65, "above", "fix_first", P),
    ("tbn_loss_stop", 0.80, "above", "stop", P),
    ("tan_rise", "5 mgKOH/g", "above", "watch", P),
    ("metal_history_factor", 2.0, "above", "watch", P),  # Tribology & Lubrication Technology, May 2012
    ("dirt_ratio_low", 2.0, "setting", None, J),
    ("dirt_ratio_high", 6.0, "setting", None, J),
    ("coolant_trace_sodium", "50 mg/kg", "above", "watch", T),
    ("coolant_trace_potassium", "20 mg/kg", "above", "watch", T),
    ("al_absolute_block", "80 mg/kg", "above", "watch", P),
    ("oil_temp_sustained_watch", "120 degC", "above", "watch", T),
    ("oil_temp_sustained_fix", "135 degC", "above", "fix_first", T),
    ("oil_temp_sustained_stop", "150 degC", "above", "stop", T),
    ("oil_temp_low", "80 degC", "setting", None, T),
    ("film_ratio_min_watch", 0.80, "below", "watch", J),
    ("film_ratio_min_fix", 0.65, "below", "fix_first", J),
    ("turbo_feed_min_idle", "70 kPa", "below", "fix_first", T),
    ("turbo_feed_min_load", "200 kPa", "below", "fix_first", T),
    ("turbo_feed_ball_max", "310 kPa", "above", "watch", P),  # turbocharger makers: 40 to 45 psi
    ("oil_level_range_low", 0.0, "below", "stop", T),
    ("oil_level_range_high", 1.0, "above", "watch", T),
    ("oil_consumption_max_watch", "0.5 L/1000 km", "above", "watch", T),
    ("oil_consumption_max_fix", "1 L/1000 km", "above", "fix_first", T),
]
#: Symbol: mg/kg in the used oil (a lubricant maker's handbook, 2004), mg/kg per 1 000 km watched and put right first.
METALS = {
    "fe": (100, 5, 10), "cr": (10, 0.7, 1.5), "cu": (20, 2, 4), "sn": (10, 0.5, 1), "al": (20, 2, 4),
    "pb": (25, 1, 3), "si": (20, 2, 4),
}  # fmt: skip
#: Without a number: the maker's own figures, and what is so or not.
WORDS = {"oil_p_maker_min": "stop", "oil_p_maker_max": "watch", "kv100_change_band": "fix_first", "glycol": "stop",
         "tan_over_tbn": "watch"}  # fmt: skip


@pytest.mark.parametrize(("name", "value", "worse", "grade", "mark"), LIMITS, ids=[row[0] for row in LIMITS])
def test_limits(name: str, value: str | float, worse: str, grade: str | None, mark: str) -> None:
    declared = CATALOGUE.limits[f"oil_system.{name}"]
    expected = parse(value, declared.kind).value if isinstance(value, str) else value
    assert declared.value == pytest.approx(expected)
    assert (declared.worse, declared.grade, declared.mark) == (worse, grade, mark)
    assert declared.source


@pytest.mark.parametrize("symbol", METALS)
def test_limits_of_metals(symbol: str) -> None:
    absolute, watch, fix = METALS[symbol]
    found = {name: CATALOGUE.limits[f"oil_system.{symbol}_{name}"] for name in ("absolute", "rate_watch", "rate_fix")}
    assert found["absolute"].value == pytest.approx(absolute * 1e-6)
    assert found["rate_watch"].value == pytest.approx(watch * 1e-12)
    assert found["rate_fix"].value == pytest.approx(fix * 1e-12)
    assert [one.grade for one in found.values()] == ["watch", "watch", "fix_first"]
    assert [one.mark for one in found.values()] == [P, J, J]
    assert {one.worse for one in found.values()} == {"above"}


def test_no_limit_is_left_out() -> None:
    named = {row[0] for row in LIMITS} | set(WORDS)
    named |= {f"{symbol}_{name}" for symbol in METALS for name in ("absolute", "rate_watch", "rate_fix")}
    own = {id.partition(".")[2] for id in CATALOGUE.limits if id.startswith("oil_system.")}
    assert own == named
    assert {name: CATALOGUE.limits[f"oil_system.{name}"].grade for name in WORDS} == WORDS


@pytest.mark.parametrize("row", [row for row in LIMITS if row[3]], ids=lambda row: row[0])
def test_a_reading_at_its_limit_has_fired_and_one_on_the_good_side_has_not(
    row: tuple[str, object, str, str, str],
) -> None:
    limit = limits()[f"oil_system.{row[0]}"]
    at, u = limit.number, max(abs(limit.number), 1.0) * 1e-3
    assert limit.judge(at, u).p_beyond == pytest.approx(0.5)
    good = at - 4 * u if row[2] == "above" else at + 4 * u
    bad = at + 4 * u if row[2] == "above" else at - 4 * u
    assert limit.judge(good, u).p_beyond < 0.001
    assert limit.judge(bad, u).p_beyond > 0.999


CAUSES = (
    "crankshaft-bearing-clearance",
    "oil-pump-wear",
    "oil-relief-valve-stuck-open",
    "oil-pick-up-restricted",
    "oil-too-thin",
    "oil-pressure-sender-fault",
)
#: Rule, band: ratios of the six causes above, in their order; all judgement.
TABLE = {
    ("leak_index", "low_measured"): (6, 6, 3, 1, 0.2, 1.5),
    ("leak_index", "low_label"): (2.5, 2.5, 2, 1, 3, 1.5),
    ("leak_index", "clear_measured"): (0.15, 0.2, 0.1, 0.4, 1, 0.5),
    ("leak_index", "clear_label"): (0.6, 0.6, 0.4, 0.7, 1, 0.7),
    ("cold_pressure", "far_below"): (0.4, 2, 8, 2, 0.3, 3),
    ("cold_pressure", "normal"): (1.3, 0.8, 0.1, 0.5, 1.3, 0.4),
    ("droop", "droops"): (0.3, 1, 0.5, 10, 0.7, 1.5),
    ("droop", "droops_idle_low"): (1, 1, 0.5, 10, 0.7, 1.5),
    ("flutter", "flutters"): (0.3, 1, 0.5, 10, 0.7, 1.5),
    ("surge", "level_low"): (0.5, 0.5, 0.5, 6, 0.5, 0.5),
    ("build_time", "slow"): (0.8, 2, 1.5, 4, 0.5, 1),
    ("sender_disagree", "gauge_normal"): (0.1, 0.1, 0.1, 0.3, 0.3, 20),
    ("sender_disagree", "gauge_low"): (1.2, 1.2, 1.2, 1.2, 1.2, 20),
    ("sender_disagree", "agrees"): (1.2, 1.2, 1.2, 1.2, 1.2, 0.05),
    ("knock", "changes"): (8, 0.7, 0.7, 1, 1, 0.7),
    ("filter_cut", "flakes"): (20, 0.7, 0.7, 2, 1, 0.5),
    ("filter_cut", "clean"): (0.4, 1, 1, 0.9, 1, 1),
    ("bearing_metals", "twice"): (6, 0.7, 1, 1.5, 1.5, 0.5),
    ("bearing_metals", "normal"): (0.4, 0.8, 1, 1, 1, 1.2),
}
#: Rule, band: cause and ratio; all judgement.
OTHERS = {
    ("low_by_viscosity", "measured"): {"oil-too-thin": 5},
    ("low_by_viscosity", "label"): {"oil-too-thin": 3},
    ("viscosity", "low"): {"oil-too-thin": 12, "oil-pressure-sender-fault": 0.8},
    ("viscosity", "in_band"): {"oil-too-thin": 0.1},
    ("thick", "above_band"): {"oil-too-thick": 12},
    ("thick", "in_band"): {"oil-too-thick": 0.1},
    ("grade", "outside"): {"oil-wrong-grade": 10},
    ("grade", "inside"): {"oil-wrong-grade": 0.1},
    ("grade", "inside_kv_only"): {"oil-wrong-grade": 0.3},
    ("fuel", "over"): {"fuel-dilution": 30},
    ("fuel", "low"): {"fuel-dilution": 0.05},
    ("fuel_flash", "both"): {"fuel-dilution": 15},
    ("two_temperatures", "fuel"): {"fuel-dilution": 4},
    ("two_temperatures", "shear"): {"fuel-dilution": 0.25},
    ("dilution_history", "so"): {"fuel-dilution": 2},
    ("coolant", "glycol"): {"coolant-in-oil": 50},
    ("coolant", "metals"): {"coolant-in-oil": 10},
    ("coolant", "none"): {"coolant-in-oil": 0.05},
    ("cap_cream", "alone"): {"coolant-in-oil": 1.2},
    ("dirt", "dirt"): {"dirt-ingestion": 8},
    ("dirt", "silicon_alone"): {"dirt-ingestion": 0.5},
    ("dirt", "normal"): {"dirt-ingestion": 0.2},
    ("filter_drop", "over"): {"oil-filter-restricted": 10},
    ("filter_drop", "below_half"): {"oil-filter-restricted": 0.1},
    ("far_gallery", "near"): {"oil-gallery-blocked": 0.2},
    ("leak_index_high", "noisy_top_end"): {"oil-gallery-blocked": 8},
    ("plateau_high", "cold"): {"oil-relief-valve-stuck-shut": 15},
    ("plateau_high", "cold_at_relief"): {"oil-relief-valve-stuck-shut": 0.05},
    ("stages", "high_not_reached"): {"oil-pump-control-fault": 15},
    ("sludge", "screen_blocked"): {"oil-sludge": 20},
    ("sludge", "varnish_overdue"): {"oil-sludge": 5},
    ("sludge", "screen_clean"): {"oil-sludge": 0.05},
    ("sludge", "no_sign"): {"oil-sludge": 0.5},
    ("reserve", "inside"): {"oil-overdue-or-degraded": 0.3},
    ("turbo_feed", "low"): {"turbo-oil-feed-restricted": 15},
    ("turbo_feed", "sound"): {"turbo-oil-feed-restricted": 0.05},
    ("turbo_line", "coked"): {"turbo-oil-feed-restricted": 10},
    ("turbo_drain", "smoke_and_pressure"): {"turbo-oil-drain-restricted": 4},
    ("turbo_drain", "clear"): {"turbo-oil-drain-restricted": 0.1},
    ("turbo_drain", "quiet"): {"turbo-oil-drain-restricted": 0.3},
    ("level", "low"): {"oil-level-low": 50},
    ("level", "between"): {"oil-level-low": 0.02},
    ("level_rising", "rising"): {"fuel-dilution": 5},
    ("level_rising", "rising_coolant_falling"): {"fuel-dilution": 5, "coolant-in-oil": 8},
    ("heat", "fix"): {"oil-overheated": 20},
    ("heat", "watch"): {"oil-overheated": 5},
    ("heat", "below"): {"oil-overheated": 0.1},
    ("consumption", "high"): {"oil-consumption-high": 20},
    ("consumption", "low"): {"oil-consumption-high": 0.05},
    # Our own additions.
    ("far_gallery", "below"): {"oil-gallery-blocked": 3},
    ("fuel", "over_other_method"): {"fuel-dilution": 5},
    ("sludge", "hard_sludge"): {"oil-sludge": 10},
    ("stages", "stuck_high"): {"oil-pump-control-fault": 10, "oil-pump-wear": 0.2},
    ("stages", "reached"): {"oil-pump-control-fault": 0.05, "oil-pump-wear": 0.2},
    ("turbo_feed", "low_gallery_unknown"): {"turbo-oil-feed-restricted": 3},
    ("turbo_drain", "restricted"): {"turbo-oil-drain-restricted": 20},
    ("shells", "over"): {"crankshaft-bearing-clearance": 20},
    ("shells", "in_limits"): {"crankshaft-bearing-clearance": 0.1},
    ("pump", "worn"): {"oil-pump-wear": 20},
    ("pump", "in_limits"): {"oil-pump-wear": 0.1},
    ("pick_up", "faulty"): {"oil-pick-up-restricted": 20},
    ("pick_up", "sound"): {"oil-pick-up-restricted": 0.1},
    ("relief_valve", "stuck_open"): {"oil-relief-valve-stuck-open": 20, "oil-relief-valve-stuck-shut": 0.1},
    ("relief_valve", "stuck_shut"): {"oil-relief-valve-stuck-shut": 20, "oil-relief-valve-stuck-open": 0.1},
    ("relief_valve", "free"): {"oil-relief-valve-stuck-open": 0.1, "oil-relief-valve-stuck-shut": 0.1},
}


@pytest.mark.parametrize(("rule", "band"), TABLE)
def test_ratios_of_low_pressure(rule: str, band: str) -> None:
    found = CATALOGUE.rules[f"oil_system.{rule}"].bands[band]
    assert dict(found) == dict(zip(CAUSES, TABLE[rule, band], strict=True))


@pytest.mark.parametrize(("rule", "band"), OTHERS)
def test_other_ratios(rule: str, band: str) -> None:
    assert dict(CATALOGUE.rules[f"oil_system.{rule}"].bands[band]) == OTHERS[rule, band]


def test_no_ratio_is_left_out() -> None:
    own = {
        (id.partition(".")[2], band)
        for id, rule in CATALOGUE.rules.items()
        if id.startswith("oil_system.")
        for band in rule.bands
    }
    # The same ratios as a droop with a low idle.
    assert own - {("flutter", "flutters_idle_low")} == {*TABLE, *OTHERS}


def test_makers_pressures_without_a_temperature_are_flagged() -> None:
    bare = [{"rpm": "2000 rpm", "min": "1.8 bar"}]
    assert "taken for 100 degC" in look(engine(oil_pressure_spec=bare), oil_pressure=[sweep()]).advice()
    assert "taken for" not in look(engine(minimum=True), oil_pressure=[sweep()]).advice()


def test_a_point_without_speed_or_pressure_is_told() -> None:
    rows = [*points({800: 1.6}), {"pressure": "3 bar", "oil_temp": "100 degC", "source": "mechanical_gauge"}]
    assert "point 2 has no engine speed" in look(oil_pressure=[sweep(rows=rows)]).advice()


def test_an_unknown_filled_grade_lets_the_film_clear_nothing() -> None:
    torque = {"2000 rpm": "280 N m", "5000 rpm": "250 N m"}
    vehicle = engine(displacement="1998 cm3", cylinder_count=4, base_torque_measured=torque, standard_torque=torque)
    plan = {"torque": {"2000 rpm": "290 N m", "5000 rpm": "255 N m"}}
    from test_rules_look import planned

    assert planned(vehicle, plan)[0].grade("film") == "unknown"
    known = planned(vehicle, plan, oil_sample=[sheet(oil_grade_filled="5W-30")])[0]
    assert known.grade("film") == "clean"
