"""Volumetric efficiency, balance, fuel pressure: fired, borderline, clean, unknown, under wrong conditions."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from run_cases import AMBIENT, POINTS, STANDARD, View, case, limits, look, register, rows, run, vehicle, well_known

from loadworthy.sdk import Case, Finding, Reading, evolve
from loadworthy_plugins.modifications.judging_run import judge_runs
from loadworthy_plugins.modifications.rules_mixture import TABLE

TWO_BANKS = [[1, 3], [2, 4]]
ORDER = ("clean", "unknown", "note", "watch", "fix_first", "stop")


# Volumetric efficiency and the air meter ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("litres", "grade"), [("1984 cm3", "clean"), ("1798 cm3", "watch"), ("1500 cm3", "watch"), ("3.2 L", "watch")]
)
def test_volumetric_efficiency_at_full_load(litres: str, grade: str) -> None:
    # 265 g/s, 6 000 rpm, 230 kPa, 320 K: 1.067 with 1.984 L, 1.177 with 1.798 L (ideal gas).
    load = {"engine_speed": "6000 rpm", "map": "230 kPa", "charge_temp": "46.85 degC", "air_flow": "265 g/s"}
    points = [*rows(0.0, ("idle", "cruise")), {**rows(0.0, ("load",))[0], **load}]
    found = look(run(points=points), car=vehicle(displacement=litres))
    assert found.grade("ve") == grade


def test_volumetric_efficiency_needs_displacement_rated_speed_and_a_high_speed() -> None:
    assert look(run(), car=vehicle(displacement=None)).grade("ve") == "unknown"
    assert look(run(), car=vehicle(rated_speed=None)).grade("ve") == "unknown"
    assert look(run(), car=vehicle(rated_speed="10000 rpm")).grade("ve") == "unknown"
    no_load = look(run(points=rows(0.0, ("idle", "cruise"))))
    assert "no full-load point" in no_load.finding("ve").unknown


@pytest.mark.parametrize(
    ("factor", "grade", "band"),
    [(1.0, "clean", "clean"), (1.12, "watch", "clean"), (1.3, "watch", "constant"), (0.7, "watch", "constant")],
)
def test_a_constant_factor(factor: float, grade: str, band: str) -> None:
    found = look(run(row={"air": factor}))
    assert (found.grade("ve_constant"), found.band("ve_constant")) == (grade, band)
    assert found.step("ve_constant", "factor") == pytest.approx(factor, abs=1e-3)
    assert ("one factor" in found.finding("ve_constant").text) is (band == "constant")
    assert len(found.finding("ve_constant").readings) == 3


def test_a_doubtful_sensor_halves_what_is_said_of_air() -> None:
    # k 1.10, at its limit: 0.5 that the sensor is off by a ratio, so nothing may be said of air.
    sure, doubtful = (look(run(18.0, map_key_on=f"{kpa} kPa", row={"air": 1.3})) for kpa in (100.0, 91.3))
    scaled = doubtful.finding("key_on").verdicts[0].p_beyond
    assert 0.1 < scaled < 0.5
    for rule, band in (("ve_constant", "constant"), ("uniform_trim", "uniform")):
        before = sure.bands(rule).get(band, 0.0)
        assert doubtful.bands(rule).get(band, 0.0) == pytest.approx(before * (1.0 - scaled), abs=1e-6)
    trims = {"idle": 0.0, "cruise": 6.0, "load": 14.0}
    row = {"air": {"idle": 1.0, "cruise": 0.94, "load": 0.87}}
    before, after = (
        look(run(trims, map_key_on=f"{kpa} kPa", row=row)).bands("meter_trend")["trend"] for kpa in (100.0, 91.3)
    )
    assert after == pytest.approx(before * (1.0 - scaled), abs=1e-6)
    bare = vehicle(air_metering="speed_density")
    before, after = (
        look(run(18.0, map_key_on=f"{kpa} kPa"), car=bare).bands("uniform_trim")["uniform"] for kpa in (100.0, 91.3)
    )
    assert after == pytest.approx(before * (1.0 - scaled), abs=1e-6)


def test_a_factor_that_changes_with_flow_is_no_constant() -> None:
    found = look(run(row={"air": {"idle": 1.0, "cruise": 1.4, "load": 1.7}}))
    assert found.bands("ve_constant").get("constant", 0.0) < 0.01
    assert found.grade("ve_constant") == "watch"
    assert "no constant" in found.finding("ve_constant").text


def test_without_the_standard_engine_there_is_no_acquittal() -> None:
    bare = vehicle(ve_standard=None)
    assert look(run(), car=bare).grade("ve_constant") == "unknown"
    assert look(run(row={"air": 1.5}), car=bare).grade("ve_constant") == "watch"
    assert look(run(), car=vehicle(air_metering=None)).grade("ve_constant") == "unknown"


def test_a_trim_that_grows_with_flow_and_efficiency_that_follows() -> None:
    trims = {"idle": 0.0, "cruise": 6.0, "load": 14.0}
    follows = look(run(trims, row={"air": {"idle": 1.0, "cruise": 0.94, "load": 0.87}}))
    assert (follows.grade("meter_trend"), follows.band("meter_trend")) == ("watch", "trend")
    falls = look(run({name: -t for name, t in trims.items()}, row={"air": {"idle": 1.0, "cruise": 1.07, "load": 1.16}}))
    assert falls.band("meter_trend") == "trend"
    # What counts is how far it moves from idle: 13 points here, of which volumetric efficiency shows 9.
    moved = look(
        run({"idle": 5.0, "cruise": 10.0, "load": 18.0}, row={"air": {"idle": 1.0, "cruise": 0.96, "load": 0.91}}),
        car=vehicle(ve_standard=well_known(0.009)),
    )
    assert moved.bands("meter_trend")["trend"] > 0.8
    # A pump or a filter does the same to the trim, but not to the air.
    pump = look(run(trims), car=vehicle(ve_standard=well_known(0.009)))
    assert pump.bands("meter_trend").get("trend", 0.0) < 0.01
    assert pump.bands("meter_trend").get("clean", 0.0) < 0.01


def test_a_meter_without_trend_is_clean() -> None:
    found = look(run(0.0))
    assert (found.grade("meter_trend"), found.band("meter_trend")) == ("clean", "clean")


def test_without_trims_or_efficiency_the_trend_is_unknown() -> None:
    assert look(run(None)).grade("meter_trend") == "unknown"
    assert look(run(0.0, row={"charge_temp": None})).grade("meter_trend") == "unknown"


def _ve_step(speed: int, standard: list[tuple[int, str]]) -> float | None:
    """Return the factor of one full-load point at a speed against standard rows (rpm, volumetric efficiency)."""
    car = vehicle(ve_standard=[{"region": "load", "engine_speed": f"{n} rpm", "ve": ve} for n, ve in standard])
    found = look(run(points=[{**rows(None, ("load",))[0], "engine_speed": f"{speed} rpm"}]), car=car)
    known = [one for one in found.finding("ve_constant").steps if one.label == "factor"]
    return float(known[0].value) if known else None


def test_the_standard_engine_is_linear_in_speed_and_not_carried_far_beyond_its_ends() -> None:
    # 200 g/s, 200 kPa, 313.15 K, 1.984 L: at 5 600 rpm 0.9708, at 5 000 rpm 1.0873 (ideal gas).
    standard = [(4000, "1.0"), (6000, "0.8")]
    assert _ve_step(5000, standard) == pytest.approx(1.0873 / 0.9, abs=1e-3)
    assert _ve_step(5600, standard) == pytest.approx(0.9708 / 0.84, abs=1e-3)
    assert _ve_step(6200, standard) == pytest.approx(0.9708 * 5600 / 6200 / 0.8, abs=1e-3)
    assert _ve_step(3900, standard) == pytest.approx(0.9708 * 5600 / 3900 / 1.0, abs=1e-3)
    assert _ve_step(6400, standard) is None
    assert _ve_step(3700, standard) is None


def test_the_less_certain_neighbour_makes_the_figure_uncertain() -> None:
    def off(one: str, other: str) -> float:
        car = vehicle(ve_standard=[
            {"region": "load", "engine_speed": "5000 rpm", "ve": one},
            {"region": "load", "engine_speed": "6000 rpm", "ve": other},
        ])  # fmt: skip
        return look(run(row={"air": 1.3}), car=car).finding("ve_constant").verdicts[1].p_beyond

    assert (
        off("0.97 +- 0.3", "0.97 +- 0.01") == off("0.97 +- 0.01", "0.97 +- 0.3") < off("0.97 +- 0.01", "0.97 +- 0.01")
    )


def test_points_are_ordered_by_flow_however_it_is_known() -> None:
    # The trim at the highest flow is that of full load: by air, by speed times pressure, or by the region's name.
    trims = {"idle": 20.0, "cruise": 12.0, "load": 1.0}
    for row in ({}, {"air_flow": None}, {"air_flow": None, "map": None}):
        points = list(reversed(rows(trims, **row)))
        assert "idle +20 %, cruise +12 %, load +1 %" in look(run(points=points)).finding("trim").text


def test_a_bank_difference_is_judged_region_by_region() -> None:
    car = vehicle(cylinder_banks=TWO_BANKS)

    def uniform(first: float, second: float) -> float:
        trims = {name: {1: first, 2: second} for name in POINTS}
        return look(run(trims, row={"fuel": 0.76}), car=car).bands("uniform_trim").get("uniform", 0.0)

    assert uniform(-24.0, -24.0) == pytest.approx(uniform(-23.0, -25.0), abs=0.01)
    # 6 points apart, the limit itself: as likely as not that the banks differ.
    assert uniform(-21.0, -27.0) == pytest.approx(0.5 * uniform(-24.0, -24.0), abs=0.01)
    assert uniform(-20.0, -28.0) < 0.02


# Fuel pressure and balance --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kpa", "grade", "band"),
    [(300.0, "clean", "clean"), (312.0, "watch", "clean"), (330.0, "watch", "off"), (220.0, "watch", "off")],
)
def test_fuel_pressure_at_idle(kpa: float, grade: str, band: str) -> None:
    points = rows(0.0)
    points[0]["rail_pressure"] = f"{kpa + 33.0 - AMBIENT} kPa"
    found = look(run(points=points))
    assert (found.grade("fuel_set"), found.band("fuel_set")) == (grade, band)


def test_a_constant_rail_is_held_to_its_gauge_pressure() -> None:
    car = vehicle(fuel_system="returnless_constant_gauge", fuel_pressure_set="400 kPa")
    assert look(run(row={"rail_pressure": "400 kPa"}), car=car).band("fuel_set") == "clean"
    assert look(run(row={"rail_pressure": "340 kPa"}), car=car).band("fuel_set") == "off"


def test_the_worst_idle_point_decides() -> None:
    for kpa in (250.0, 340.0):
        odd = {**rows(0.0)[0], "rail_pressure": f"{kpa + 33.0 - AMBIENT} kPa"}
        for points in ([odd, *rows(0.0)], [*rows(0.0), odd]):
            found = look(run(points=points))
            assert f"{kpa / 300.0:.3f} times" in found.finding("fuel_set").text


def test_a_variable_returnless_pump_is_held_to_its_target() -> None:
    car = vehicle(fuel_system="returnless_variable")
    assert look(run(row={"rail_pressure": "500 kPa", "rail_target": "500 kPa"}), car=car).band("fuel_set") == "clean"
    assert look(run(row={"rail_pressure": "400 kPa", "rail_target": "500 kPa"}), car=car).band("fuel_set") == "off"
    # A target in the log of a referenced rail changes nothing: its regulator holds the set point.
    assert look(run(row={"rail_target": "500 kPa"})).band("fuel_set") == "clean"


def test_numbers_go_before_a_tick() -> None:
    points = rows(0.0)
    points[0]["rail_pressure"] = "160 kPa"
    assert look(run(points=points, fuel_pressure_on_set=True)).band("fuel_set") == "off"
    without = {"row": {"rail_pressure": None}}
    assert look(run(fuel_pressure_on_set=True, **without)).band("fuel_set") == "clean"
    off = look(run(fuel_pressure_on_set=False, **without))
    assert (off.grade("fuel_set"), off.band("fuel_set")) == ("watch", "off")
    assert look(run(fuel_pressure_on_set=True, **without)).grade("fuel_set") == "clean"
    assert not look(run(**without)).has("fuel_set")


def test_without_set_point_or_kind_of_system_fuel_pressure_is_unknown() -> None:
    assert look(run(), car=vehicle(fuel_pressure_set=None)).grade("fuel_set") == "unknown"
    assert look(run(), car=vehicle(fuel_system=None)).grade("fuel_set") == "unknown"


@pytest.mark.parametrize(
    ("fuel", "tested", "grade"),
    [
        (1.0, True, "clean"),
        (1.09, True, "watch"),
        (1.09, False, "clean"),
        (0.85, False, "watch"),
        (0.94, True, "watch"),
    ],
)
def test_balance(fuel: float, tested: bool, grade: str) -> None:
    # 7 % where density and ethanol were tested, else 12 %.
    found = look(run(row={"fuel": fuel}, **({} if tested else {"fuel_density": None})))
    assert found.grade("balance") == grade


def test_balance_needs_to_know_whether_dead_time_is_in_the_pulse() -> None:
    assert look(run(row={"pulse_includes_dead_time": None})).grade("balance") == "unknown"
    known = vehicle(injector_dead_time="0.9 ms")
    points = rows(0.0)
    for row in points:
        row["pulse_width"] = f"{float(row['pulse_width'].split()[0]) + 0.9:.5f} ms"
        row["pulse_includes_dead_time"] = True
    exact = look(run(points=points), car=known)
    assert exact.grade("balance") == "clean"
    assert exact.step("balance", "balance") == pytest.approx(1.0, abs=1e-3)
    guessed = look(run(points=points))
    assert "dead time of the injectors not known" in guessed.finding("balance").text
    assert guessed.grade("balance") != "clean"


@pytest.mark.parametrize("name", ["injector_flow", "injector_flow_pressure", "cylinder_count"])
def test_balance_without_stated_data_is_unknown(name: str) -> None:
    assert "are needed" in look(run(), car=vehicle(**{name: None})).finding("balance").unknown


def test_the_balance_that_is_shown_is_the_worst() -> None:
    found = look(run(row={"fuel": {"idle": 1.0, "cruise": 0.9, "load": 1.0}}))
    assert found.step("balance", "balance") == pytest.approx(1.0 / 0.9, abs=1e-3)


# Direct injection, diesel, without a meter ----------------------------------------------------------------------------

DIRECT = vehicle(fuel_system="direct", injector_flow="18 g/s", injector_flow_pressure="10 MPa", fuel_pressure_set=None)
#: 18 g/s at 10 MPa is 21.30 g/s at 15 MPa less 1 MPa (square-root law): shorter pulses than 6.9 g/s needs.
SHORTER = 6.9 / 21.2979


def direct(trim: float = 0.0, fuel: float = 1.0, **row: Any) -> dict[str, Any]:
    return run(trim, row={"rail_pressure": "15 MPa", "rail_target": "15 MPa", "fuel": SHORTER * fuel, **row})


@pytest.mark.parametrize(
    ("fuel", "grade", "band"),
    [
        (1.0, "clean", "clean_size_counted"),
        (0.8, "watch", "off"),
        (1.3, "watch", "off"),
        (1.085, "watch", "off"),
        (1.06, "watch", "clean_size_counted"),
    ],
)
def test_rail_on_target_but_fuel_off(fuel: float, grade: str, band: str) -> None:
    found = look(direct(fuel=fuel), car=DIRECT)
    assert (found.grade("rail_flow"), found.band("rail_flow")) == (grade, band)


def test_the_dead_time_of_a_direct_injector_is_its_makers_or_unknown() -> None:
    points = rows(0.0, rail_pressure="15 MPa", rail_target="15 MPa", fuel=SHORTER, pulse_includes_dead_time=True)
    for row in points:
        row["pulse_width"] = f"{float(row['pulse_width'].split()[0]) + 0.3:.5f} ms"
    assert look(run(points=points), car=DIRECT).grade("balance") == "unknown"
    known = look(run(points=points), car={**DIRECT, "injector_dead_time": "0.3 ms"})
    assert known.step("balance", "balance") == pytest.approx(1.0, abs=1e-3)
    for row in points:
        row["injector_voltage"] = "12 V"
    assert look(run(points=points), car={**DIRECT, "injector_dead_time": "0.3 ms"}).grade("balance") == "clean"


def test_fuel_that_is_off_at_one_point_only_is_no_scaling() -> None:
    found = look(direct(fuel=1.0) | {"points": [
        *rows(0.0, ("idle", "cruise"), rail_pressure="15 MPa", rail_target="15 MPa", fuel=SHORTER),
        *rows(0.0, ("load",), rail_pressure="15 MPa", rail_target="15 MPa", fuel=SHORTER * 0.8),
    ]}, car=DIRECT)  # fmt: skip
    assert found.bands("rail_flow").get("off", 0.0) < 0.01
    assert found.grade("balance") == "watch"


def test_a_rail_that_misses_its_target_tells_nothing_of_its_sensor() -> None:
    found = look(direct(fuel=0.8, rail_pressure="12 MPa"), car=DIRECT)
    assert found.bands("rail_flow").get("off", 0.0) < 0.01
    assert look(direct(rail_target=None), car=DIRECT).grade("rail_flow") == "unknown"
    assert not look(direct(), car=DIRECT).has("fuel_set")


def test_trims_and_rail_never_count_twice_for_the_injectors() -> None:
    both = look(direct(-20.0, 0.8), car=DIRECT)
    assert both.bands("uniform_trim")["uniform"] > 0.9
    assert (both.band("rail_flow"), both.bands("rail_flow").get("off", 0.0)) == ("off_size_counted", 0.0)
    # Trims that are barely beyond their limit weigh less than the rail: then the rail's weight counts.
    rail = look(direct(7.0, 0.8), car=DIRECT)
    assert rail.band("rail_flow") == "off"
    assert rail.bands("uniform_trim").get("uniform", 0.0) == 0.0


@given(st.floats(0.0, 25.0), st.floats(0.0, 8.0))
@settings(max_examples=30, deadline=None)
def test_a_larger_trim_never_lowers_what_speaks_for_the_injectors(percent: float, more: float) -> None:
    def weight(trim: float) -> float:
        found = look(direct(-trim, 0.8), car=DIRECT)
        size, rail = found.bands("uniform_trim").get("uniform", 0.0), found.bands("rail_flow").get("off", 0.0)
        return max(1.0 + 19.0 * size, 1.0 + 4.0 * rail)

    assert weight(percent + more) >= weight(percent) - 1e-9


def test_a_diesel_has_no_trims_and_no_balance() -> None:
    diesel = vehicle(fuel="diesel_b7", fuel_system="direct")
    found = look(run(18.0, row={"rail_pressure": "120 MPa", "rail_target": "120 MPa"}), car=diesel)
    for rule in ("trim", "uniform_trim", "meter_trend", "balance", "rail_flow", "fuel_set", "dead_time", "idle_vacuum"):
        assert not found.has(rule), rule
    assert found.grade("key_on") == found.grade("ve_constant") == "clean"


def test_without_an_air_meter_the_stored_efficiency_stands_in_its_place() -> None:
    car = vehicle(air_metering="speed_density")
    found = look(run(18.0, row={"air_flow": None}), car=car)
    for rule in ("ve", "ve_constant", "meter_trend"):
        assert not found.has(rule), rule
    assert "air meter" not in found.finding("uniform_trim").text
    assert found.band("uniform_trim") == "uniform"
    unread = look(run(18.0, map_key_on=None, row={"air_flow": None}), car=car)
    assert unread.grade("uniform_trim") == "unknown"
    assert [one.test for one in unread.advice()] == ["key-on-readings"]
    unsure = look(run(18.0, row={"air_flow": None}), car=car, known=False)
    assert [one.test for one in unsure.advice()] == ["calibration-identifiers"]


# What clears ----------------------------------------------------------------------------------------------------------


def test_trims_alike_at_two_voltages_clear_the_dead_time() -> None:
    points = rows(1.0)
    points[0]["injector_voltage"] = "12.4 V"
    assert look(run(1.0, points=points)).bands("dead_time")["alike"] > 0.95
    assert not look(run(1.0)).has("dead_time")  # one voltage
    points[0]["trim_long"] = {1: "19 %"}
    assert look(run(1.0, points=points)).bands("dead_time").get("alike", 0.0) < 0.01
    assert not look(run(points=rows(1.0), warm=False)).has("dead_time")


@pytest.fixture(scope="module")
def sharp() -> dict[str, Any]:
    return vehicle(ve_standard=well_known(0.017))


@pytest.mark.parametrize(
    ("changed", "stands"),
    [
        ({}, True),
        ({"row": {"fuel": 1.08}}, False),  # balance 0.93
        ({"map_key_on": "97 kPa"}, False),  # 3 kPa
        ({"row": {"air": 1.3, "fuel": 1.3}}, False),  # volumetric efficiency
    ],
)
def test_documents_clear_only_where_the_readings_agree(sharp: dict[str, Any], changed: Any, stands: bool) -> None:
    found = look(run(0.0, data_documented=True, **changed), car=sharp)
    assert (found.bands("data_documented").get("stands", 0.0) >= 0.5) is stands


def test_documents_alone_clear_nothing(sharp: dict[str, Any]) -> None:
    found = look(run(0.0, data_documented=True, row={"pulse_width": None}), car=sharp)
    assert found.grade("data_documented") == "unknown"
    assert look(run(0.0, data_documented=True), car=vehicle(ve_standard=None)).grade("data_documented") == "unknown"
    assert not look(run(0.0, data_documented=False), car=sharp).has("data_documented")
    assert not look(run(0.0), car=sharp).has("data_documented")


# In a register --------------------------------------------------------------------------------------------------------


def test_trims_beyond_their_limit_hold_the_plan_until_the_trim_map_is_clean() -> None:
    found = register(run(-24.0, row={"fuel": 0.76}))
    standing = next(one for one in found.standings if one.finding.rule == "modifications.trim")
    assert standing.grade == "fix_first"
    assert any(view.ceiling.value == "as_received" and view.ceiling.until == "trim-map" for view in found.ceilings)


@given(st.floats(0.0, 30.0), st.floats(0.0, 20.0), st.sampled_from([-1.0, 1.0]))
@settings(max_examples=40, deadline=None)
def test_a_larger_trim_never_grades_milder_nor_clears_more(percent: float, more: float, sign: float) -> None:
    one, other = look(run(sign * percent)), look(run(sign * (percent + more)))
    assert ORDER.index(other.grade("trim")) >= ORDER.index(one.grade("trim"))
    for rule, band, worse in (("uniform_trim", "uniform", 1.0), ("uniform_trim", "clean", -1.0)):
        before, after = one.bands(rule).get(band, 0.0), other.bands(rule).get(band, 0.0)
        assert worse * (after - before) >= -1e-9


@given(st.floats(1.0, 1.8), st.floats(0.0, 0.5), st.booleans())
@settings(max_examples=40, deadline=None)
def test_a_larger_factor_never_grades_milder(factor: float, more: float, low: bool) -> None:
    def of(by: float) -> Any:
        return look(run(row={"air": by ** (-1.0 if low else 1.0)}))

    one, other = of(factor), of(factor + more)
    for rule in ("ve", "ve_constant", "balance"):
        assert ORDER.index(other.grade(rule)) >= ORDER.index(one.grade(rule))
    assert other.bands("ve_constant").get("constant", 0.0) >= one.bands("ve_constant").get("constant", 0.0) - 1e-4


def _refused(value: Any, name: str, inside: bool = False) -> Any:
    """Return a sheet's values with every reading of a name marked as one that a declared part falsifies."""
    if isinstance(value, Reading):
        return evolve(value, refused="declared part") if inside else value
    if isinstance(value, tuple):
        return tuple(_refused(one, name, inside) for one in value)
    if hasattr(value, "items"):
        return {key: _refused(one, name, inside or key == name) for key, one in value.items()}
    return value


@pytest.mark.parametrize(
    ("name", "silenced"),
    [
        ("air_flow", {"ve", "ve_constant", "meter_trend", "balance", "uniform_trim"}),
        ("map", {"ve", "ve_constant", "meter_trend", "balance", "uniform_trim", "fuel_set"}),
        ("charge_temp", {"ve", "ve_constant", "meter_trend", "uniform_trim"}),
        ("trim_long", {"trim", "meter_trend", "uniform_trim"}),
        ("pulse_width", {"balance"}),
        ("rail_pressure", {"balance", "fuel_set", "uniform_trim"}),
        ("ethanol_measured", {"uniform_trim"}),
        ("map_key_on", {"key_on"}),
    ],
)
def test_what_a_declared_part_falsifies_clears_nothing(name: str, silenced: set[str]) -> None:
    def clean(made: Case) -> set[str]:
        found = View(tuple(judge_runs(made, limits())))
        rules = {r.rule.rpartition(".")[2] for r in found.results if isinstance(r, Finding)}
        return {rule for rule in rules if found.grade(rule) == "clean"}

    made = case(mixture_run=[run(0.0)], calibration=[STANDARD])
    sheets = tuple(
        evolve(sheet, values=_refused(dict(sheet.values), name)) if sheet.section == "mixture_run" else sheet
        for sheet in made.sheets
    )
    assert silenced <= clean(made)
    assert not silenced & clean(evolve(made, sheets=sheets))


def test_documents_count_a_balance_or_a_key_on_reading_no_second_time() -> None:
    car = {**DIRECT, "ve_standard": well_known(0.017)}
    found = look({**direct(), "data_documented": True}, car=car)
    assert found.band("data_documented") == "stands_rail_counted"
    # In all not less than 0.05, whatever else the same readings have cleared.
    scaling, rail = "pressure-sensor-scaling-changed", "rail-sensor-scaling-wrong"
    for named, other, as_there in (
        (scaling, "key_on", scaling),
        (rail, "rail_flow", "rail-sensor-scaling-or-converter"),
    ):
        both = _ratio(found, "data_documented", named) * _ratio(found, other, as_there)
        assert 0.0499 <= both < 0.2


def _ratio(found: View, rule: str, cause: str) -> float:
    bands = found.bands(rule)
    left = 1.0 - sum(bands.values())
    return left + sum(p * TABLE[rule][band].get(cause, 1.0) for band, p in bands.items())
