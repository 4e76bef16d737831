"""What low cylinders share, what excuses an evenly low engine, and what a high one means."""

from __future__ import annotations

from typing import Any

import pytest
from compression_cases import DIESEL, PETROL, belief, dry, leak, look, ratio, register

from loadworthy_plugins.compression.load_context import octane_pressure_pair, peak_factor
from loadworthy_plugins.compression.rule_table import SINGLE_CYLINDER

SPEC = {**PETROL, "compression_spec_min": "10 bar"}
NOMINAL = {**PETROL, "compression_spec_nominal": "13 bar"}
EIGHT = {
    **SPEC,
    "cylinder_count": 8,
    "displacement": "3996 cm3",
    "cylinder_arrangement": "vee",
    "cylinder_banks": [[1, 3, 5, 7], [2, 4, 6, 8]],
}
TIGHT = leak([5, 5, 5, 5])
LOW = [10.4, 10.5, 10.3, 10.4]


def eight(low: dict[int, float]) -> list[float | None]:
    return [low.get(n, 12.0 + 0.05 * (n % 3)) for n in range(1, 9)]


# Neighbours ---------------------------------------------------------------------------------------------------------


def test_low_neighbours_point_at_the_gasket() -> None:
    found = look(SPEC, compression=[dry([12.1, 7.9, 8.0, 12.2])])
    assert ("compression-low-adjacent-pair", "cylinders 2+3") in found.symptoms()
    assert found.grade("pair_low", "cylinders 2+3") == "note"
    assert found.grade("pair_low", "cylinders 1+2") == "clean"
    # Each low cylinder keeps its own label.
    assert {("compression-low-one-cylinder", f"cylinder {n}") for n in (2, 3)} <= found.symptoms()
    assert any("no loaded running at all" in text for text in found.advice())


def test_equal_depth_is_stronger_than_adjacency_in_a_four() -> None:
    even = register(SPEC, compression=[dry([12.1, 7.9, 8.0, 12.2])])
    cause, pair = "head-gasket-between-cylinders", "cylinders 2+3"
    ratios = sorted(10 ** (w.raw_db / 10) for w in belief(even, cause, pair).weights if "pair_low" in w.finding)
    assert ratios == pytest.approx([2.0, 3.0], rel=1e-3)
    # Of one measurement only the strongest counts.
    assert belief(even, cause, pair).net == pytest.approx(4.77, abs=0.01)
    uneven = register(SPEC, compression=[dry([12.1, 6.0, 8.5, 12.2])])
    assert ratio(uneven, cause, pair, "pair_low") == pytest.approx(2.0, rel=1e-3)
    assert belief(even, cause, pair).p > 0.5


def test_facing_cylinders_of_a_vee_are_no_pair() -> None:
    found = look(EIGHT, compression=[dry(eight({1: 8.0, 2: 8.1}))])
    assert not found.has("pair_low", "cylinders 1+2")
    assert not any(id == "compression-low-adjacent-pair" for id, _ in found.symptoms())
    wall = look(EIGHT, compression=[dry(eight({1: 8.0, 3: 8.1}))])
    assert ("compression-low-adjacent-pair", "cylinders 1+3") in wall.symptoms()
    made = register(EIGHT, compression=[dry(eight({1: 8.0, 3: 8.1}))])
    weights = belief(made, "head-gasket-between-cylinders", "cylinders 1+3").weights
    assert max(10 ** (w.raw_db / 10) for w in weights) == pytest.approx(8 * 7 / 2 / 6, rel=1e-3)


def test_no_gasket_is_inferred_without_the_layout() -> None:
    vehicle = {key: value for key, value in SPEC.items() if key != "cylinder_arrangement"}
    found = look(vehicle, compression=[dry([12.1, 7.9, 8.0, 12.2])])
    assert not any("pair" in id for id, _ in found.symptoms())
    symptom = found.symptom("compression-low-one-cylinder", "cylinder 2")
    assert "head-gasket-between-cylinders" not in {c.cause for c in symptom.candidates}


def test_a_low_cylinder_suspects_only_its_own_walls() -> None:
    found = look(SPEC, compression=[dry([8.0, 12.0, 12.1, 12.2])])
    symptom = found.symptom("compression-low-one-cylinder", "cylinder 1")
    pairs = {c.subject: c.weight for c in symptom.candidates if c.cause == "head-gasket-between-cylinders"}
    assert pairs == {"cylinders 1+2": pytest.approx(0.05)}


# Banks and cut-off sets ---------------------------------------------------------------------------------------------


def test_a_low_bank_reports_the_bank_and_takes_weight_from_its_cylinders() -> None:
    low = {1: 9.0, 3: 9.1, 5: 9.0, 7: 8.9}
    found = look(EIGHT, compression=[dry(eight(low))])
    assert found.grade("bank_low", "bank 1") == "note"
    assert found.grade("bank_low", "bank 2") == "clean"
    assert ("compression-low-bank", "bank 1") in found.symptoms()
    assert not any(id == "compression-low-one-cylinder" for id, _ in found.symptoms())
    made = register(EIGHT, compression=[dry(eight(low))])
    for cause in SINGLE_CYLINDER:
        assert ratio(made, cause, "cylinder 3", "low_as_a_whole") == pytest.approx(0.2, rel=1e-3)
    assert belief(made, "valve-timing-off", "bank 1").p > 0.5
    assert belief(made, "valve-timing-off", "bank 2").p < 0.05


def test_a_low_bank_with_normal_leakage_speaks_for_its_timing() -> None:
    low = {1: 9.0, 3: 9.1, 5: 9.0, 7: 8.9}
    tables = {"compression": [dry(eight(low))], "leak_down": [leak([5] * 8)]}
    assert ratio(register(EIGHT, **tables), "valve-timing-off", "bank 1", "bank_low") == pytest.approx(6.0, rel=1e-3)


def test_an_unevenly_low_bank_keeps_its_cylinders_suspected() -> None:
    found = look(EIGHT, compression=[dry(eight({1: 9.0, 3: 6.0, 5: 10.0, 7: 8.0}))])
    assert found.grade("bank_low", "bank 1") == "note"
    assert ("compression-low-bank", "bank 1") not in found.symptoms()
    assert ("compression-low-one-cylinder", "cylinder 3") in found.symptoms()


def test_the_cut_off_set() -> None:
    vehicle = {**EIGHT, "deactivation_set": [1, 4, 6, 7]}
    low = {1: 5.0, 4: 5.1, 6: 5.0, 7: 5.1}
    found = look(vehicle, compression=[dry(eight(low))])
    assert ("compression-low-set", None) in found.symptoms()
    made = register(vehicle, compression=[dry(eight(low))])
    assert ratio(made, "valve-not-opening", "cylinder 4", "set_low") == pytest.approx(10.0, rel=1e-3)
    assert ratio(made, "ring-seal", "cylinder 4", "low_as_a_whole") == pytest.approx(0.2, rel=1e-3)
    # A further low cylinder takes no label away.
    more = look(vehicle, compression=[dry(eight({**low, 2: 5.0}))])
    assert ("compression-low-set", None) in more.symptoms()
    assert ("compression-low-one-cylinder", "cylinder 2") in more.symptoms()


# All low ------------------------------------------------------------------------------------------------------------


def test_all_low_needs_maker_or_record() -> None:
    assert not look(compression=[dry(LOW)]).has("all_low")
    found = look(NOMINAL, compression=[dry(LOW)])
    assert ("compression-low-all", None) in found.symptoms()
    assert not any(id == "compression-low-one-cylinder" for id, _ in found.symptoms())
    assert found.grades("balance") == ["fix_first"] * 4
    # One sound cylinder, and it is not all.
    assert ("compression-low-all", None) not in look(NOMINAL, compression=[dry([10.4, 10.5, 13.0, 10.4])]).symptoms()


@pytest.mark.parametrize(
    ("vehicle", "sheet", "leaks", "cause", "rule", "expected"),
    [
        ({}, {"cranking_speed": "140 rpm"}, None, "slow-cranking", "all_low_slow", 6.0),
        ({}, {}, None, "slow-cranking", "all_low_slow", 0.1),
        ({}, {"throttle_state": "closed"}, None, "throttle-shut", "all_low_throttle", 4.0),
        ({}, {"throttle_state": None}, None, "throttle-shut", "all_low_throttle", 4.0),
        ({}, {}, None, "throttle-shut", "all_low_throttle", 0.1),
        ({"intake_closing": "80 deg"}, {}, TIGHT, "late-intake-closing-by-design", "all_low_late_closing", 10.0),
        ({}, {}, TIGHT, "late-intake-closing-by-design", "all_low_late_closing", 0.1),
        ({}, {"altitude": None}, None, "altitude-not-corrected", "all_low_altitude", 10.0),
        ({}, {}, None, "altitude-not-corrected", "all_low_altitude", 0.02),
        ({"gasket_thicker": True}, {}, TIGHT, "lowered-compression-ratio", "all_low_built", 6.0),
        ({"pistons_changed": "lowered"}, {}, TIGHT, "lowered-compression-ratio", "all_low_built", 6.0),
        ({}, {}, TIGHT, "valve-timing-off", "all_low_tight", 6.0),
    ],
)
def test_what_excuses_an_evenly_low_engine(
    vehicle: dict[str, Any], sheet: dict[str, Any], leaks: Any, cause: str, rule: str, expected: float
) -> None:
    tables: dict[str, Any] = {"compression": [dry(LOW, **sheet)]}
    if leaks:
        tables["leak_down"] = [leaks]
    found = register({**NOMINAL, **vehicle}, **tables)
    assert ratio(found, cause, None, rule) == pytest.approx(expected, rel=0.01)


def test_an_excuse_needs_the_fault() -> None:
    # A thicker gasket in an engine that reads well, or without leak-down, says nothing.
    for readings, tables in (([13.0, 13.1, 12.9, 13.0], {"leak_down": [TIGHT]}), (LOW, {})):
        found = register({**NOMINAL, "gasket_thicker": True}, compression=[dry(readings)], **tables)
        key = [b for b in found.beliefs if b.cause == "lowered-compression-ratio"]
        assert not any("all_low_built" in w.finding for b in key for w in b.weights)


def test_dead_volume_of_a_diesel_adaptor() -> None:
    vehicle = {**DIESEL, "compression_spec_nominal": "31 bar"}
    sheet = dry([25.0, 25.2, 24.8, 25.0], cranking_speed="200 rpm", throttle_state="none")
    found = register(vehicle, compression=[sheet])
    assert ratio(found, "gauge-or-adaptor-error", None, "all_low_adaptor") == pytest.approx(3.0, rel=0.01)
    known = register(vehicle, compression=[{**sheet, "adaptor_dead_volume": "1 mL"}])
    assert not any("all_low_adaptor" in w.finding for w in belief(known, "gauge-or-adaptor-error").weights)


def test_general_wear_needs_oil_filler_and_blow_by() -> None:
    heard = {str(n): ["oil_filler"] for n in range(1, 5)}
    leaks = leak([30, 31, 29, 30], leak_escape=heard)
    spec = {"flow": "60 L/min", "speed": "3000 rpm", "load": "full", "source": "maker"}
    crank = {
        "date": leaks["date"],
        "blowby_flow": "90 L/min",
        "blowby_engine_speed": "3000 rpm",
        "blowby_load": "full",
    }
    vehicle = {**NOMINAL, "blowby_spec": spec}
    found = register(vehicle, compression=[dry(LOW)], leak_down=[leaks], crankcase=[crank])
    assert ratio(found, "general-wear", None, "all_low_wear") == pytest.approx(6.0, rel=0.01)
    alone = register(vehicle, compression=[dry(LOW)], leak_down=[leaks])
    assert not any("all_low_wear" in w.finding for w in belief(alone, "general-wear").weights)


def test_rings_not_run_in_are_not_condemned() -> None:
    vehicle = {**NOMINAL, "engine_rebuilt": True, "run_in_complete": False}
    wet = {"1": "14.0 bar", "2": "14.0 bar", "3": "14.0 bar", "4": "14.0 bar"}
    very_low = [8.0, 8.1, 7.9, 8.0]
    leaks = leak([20] * 4, leak_escape={str(n): ["oil_filler"] for n in range(1, 5)})
    found = look(vehicle, compression=[dry(very_low)], leak_down=[leaks])
    assert found.grades("balance") == ["fix_first"] * 4
    assert look(vehicle, compression=[dry(very_low)]).grades("balance") == ["stop"] * 4
    sheet = dry(LOW, wet_reading=wet, oil_volume="5 mL")
    made = register(vehicle, compression=[sheet])
    assert ratio(made, "unbedded-rings", None, "all_low_new_rings") == pytest.approx(6.0, rel=0.01)
    done = register({**vehicle, "run_in_complete": True}, compression=[dry(LOW)])
    assert ratio(done, "unbedded-rings", None, "history_run_in") == pytest.approx(0.1)


# High ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("rise", "grade"), [(1.0, "clean"), (1.09, "watch"), (1.15, "fix_first")])
def test_all_high_against_nominal(rise: float, grade: str) -> None:
    gauge = {"id": "g", "measures": "pressure_gauge", "span": "25 bar", "class": 0.6}
    readings = [round(12.0 * rise * f, 2) for f in (1.0, 1.005, 0.995, 1.002)]
    vehicle = {**PETROL, "compression_spec_nominal": "12 bar"}
    found = look(vehicle, compression=[dry(readings, instrument="g")], instrument=[gauge])
    assert found.grade("all_high") == grade
    assert (("compression-high-all", None) in found.symptoms()) is (grade != "clean")
    # Never against the maker's minimum, and an even high set is no single high one.
    minimum = {**PETROL, "compression_spec_min": "12 bar"}
    assert not look(minimum, compression=[dry(readings)]).has("all_high")
    assert found.grades("single_high") == ["clean"] * 4


def test_all_high_weights() -> None:
    vehicle = {**PETROL, "compression_spec_nominal": "12 bar", "head_skimmed": True}
    readings = [14.0, 14.1, 13.9, 14.0]
    found = register(vehicle, compression=[dry(readings)], leak_down=[TIGHT])
    assert ratio(found, "carbon-in-chamber", "cylinder 2", "all_high#") == pytest.approx(4.0, rel=0.02)
    assert ratio(found, "raised-compression-ratio", None, "all_high_built") == pytest.approx(8.0, rel=0.02)
    assert ratio(found, "valve-timing-off", None, "all_high_tight") == pytest.approx(6.0, rel=0.02)


def test_compression_at_spec_speaks_against_another_ratio() -> None:
    found = register(NOMINAL, compression=[dry([13.0, 13.1, 12.9, 13.0])])
    for cause in ("raised-compression-ratio", "lowered-compression-ratio"):
        assert ratio(found, cause, None, "all_high") == pytest.approx(0.2, rel=0.01)


def test_standard_pistons_and_head_speak_against_a_raised_ratio() -> None:
    found = register({**PETROL, "pistons_changed": "standard", "head_skimmed": False})
    assert ratio(found, "raised-compression-ratio", None, "history_standard") == pytest.approx(0.3)


# Ceilings -----------------------------------------------------------------------------------------------------------


def demanded() -> Any:
    from loadworthy.findings import Band, Demand

    def rows(*values: float) -> tuple[tuple[float, ...], ...]:
        return tuple(tuple(v * share for share in (0.8, 1.0, 1.2)) for v in values)

    pressure = rows(180e3, 200e3)
    return Demand(
        speeds=(30.0, 60.0),
        torque=rows(300.0, 350.0),
        plan=(300.0, 350.0),
        base=(240.0, 280.0),
        quantities={
            "manifold_pressure": Band(rows(176e3, 196e3), pressure, rows(184e3, 204e3)),
            "charge_temperature": Band(*[((310.0,) * 3, (310.0,) * 3)] * 3),
        },
    )


def test_ceiling_of_a_raised_ratio_petrol() -> None:
    vehicle = {**PETROL, "compression_spec_nominal": "12 bar"}
    found = look(vehicle, demanded(), compression=[dry([14.0, 14.1, 13.9, 14.0])])
    hard, start = (found.ceilings()[n] for n in ("map_ceiling_compression", "map_ceiling_compression_start"))
    # Independent: ratio by the 1.25 law on absolute pressures, then both estimates of the octane bound.
    raised = 10.0 * ((14.0 + 1.01325) / (12.0 + 1.01325)) ** 0.8
    pair = octane_pressure_pair(10.0, raised, 310.0)
    assert hard.value.values == pytest.approx([180e3 * pair.centre, 200e3 * pair.centre], rel=1e-6)
    assert start.value.values == pytest.approx([180e3 * pair.pessimistic, 200e3 * pair.pessimistic], rel=1e-6)
    assert (hard.kind, start.kind) == ("hard", "advisory")
    assert hard.quantity == "manifold_pressure"
    assert hard.finding == ("compression.all_high", None, found.finding("all_high").sheet)
    assert any("does not bind" in s.label for s in hard.steps)
    assert pair.pessimistic < pair.centre < 1.0


def test_ceiling_of_a_raised_ratio_diesel() -> None:
    vehicle = {**DIESEL, "compression_spec_nominal": "28 bar"}
    sheet = dry([32.0, 32.1, 31.9, 32.0], cranking_speed="200 rpm", throttle_state="none")
    found = look(vehicle, demanded(), compression=[sheet])
    factor = peak_factor(1.0, ((32.0 + 1.01325) / (28.0 + 1.01325)) ** 0.8)
    assert found.ceilings()["map_ceiling_compression"].value.values == pytest.approx([180e3 * factor, 200e3 * factor])
    assert "map_ceiling_compression_start" not in found.ceilings()


def test_single_high_gets_its_ceiling_once_liquid_is_excluded() -> None:
    sheet = dry([11.8, 11.9, 12.0, 14.5])
    wet = look(SPEC, demanded(), compression=[sheet])
    assert wet.grade("single_high", "cylinder 4") == "fix_first"
    assert wet.ceilings() == {}
    dry_one = look(SPEC, demanded(), compression=[{**sheet, "borescope": {"4": ["dry", "carbon"]}}])
    assert dry_one.grade("single_high", "cylinder 4") == "watch"
    ceiling = dry_one.ceilings()["map_ceiling_single_high"]
    assert ceiling.subject == "cylinder 4"
    assert all(0.6 < value / plan < 0.95 for value, plan in zip(ceiling.value.values, (180e3, 200e3), strict=True))


def test_raised_ratio_without_demand_holds_torque_as_received() -> None:
    vehicle = {**PETROL, "compression_spec_nominal": "12 bar"}
    found = look(vehicle, compression=[dry([14.0, 14.1, 13.9, 14.0])])
    ceiling = found.ceilings()["map_ceiling_compression"]
    assert (ceiling.quantity, ceiling.value) == ("torque", "as_received")


def test_head_force_of_the_plan() -> None:
    from attrs import evolve

    # Base at the lowest load step: 0.8 of the planned pressure, so 1.25; the plan is uncertain, so that is borderline.
    demand = demanded()
    found = look(PETROL, demand)
    assert found.step("head force, plan over base", "load_context") == pytest.approx(1.25)
    assert found.grade("load_context") == "watch"
    assert found.finding("load_context").verdicts[0].p_beyond == pytest.approx(0.5)
    # Where the force grows most is where it is printed: both speeds alike here, the higher one counts.
    assert found.step("planned manifold pressure", "load_context") == pytest.approx(200e3)
    state = found.step("pressure at the end of compression", "load_context")
    assert state == pytest.approx(200e3 * 8.795**1.3, rel=1e-3)
    assert look({**PETROL, "head_fixings_proven": True}, demand).grade("load_context") == "clean"
    assert look(PETROL, evolve(demand, base=(290.0, 340.0))).grade("load_context") == "clean"
    assert look(PETROL, evolve(demand, base=None)).grade("load_context") == "unknown"
    assert not look(PETROL).has("load_context")
