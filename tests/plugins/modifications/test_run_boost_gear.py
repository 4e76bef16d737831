"""Gearing, boost at zero duty, compressor, idle vacuum, boost at full duty, calibration numbers."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from run_cases import DAY, look, register, rows, run, vehicle

from loadworthy.findings import Finding, Gap
from loadworthy_plugins.modifications.rules_calibration import inferred

ORDER = ("clean", "unknown", "note", "watch", "fix_first", "stop")
RATIOS = vehicle()["gear_ratios"]


# Gearing --------------------------------------------------------------------------------------------------------------


def drive(factors: dict[int, float], *, source: str | None = "gps", **row: Any) -> dict[str, Any]:
    """Return a run with one cruise point in each gear, its road speed short by a factor."""
    points = rows(0.0)
    for gear, factor in factors.items():
        kmh = 3.6 * 50.0 * 1.95 / (RATIOS[gear - 1] * 3.45) / factor
        points.append(
            {"region": "cruise", "engine_speed": "3000 rpm", "gear": gear, "vehicle_speed": f"{kmh:.4f} km/h", **row}
        )
    return run(points=points, vehicle_speed_source=source)


def test_road_speed_in_fifth() -> None:
    # 3 000 rpm, 0.82 x 3.45, 1.95 m: 124.1 km/h (computed here).
    points = [{**rows(0.0)[1], "engine_speed": "3000 rpm", "gear": 5, "vehicle_speed": "124.1 km/h"}]
    found = look(run(points=points, vehicle_speed_source="gps"))
    assert "gear 5 1.000" in found.finding("gearing").text


@pytest.mark.parametrize(
    ("factors", "grade", "band"),
    [
        ({3: 1.0, 4: 1.0, 5: 1.001}, "clean", "clean"),
        ({3: 1.06, 4: 1.06, 5: 1.06}, "watch", "all_of_three"),
        ({4: 0.93, 5: 0.93}, "watch", "all_of_two"),
        ({3: 1.0, 4: 1.0, 5: 1.08}, "watch", "one_gear"),
        ({3: 1.0, 5: 1.016}, "watch", "clean"),  # borderline
    ],
)
def test_gearing(factors: dict[int, float], grade: str, band: str) -> None:
    found = look(drive(factors))
    assert (found.grade("gearing"), found.band("gearing")) == (grade, band)


def test_one_gear_convicts_nobody_and_clears_nobody() -> None:
    off = look(drive({4: 1.08}))
    assert (off.grade("gearing"), off.bands("gearing")) == ("watch", {})
    assert "second gear" in off.finding("gearing").text
    assert look(drive({4: 1.0})).grade("gearing") == "unknown"


def test_power_from_road_speed_is_refused_in_words() -> None:
    assert "not used" in look(drive({4: 1.08, 5: 1.08})).finding("gearing").text


def test_a_speedometer_an_unlocked_converter_and_a_source_not_written() -> None:
    assert look(drive({4: 1.08, 5: 1.08}, source="speedometer")).grade("gearing") == "unknown"
    assert look(drive({4: 1.0, 5: 1.0}, source=None)).grade("gearing") == "unknown"
    automatic = vehicle(gearbox_type="automatic_converter")
    assert look(drive({4: 1.08, 5: 1.08}), car=automatic).grade("gearing") == "unknown"
    assert look(drive({4: 1.08, 5: 1.08}, driveline_locked=True), car=automatic).grade("gearing") == "watch"
    assert look(drive({4: 1.08, 5: 1.08}, driveline_locked=False)).grade("gearing") == "unknown"
    assert look(drive({4: 1.08, 5: 1.08}), car=vehicle(gearbox_type="cvt")).grade("gearing") == "unknown"


@pytest.mark.parametrize("name", ["gear_ratios", "final_drive", "tyre_circumference"])
def test_gearing_without_stated_data_is_unknown(name: str) -> None:
    assert look(drive({4: 1.0, 5: 1.0}), car=vehicle(**{name: None})).grade("gearing") == "unknown"


@given(st.floats(0.0, 0.1), st.floats(0.0, 0.1))
@settings(max_examples=40, deadline=None)
def test_a_larger_error_of_all_gears_never_weighs_less(off: float, more: float) -> None:
    one, other = (look(drive(dict.fromkeys((3, 4, 5), 1.0 + by))) for by in (off, off + more))
    assert ORDER.index(other.grade("gearing")) >= ORDER.index(one.grade("gearing"))
    assert other.bands("gearing").get("all_of_three", 0.0) >= one.bands("gearing").get("all_of_three", 0.0) - 1e-4


# Boost ----------------------------------------------------------------------------------------------------------------


def base(*kpa: float, **changed: Any) -> dict[str, Any]:
    speeds = (3000, 4500, 6000)
    return run(
        base_pressure_points=[
            {"engine_speed": f"{n} rpm", "boost": f"{p} kPa"} for n, p in zip(speeds, kpa, strict=False)
        ],
        **changed,
    )


@pytest.mark.parametrize(
    ("kpa", "grade", "band"),
    [
        ((50, 51), "clean", "clean"),
        ((50, 59), "watch", "clean"),  # borderline
        ((72, 73), "watch", "off"),
        ((30, 31), "watch", "off"),
        ((50, 70), "watch", "creep"),
        ((70, 95), "watch", "both"),
    ],
)
def test_boost_at_zero_duty(kpa: tuple[float, ...], grade: str, band: str) -> None:
    found = look(base(*kpa))
    assert (found.grade("spring"), found.band("spring")) == (grade, band)
    assert ("creep" in found.finding("spring").text) is (band in ("creep", "both"))


def test_a_strong_spring_is_allowed_its_share() -> None:
    # The larger of 10 kPa and 15 %: 15 kPa of 100.
    strong = vehicle(wastegate_spring="100 kPa")
    assert look(base(112, 112), car=strong).grade("spring") == "clean"
    assert look(base(118, 118), car=strong).grade("spring") == "watch"
    assert look(base(112, 112), car=strong).step("spring", "allowed") == pytest.approx(15e3)


def test_one_speed_clears_no_creep_and_no_spring() -> None:
    assert look(base(50)).grade("spring") == "unknown"
    assert look(base(80)).band("spring") == "off"
    unstated = look(base(50, 50), car=vehicle(wastegate_spring=None))
    assert "not stated" in unstated.finding("spring").unknown
    assert not look(run()).has("spring")


def test_a_naturally_aspirated_engine_has_no_boost_to_judge() -> None:
    na = vehicle(induction="none")
    found = look(base(72, 73, boost_onset_speed="3000 rpm", charge_leak_test="tight"), car=na)
    for rule in ("spring", "compressor", "boost_short"):
        assert not found.has(rule), rule
    assert found.grade("trim") == "clean"
    assert found.grade("ve_constant") == "clean"


def turbo(
    onset: str | None = "2200 rpm", leak: str | None = "tight", air: float = 1.0, **changed: Any
) -> dict[str, Any]:
    return run(boost_onset_speed=onset, charge_leak_test=leak, row={"air": air}, **changed)


@pytest.mark.parametrize(
    ("onset", "air", "grade", "band"),
    [
        ("2200 rpm", 1.0, "clean", "clean"),
        ("2800 rpm", 1.0, "watch", "beyond"),
        ("1700 rpm", 1.0, "watch", "beyond"),
        ("2530 rpm", 1.0, "watch", "clean"),  # borderline
        ("2200 rpm", 1.35, "watch", "beyond"),  # 0.24 kg/s corrected is the declared compressor's choke
    ],
)
def test_compressor(onset: str, air: float, grade: str, band: str) -> None:
    found = look(turbo(onset, air=air))
    assert (found.grade("compressor"), found.band("compressor")) == (grade, band)


def test_corrected_flow_takes_the_inlet_as_it_was() -> None:
    # 200 g/s at 293.15 K and 100 kPa against 298.15 K, 100 kPa: x 0.9916, over 0.24 kg/s (computed here).
    found = look(turbo())
    assert found.finding("compressor").verdicts[0].p_beyond < 0.01
    assert "0.83" in found.finding("compressor").text
    # A clogged filter, 20 kPa, makes the same mass flow harder.
    dusty = look(run(boost_onset_speed="2200 rpm", charge_leak_test="tight", row={"filter_dp": "20 kPa"}))
    assert "1.03" in dusty.finding("compressor").text


def test_where_boost_stands_tells_nothing_before_a_leak_test() -> None:
    for leak in (None, "not_made", "leaks"):
        found = look(turbo("3000 rpm", leak), car=vehicle(compressor_choke_flow=None))
        assert "tested tight" in found.finding("compressor").unknown
        assert found.bands("compressor") == {}
    assert look(turbo(None)).grade("compressor") == "unknown"  # choke alone clears nothing


def test_both_signs_of_another_turbocharger_add_up() -> None:
    # Choke p 0.5 by definition of the flow, onset p 0.5: together 0.75 (computed here).
    flow = 0.2 * (293.15 / 298.15) ** 0.5
    found = look(turbo("2600 rpm"), car=vehicle(compressor_choke_flow=f"{flow:.8f} kg/s"))
    assert found.bands("compressor") == pytest.approx({"beyond": 0.75, "clean": 0.25}, abs=1e-3)
    assert [one.place.rpartition(".")[2] for one in found.finding("compressor").readings] == [
        "air_flow",
        "boost_onset_speed",
    ]


def test_the_greatest_flow_at_load_counts_against_choke() -> None:
    points = [*rows(0.0), {**rows(0.0)[2], "air_flow": "120 g/s"}, {**rows(0.0)[1], "air_flow": "300 g/s"}]
    assert "0.83" in look(run(points=points)).finding("compressor").text


def short(kpa: float, air: float = 1.0, leak: str | None = "tight", **changed: Any) -> dict[str, Any]:
    row = {"boost_duty": 1.0, "map_target": f"{200.0 + kpa} kPa", "air": air}
    return run(charge_leak_test=leak, row=row, **changed)


@pytest.mark.parametrize(
    ("kpa", "air", "grade", "band"),
    [(0.0, 1.0, "clean", ""), (30.0, 1.0, "watch", "short"), (30.0, 0.7, "clean", ""), (5.7, 1.0, "watch", "short")],
)
def test_boost_short_at_full_duty(kpa: float, air: float, grade: str, band: str) -> None:
    found = look(short(kpa, air))
    assert (found.grade("boost_short"), found.band("boost_short")) == (grade, band)
    assert ("at its limit" in found.finding("boost_short").text) is (band == "short")


def test_a_leak_looks_like_a_turbocharger_at_its_limit() -> None:
    for leak in (None, "leaks", "not_made"):
        assert look(short(30.0, leak=leak)).grade("boost_short") == "unknown"
    for car, changed in ((vehicle(standard_peak_air_flow=None), {}), (vehicle(), {"ambient_pressure": None})):
        assert "not known" in look(short(30.0, **changed), car=car).finding("boost_short").unknown
    bare = short(30.0)
    for row in bare["points"]:
        del row["air_flow"]
    assert "no point" in look(bare).finding("boost_short").unknown
    assert look(short(0.0, map_key_on=None)).grade("boost_short") == "unknown"
    assert not look(run(row={"boost_duty": 0.6, "map_target": "230 kPa"})).has("boost_short")


def test_what_falls_short_is_the_larger_of_a_pressure_and_a_share() -> None:
    # 5 kPa, or 5 % of the target above ambient: 10 kPa at 300 kPa (computed here).
    def p(target: float, kpa: float) -> float:
        row = {"boost_duty": 1.0, "map_target": f"{target} kPa", "map": f"{target - kpa} kPa"}
        return look(run(charge_leak_test="tight", row=row)).bands("boost_short").get("short", 0.0)

    full = 0.97725  # the meter at its standard peak, allowed two u
    assert p(150.0, 5.0) == pytest.approx(0.5 * full, abs=1e-3)
    assert p(300.0, 10.0) == pytest.approx(0.5 * full, abs=1e-3)
    assert p(300.0, 5.0) < 0.01


def test_the_worst_point_at_full_duty_decides() -> None:
    points = short(30.0)["points"]
    sound = {**points[2], "map_target": "200 kPa"}
    for found in ([*points, sound], [sound, *points]):
        assert look(run(points=found, charge_leak_test="tight")).band("boost_short") == "short"


# Camshaft -------------------------------------------------------------------------------------------------------------

CAM = {
    "idle_vacuum": "48 kPa",
    "idle_vacuum_steady": False,
    "compression_share": 0.90,
    "compression_even": True,
    "idle_hydrocarbons_high": True,
    "runs_clean_at_speed": True,
}
CLEAN = {
    "idle_vacuum": "67 kPa",
    "idle_vacuum_steady": True,
    "compression_share": 1.0,
    "compression_even": True,
    "idle_hydrocarbons_high": False,
    "runs_clean_at_speed": True,
}


def test_all_signs_of_a_camshaft() -> None:
    found = look(run(**CAM))
    assert (found.grade("idle_vacuum"), found.band("idle_vacuum")) == ("watch", "cam")
    clean = look(run(**CLEAN))
    assert (clean.grade("idle_vacuum"), clean.band("idle_vacuum")) == ("clean", "clean")


@pytest.mark.parametrize(
    "changed",
    [
        {"idle_vacuum_steady": True},
        {"compression_share": 1.0},
        {"compression_share": 0.75},
        {"compression_even": False},
        {"idle_hydrocarbons_high": False},
        {"runs_clean_at_speed": False},
    ],
)
def test_signs_in_part_prove_and_clear_nothing(changed: dict[str, Any]) -> None:
    found = look(run(**{**CAM, **changed}))
    assert found.grade("idle_vacuum") == "watch"  # the vacuum itself is low
    assert all(p < 0.05 for p in found.bands("idle_vacuum").values())


@pytest.mark.parametrize("name", [name for name in CLEAN if name != "idle_vacuum"])
def test_a_sign_that_nobody_wrote_clears_nothing(name: str) -> None:
    assert look(run(**{**CLEAN, name: None})).grade("idle_vacuum") == "unknown"
    assert look(run(**{**CAM, name: None})).bands("idle_vacuum") == {}


@pytest.mark.parametrize(
    "changed", [{"idle_vacuum_steady": False}, {"compression_even": False}, {"idle_hydrocarbons_high": True}]
)
def test_a_sign_of_a_camshaft_beside_good_vacuum_clears_nothing(changed: dict[str, Any]) -> None:
    found = look(run(**{**CLEAN, **changed}))
    assert (found.grade("idle_vacuum"), found.bands("idle_vacuum").get("clean", 0.0)) == ("unknown", 0.0)


def test_idle_vacuum_borderline_cold_and_without_a_standard() -> None:
    assert look(run(**{**CAM, "idle_vacuum": "56 kPa"})).grade("idle_vacuum") == "watch"
    assert look(run(warm=False, **CAM)).grade("idle_vacuum") == "unknown"
    assert look(run(**CAM), car=vehicle(idle_vacuum_standard=None)).grade("idle_vacuum") == "unknown"
    assert not look(run()).has("idle_vacuum")


@pytest.mark.parametrize(("share", "grade"), [(1.0, "clean"), (0.97, "note"), (1.12, "note"), (0.85, "note")])
def test_cranking_pressure_against_the_declared_ratio(share: float, grade: str) -> None:
    found = look(run(compression_share=share, compression_even=True))
    assert found.grade("ratio_fit") == grade
    # Exponent 1.25 at equal valve timing: 12 % more pressure is 9.5 % more ratio (computed here).
    if share == 1.12:
        assert found.step("ratio_fit", "compression ratio over declared") == pytest.approx(1.095, abs=1e-3)
    for even in (None, False):
        assert look(run(compression_share=share, compression_even=even)).grade("ratio_fit") == "unknown"


# Calibration ----------------------------------------------------------------------------------------------------------


def numbers(**changed: Any) -> dict[str, Any]:
    values = {
        "date": DAY,
        "calibration_id": "AB12 0450",
        "verification_number": "0x1F2E3D4C",
        "maker_calibration_id": "AB12-0450",
        "maker_verification_number": "0x1f2e3d4c",
        **changed,
    }
    return {key: value for key, value in values.items() if value is not None}


@pytest.mark.parametrize(
    ("changed", "grade", "band"),
    [
        ({}, "clean", "clean"),
        ({"verification_number": "0x00000001"}, "watch", "mismatch"),
        ({"calibration_id": "AB12 0460"}, "watch", "mismatch"),
        ({"verification_number": None}, "unknown", ""),  # an identifier alone is kept when content is changed
        ({"verification_number": None, "calibration_id": "X"}, "watch", "mismatch"),
        ({"maker_verification_number": None, "maker_calibration_id": None}, "unknown", ""),
    ],
)
def test_calibration_numbers(changed: dict[str, Any], grade: str, band: str) -> None:
    found = look(calibration=[numbers(**changed)])
    assert (found.grade("calibration_number"), found.band("calibration_number")) == (grade, band)


def test_a_record_without_numbers_is_silent() -> None:
    assert not look(calibration=[{"date": DAY, "present_calibration": "standard"}]).has("calibration_number")


@pytest.mark.parametrize(
    ("told", "grade", "band"),
    [(["none"], "clean", ""), (["torque", "boost"], "watch", "above"), (["none", "boost"], "watch", "above")],
)
def test_limits_above_standard_in_the_log(told: list[str], grade: str, band: str) -> None:
    found = look(run(limits_above_standard=told))
    assert (found.grade("limits_above"), found.band("limits_above")) == (grade, band)
    assert not look(run()).has("limits_above")


def test_what_the_rules_of_one_sheet_are_worth_together() -> None:
    def of(*found: Finding) -> float:
        return inferred(found)["injector-size-changed"]

    trim = Finding("modifications.uniform_trim", "a", bands={"uniform": 1.0})
    rail = Finding("modifications.rail_flow", "a", bands={"off": 1.0})
    half = Finding("modifications.rail_flow", "a", bands={"off": 0.5})
    clean = Finding("modifications.data_documented", "a", bands={"stands": 1.0})
    # Prior 0.05 and ratios of 20; 20 and 5; 20 and 0.05; 3 (computed here).
    assert of(trim) == pytest.approx(0.5128, abs=1e-4)
    assert of(trim, rail) == pytest.approx(0.8403, abs=1e-4)
    assert of(trim, clean) == pytest.approx(0.05)
    assert of(half) == pytest.approx(0.1364, abs=1e-4)
    # What may not clear counts for nothing, and of one group the strongest alone.
    assert of(trim, Finding("modifications.data_documented", "a", bands={"stands": 1.0}, clears=False)) == of(trim)
    assert of(trim, trim) == of(trim)
    # Nothing else is looked at.
    assert inferred([Finding("other.rule", "a", bands={"off": 1.0}), Gap("g", "a gap")]) == {}


# Together -------------------------------------------------------------------------------------------------------------


def test_an_engine_of_another_cycle_is_left_alone() -> None:
    assert look(run(30.0), car=vehicle(engine_cycle="rotary")).results == ()


def test_rules_that_read_one_meter_add_up_once() -> None:
    # Displacement 6 (7.8 dB), meter scaling 10 (10 dB) share the meter with the compressor's 10: one group each.
    found = register(run(row={"air": 1.35}, boost_onset_speed="2200 rpm", charge_leak_test="tight"))
    groups = {(one.finding.rule, found.catalogue.rules[one.finding.rule].group) for one in found.standings}
    assert {group for rule, group in groups if rule.rpartition(".")[2] in ("ve_constant", "compressor", "balance")} == {
        "air meter"
    }


def test_unfinished_sheets_are_read_without_what_they_lack() -> None:
    for name in run():
        if name not in ("date", "points"):
            look(run(**{name: None}))
    assert look({"date": DAY}).results == ()
    for name in ("region", "engine_speed", "air_flow", "map", "trim_long", "pulse_width"):
        sheet = run(18.0, base_pressure_points=[{"boost": "50 kPa"}, {"engine_speed": "3000 rpm"}])
        for row in sheet["points"]:
            del row[name]
        found = look({**sheet, "unfinished": True})
        assert found.grade("key_on") == "clean"
        assert found.grade("spring") == "unknown"


def test_readings_beyond_all_sense_are_judged_and_not_refused() -> None:
    for percent in (-98.0, 149.0):
        points = [{**row, "trim_short": {1: f"{percent} %"}} for row in rows(percent)]
        found = look(run(points=points))
        assert found.grade("trim") == "fix_first"
        assert found.has("uniform_trim")
    for row in ({"air_flow": "0 g/s"}, {"pulse_width": "0 ms"}, {"rail_pressure": "0 kPa"}, {"map": "490 kPa"}):
        assert look(run(0.0, row=row)).grade("trim") == "clean"


def test_order_of_points_does_not_matter() -> None:
    forward, back = run(3.0), run(3.0)
    back["points"] = list(reversed(back["points"]))
    one, other = look(forward), look(back)
    assert [(f.rule, dict(f.bands), f.unknown) for f in one.results if hasattr(f, "rule")] == [
        (f.rule, pytest.approx(dict(f.bands)), f.unknown) for f in other.results if hasattr(f, "rule")
    ]
