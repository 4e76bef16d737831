"""What codes, results and trims point to: families, places, modifiers, what counts once, and exponents at bounds."""

from __future__ import annotations

from typing import Any

import pytest
from memory_cases import SIX, case_of, clean, engine, limits, sheet, view, with_codes

from loadworthy_plugins.fault_memory.memory import read_memory
from loadworthy_plugins.fault_memory.pointing import (
    Told,
    family,
    fits,
    place,
    told_by_codes,
    told_by_results,
    told_by_trims,
    trim_exponent,
)

COIL, SUPPLY, LEAK = "ignition-coil-or-lead-weak", "low-pressure-fuel-supply-weak", "intake-leak-after-throttle"
WIRING, RAIL, MAP = "wiring-or-ground-fault", "rail-pressure-sensor-fault", "manifold-pressure-sensor-fault"
LIT = [{"since_clear": "81 07 65 00"}]
COUNTERS = {"warm_ups_since_clear": 60, "distance_since_clear": "1500 km", "time_since_clear": "2000 min"}


def told(*codes: str, vehicle: dict[str, Any] | None = None, **fields: Any) -> dict[tuple[str, str | None], Told]:
    case = case_of(with_codes(codes, monitor_status=LIT, **fields), vehicle=vehicle)
    (one,) = case.of("fault_memory")
    return {(each.family.id, each.subject): each for each in told_by_codes(case, read_memory(case, one))[0]}


def result(monitor: str, value: str, low: str = "00 00", high: str = "FF FF", **more: str) -> dict[str, str]:
    return {"monitor": monitor, "test": "01", "scaling": "24", "value": value, "min": low, "max": high, **more}


def by_results(*results: dict[str, str], vehicle: dict[str, Any] | None = None, **fields: Any) -> list[Told]:
    case = case_of(clean(test_results=list(results), **fields), vehicle=vehicle)
    (one,) = case.of("fault_memory")
    return list(told_by_results(case, read_memory(case, one), limits()))


def trim(region: str = "load", long: str = "19 %", **more: Any) -> dict[str, Any]:
    row = {"region": region, "long": long, "coolant": "90 degC", "closed_loop": True, **more}
    return {key: value for key, value in row.items() if value is not None}


def by_trims(*rows: dict[str, Any], vehicle: dict[str, Any] | None = None, **fields: Any) -> list[Told]:
    case = case_of(clean(trims=list(rows), **fields), vehicle=vehicle)
    (one,) = case.of("fault_memory")
    return list(told_by_trims(case, read_memory(case, one), limits()))


# Which families can be meant -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("id", "vehicle", "expected"),
    [
        ("p0171", {"fuel": "petrol_e10"}, True),
        ("p0171", {"fuel": "diesel_b7"}, False),
        ("p0171", {"fuel": None}, True),
        ("p0087", {"fuel": "diesel_b7"}, True),
        ("p0299", {"induction": "turbo"}, True),
        ("p0299", {"induction": "none"}, False),
        ("p0299", {"induction": None}, True),
        ("p0101", {"induction": "none"}, True),
    ],
)
def test_family_fits_fuel_and_aspiration(id: str, vehicle: dict[str, Any], expected: bool) -> None:
    assert fits(family(id), case_of(vehicle=engine(**vehicle))) is expected


@pytest.mark.parametrize(("code", "vehicle"), [("P0171", {"fuel": "diesel_b7"}), ("P0299", {"induction": "none"})])
def test_a_family_that_does_not_fit_weighs_nothing(code: str, vehicle: dict[str, Any]) -> None:
    seen = view(with_codes((code,)), vehicle=engine(**vehicle))
    assert not seen.has(code.lower())
    assert code in seen.one("unlisted").text
    assert seen.ratio(LEAK) == 1.0
    assert view(with_codes((code,))).has(code.lower())


@pytest.mark.parametrize("code", [f"P01{n}" for n in range(56, 62)])
def test_rear_sensors_of_bank_two_are_read_as_those_of_bank_one(code: str) -> None:
    assert ("p0136", "bank 2") in told(code, vehicle=SIX)


# Places --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "vehicle", "subject"),
    [
        ("P0303", {}, "cylinder 3"),
        ("P0203", {}, "cylinder 3"),
        ("P0301", {"cylinder_count": 1, "cylinder_banks": [[1]]}, None),
        ("P0303", {"cylinder_count": None, "cylinder_banks": None}, "cylinder 3"),
        ("P0300", {}, None),
        ("P0171", {}, None),
        ("P0171", {"cylinder_count": None, "cylinder_banks": None}, None),
        ("P0171", {"cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4, 6]]}, "bank 1"),
        ("P0174", {"cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4, 6]]}, "bank 2"),
        ("P0151", {"cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4, 6]]}, "bank 2"),
        ("P0024", {"cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4, 6]]}, "bank 2"),
        ("P0299", {"cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4, 6]]}, None),
        ("P0351", {}, None),
        ("P0352", {"coil_map": [{"coil": "A", "cylinder": 1}, {"coil": "B", "cylinder": 4}]}, "cylinder 4"),
        ("P0353", {"coil_map": [{"coil": "A", "cylinder": 1}]}, None),
        ("P0731", {}, None),
    ],
)
def test_place_of_a_code(code: str, vehicle: dict[str, Any], subject: str | None) -> None:
    from loadworthy_plugins.fault_memory.pointing import family_id

    id = family_id(code)
    assert id is not None
    assert place(family(id), code, case_of(vehicle=engine(**vehicle))) == subject


def test_a_cylinders_code_speaks_of_that_cylinder() -> None:
    seen = view(with_codes(("P0303",), ("P0303",)))
    assert seen.ratio("injector-restricted", "cylinder 3") == pytest.approx(4.0)
    assert seen.ratio("injector-restricted", "cylinder 2") == 1.0


def test_a_code_of_no_cylinder_speaks_of_all() -> None:
    seen = view(with_codes(("P0300",), ("P0300",)))
    assert [seen.ratio("injector-restricted", f"cylinder {n}") for n in (1, 4)] == [pytest.approx(1.2)] * 2


def test_a_banks_code_speaks_of_that_banks_cylinders() -> None:
    seen = view(with_codes(("P0171",), ("P0171",)), vehicle=SIX)
    assert [seen.ratio("injector-restricted", f"cylinder {n}") for n in (1, 3, 5)] == [pytest.approx(2.0)] * 3
    assert [seen.ratio("injector-restricted", f"cylinder {n}") for n in (2, 4, 6)] == [1.0] * 3
    assert seen.ratio("lambda-sensor-fault", "bank 1") == pytest.approx(2.0)
    assert seen.ratio("lambda-sensor-fault", "bank 2") == 1.0


# Coils ---------------------------------------------------------------------------------------------------------------


def test_one_misfire_and_one_coil_are_presumed_to_be_the_same() -> None:
    found = told("P0303", "P0352")
    assert ("p0351", "cylinder 3") in found
    assert "state coil_map" in found["p0351", "cylinder 3"].text


def test_the_stated_coil_map_is_not_overruled() -> None:
    stated = engine(coil_map=[{"coil": "B", "cylinder": 2}])
    found = told("P0303", "P0352", vehicle=stated)
    assert ("p0351", "cylinder 2") in found
    assert "coil_map" not in found["p0351", "cylinder 2"].text
    other = engine(coil_map=[{"coil": "A", "cylinder": 1}])
    assert ("p0351", None) in told("P0303", "P0352", vehicle=other)


@pytest.mark.parametrize("codes", [("P0303", "P0302", "P0352"), ("P0303", "P0351", "P0352"), ("P0300", "P0352")])
def test_nothing_is_presumed_of_more_than_one(codes: tuple[str, ...]) -> None:
    assert ("p0351", None) in told(*codes)


# Modifiers -----------------------------------------------------------------------------------------------------------

LOW = {"freeze_frames": [{"code": "P0303", "bytes": "42 29 03"}]}  # 10.499 V
JUST = {"freeze_frames": [{"code": "P0303", "bytes": "42 29 04"}]}  # 10.500 V


@pytest.mark.parametrize(
    ("code", "cause", "weight", "halved"),
    [
        ("P0107", MAP, 5.0, True),  # circuit
        ("P0016", "valve-timing-off", None, True),  # correlation
        ("U0100", WIRING, None, True),  # network
        ("P0301", "injector-restricted", 4.0, False),  # condition
        ("P0620", WIRING, 4.0, False),  # circuit of the supply itself
    ],
)
@pytest.mark.parametrize("low", [{"stored_more": "P0562"}, {"stored_more": "P0560"}, {"stored_more": "P0561"}, LOW])
def test_low_supply_halves(code: str, cause: str, weight: float | None, halved: bool, low: dict[str, Any]) -> None:
    from loadworthy_plugins.fault_memory.code_table import CODES, FAMILIES

    (w,) = {ratio for id, ratio, _ in FAMILIES[CODES[code][0]][10] if id == cause}
    assert weight in (None, w)
    low = dict(low)
    more = low.pop("stored_more", None)
    listed = (code, *((more,) if more else ("P0303",)))
    finding = view(with_codes(listed, listed, **low)).one(CODES[code][0], "cylinder 1" if code == "P0301" else None)
    (db,) = {one.db for one in finding.weights if one.cause == cause}
    assert 10 ** (db / 10) == pytest.approx(w ** (0.5 if halved else 1.0))
    assert ("modifier" in [step.label for step in finding.steps]) is halved


@pytest.mark.parametrize("more", [{}, JUST, {"freeze_frames": [{"code": "P0303", "bytes": "0C 51 40"}]}])
def test_a_good_or_unknown_supply_halves_nothing(more: dict[str, Any]) -> None:
    seen = view(with_codes(("P0107", "P0303"), ("P0107", "P0303"), **more))
    assert seen.ratio(MAP) == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("kind", "exponent"), [("11", 0.5), ("1F", 0.5), ("16", 0.5), ("00", 1.0), ("10", 1.0), ("64", 1.0), ("71", 1.0)]
)
def test_an_electrical_failure_type_halves_physical_causes(kind: str, exponent: float) -> None:
    seen = view(with_codes((f"P0087-{kind}",), (f"P0087-{kind}",)))
    assert seen.ratio(SUPPLY) == pytest.approx(6.0**exponent)
    assert seen.ratio(RAIL) == pytest.approx(2.0)


def test_an_electrical_failure_type_does_not_halve_a_circuit_family() -> None:
    seen = view(with_codes(("P0230-11",), ("P0230-11",)))
    from loadworthy_plugins.fault_memory.code_table import FAMILIES

    physical = {id: ratio for id, ratio, _ in FAMILIES["p0230"][10] if id == "fuel-pump-weak" or id == SUPPLY}
    for cause, ratio in physical.items():
        assert seen.ratio(cause) == pytest.approx(ratio)
    assert physical


def test_a_further_electrical_entry_does_not_weaken_a_mechanical_one() -> None:
    rows = [{"code": "P0087-64"}, {"code": "P0087-11"}]
    assert view(sheet(stored=rows, pending=rows)).ratio(SUPPLY) == pytest.approx(6.0)
    # Another code of the same family that is electrical, and weaker, leaves the stronger one as it is.
    seen = view(sheet(stored=[{"code": "P0731"}], pending=[{"code": "P0731"}, {"code": "P0732-11"}]))
    alone = view(sheet(stored=[{"code": "P0731"}], pending=[{"code": "P0731"}]))
    assert seen.ratio("gearbox-clutch-pack-slipping") == alone.ratio("gearbox-clutch-pack-slipping") > 1.0


YOUNG = {"warm_ups_since_clear": 1, "distance_since_clear": "30 km", "time_since_clear": "40 min"}


@pytest.mark.parametrize("code", ["P0603", "P0315"])
def test_what_erasing_sets_counts_half_in_a_recent_memory(code: str) -> None:
    from loadworthy_plugins.fault_memory.code_table import CODES, FAMILIES

    id = CODES[code][0]
    for counters, exponent in ((YOUNG, 0.5), ({**YOUNG, **COUNTERS}, 1.0)):
        weights = {
            one.cause: 10 ** (one.db / 10) for one in view(with_codes((code,), (code,), **counters)).one(id).weights
        }
        expected = {
            cause: ratio ** (1.0 if cause == "memory-recently-cleared" else exponent)
            for cause, ratio, _ in FAMILIES[id][10]
        }
        assert weights == pytest.approx(expected)
        assert "memory-recently-cleared" in weights


def test_modifiers_multiply() -> None:
    # P0603 is no circuit, so a correlation code of an electrical type with a low supply shows two at once.
    seen = view(with_codes(("P0016-11", "P0562"), ("P0016-11", "P0562")))
    weights = {one.cause: 10 ** (one.db / 10) for one in seen.one("p0016").weights}
    from loadworthy_plugins.fault_memory.code_table import CAUSES, FAMILIES

    for cause, ratio, _ in FAMILIES["p0016"][10]:
        assert weights[cause] == pytest.approx(ratio ** (0.25 if CAUSES[cause][0] == "physical" else 0.5))
    assert {CAUSES[cause][0] for cause in weights} >= {"physical", "sensing"}


def test_a_condition_on_an_entry_must_be_known_to_hold() -> None:
    bypass = "compressor-bypass-valve-leaking"
    for vents, ratio in ((None, 1.0), (False, 1.0), (True, 4.0)):
        seen = view(with_codes(("P2192",), ("P2192",)), vehicle=engine(bypass_vents=vents))
        assert seen.ratio(bypass) == pytest.approx(ratio)


def test_every_condition_of_the_table_is_known_here() -> None:
    from loadworthy_plugins.fault_memory.code_table import FAMILIES, PATTERNS

    entries = [entry for row in FAMILIES.values() for entry in row[10]]
    entries += [entry for row in PATTERNS.values() for entry in row[4]]
    assert {when for _, _, when in entries} == {"", "bypass valve vents to atmosphere"}


# Counted once --------------------------------------------------------------------------------------------------------


def test_what_reports_another_fault_is_not_a_second_proof() -> None:
    alone = view(with_codes(("P0301",), ("P0301",))).ratio("injector-restricted", "cylinder 1")
    both = view(with_codes(("P0301", "P0363"), ("P0301", "P0363"))).ratio("injector-restricted", "cylinder 1")
    assert both == alone


def test_a_consequence_takes_the_group_of_a_leader_in_another_group() -> None:
    cause = "injector-electrical-fault"  # 8 by the injector's circuit, 3 by the misfire that cuts its fuel
    assert view(with_codes(("P0363",), ("P0363",))).ratio(cause, "cylinder 1") == pytest.approx(3.0)
    seen = view(with_codes(("P0201", "P0363"), ("P0201", "P0363")))
    assert seen.ratio(cause, "cylinder 1") == pytest.approx(8.0)
    # What no leader speaks for it keeps to itself.
    groups = {one.cause: one.group for one in seen.one("p0363").weights}
    assert groups == {"ignition-weak": "misfire", cause: "injector n", "compression-low": "misfire"}


@pytest.mark.parametrize(
    ("leader", "follower", "cause"),
    [("P0087", "P00BA", SUPPLY), ("P2463", "P246C", "particulate-filter-soot-loaded")],
)
def test_consequences_share_the_group_of_their_leader(leader: str, follower: str, cause: str) -> None:
    diesel = engine(fuel="diesel_b7")
    alone = view(with_codes((leader,), (leader,)), vehicle=diesel).ratio(cause)
    lone = view(with_codes((follower,), (follower,)), vehicle=diesel).ratio(cause)
    both = view(with_codes((leader, follower), (leader, follower)), vehicle=diesel).ratio(cause)
    assert both == pytest.approx(max(alone, lone))


def test_a_pointer_shares_the_group_of_the_fault_that_it_points_to() -> None:
    from loadworthy_plugins.fault_memory.code_table import FAMILIES

    shared = {c for c, w, _ in FAMILIES["p0700"][10] if w > 1.0} & {c for c, w, _ in FAMILIES["p0730"][10] if w > 1.0}
    for cause in shared:
        alone, pointed = (view(with_codes((code,), (code,))).ratio(cause) for code in ("P0731", "P0700"))
        both = view(with_codes(("P0731", "P0700"), ("P0731", "P0700"))).ratio(cause)
        assert both == pytest.approx(max(alone, pointed))
    pointer = view(with_codes(("P0700",), ("P0700",))).one("p0700")
    assert {one.group for one in pointer.weights} == {"transmission"}


def test_limp_home_takes_the_group_of_what_set_it() -> None:
    cause = "throttle-sensor-fault"
    leader = view(with_codes(("P2135",), ("P2135",))).ratio(cause)
    both = view(with_codes(("P2135", "P2106"), ("P2135", "P2106"))).ratio(cause)
    assert both == leader > 1.0


# On-board test results -----------------------------------------------------------------------------------------------


def test_a_result_beyond_its_limit_without_a_code() -> None:
    (found,) = by_results(result("21", "00 96", high="00 64"))
    assert (found.family.id, found.s, found.source) == ("p0420", 0.35, "result")
    assert by_results(result("21", "00 64", high="00 64")) == []


def test_a_result_that_never_ran_or_has_no_family_tells_nothing() -> None:
    assert by_results(result("21", "00 00", high="00 00")) == []
    assert by_results(result("3A", "00 96", high="00 64")) == []
    assert by_results(result("21", "00 96", high="00 64"), vehicle=engine(fuel="diesel_b7")) == []


def test_a_component_of_the_older_layout_is_no_monitor() -> None:
    older = {key: value for key, value in result("21", "00 96", high="00 64").items() if key != "scaling"}
    assert by_results(older) == []
    seen = view(clean(test_results=[older]))
    assert seen.grade("test_margin") == "watch"
    assert "component 21" in seen.one("test_margin").text


def test_a_result_with_its_code_is_not_told_twice() -> None:
    assert by_results(result("21", "00 96", high="00 64"), stored=[{"code": "P0420"}]) == []
    # The code of one cylinder does not speak for another one's result.
    beyond = result("A4", "00 96", high="00 64")
    assert [one.subject for one in by_results(beyond, stored=[{"code": "P0301"}])] == ["cylinder 3"]
    assert by_results(beyond, stored=[{"code": "P0303"}]) == []
    # Nor that of one bank for the other's.
    assert [one.subject for one in by_results(result("22", "00 96", high="00 64"), stored=[{"code": "P0420"}],
                                              vehicle=SIX)] == ["bank 2"]  # fmt: skip
    assert by_results(result("22", "00 96", high="00 64"), stored=[{"code": "P0430"}], vehicle=SIX) == []


@pytest.mark.parametrize(
    ("monitor", "id", "subject"),
    [
        ("01", "p0130", "bank 1"),
        ("02", "p0136", "bank 1"),
        ("05", "p0130", "bank 2"),
        ("06", "p0136", "bank 2"),
        ("09", "p0130", None),
        ("21", "p0420", "bank 1"),
        ("22", "p0420", "bank 2"),
        ("31", "p0400", None),
        ("36", "p0011", "bank 2"),
        ("A3", "p0301", "cylinder 2"),
        ("B1", "p2002", None),
    ],
)
def test_place_of_a_result(monitor: str, id: str, subject: str | None) -> None:
    (found,) = by_results(result(monitor, "00 96", high="00 64"), vehicle=SIX)
    assert (found.family.id, found.subject) == (id, subject)


def counts(*numbers: int) -> list[dict[str, str]]:
    return [result(f"{0xA2 + i:02X}", f"{n:04X}", test="0B") for i, n in enumerate(numbers)]


@pytest.mark.parametrize(
    ("numbers", "subject"),
    [
        ((1, 1, 6, 1), "cylinder 3"),
        ((1, 1, 5, 1), None),  # not above 5
        ((2, 2, 10, 2), None),  # not above 5 x the median
        ((2, 2, 11, 2), "cylinder 3"),
        ((9, 9, 9, 9), None),
    ],
)
def test_a_cylinder_whose_misfires_stand_out(numbers: tuple[int, ...], subject: str | None) -> None:
    found = by_results(*counts(*numbers))
    assert [(one.family.id, one.subject, one.s) for one in found] == ([("p0301", subject, 0.35)] if subject else [])


def test_counts_that_never_ran_are_no_low_counts() -> None:
    never = [result(f"A{n}", "00 00", high="00 00", test="0B") for n in (3, 4, 5)]
    seen = view(clean(test_results=[*counts(3), *never]))
    assert not seen.has("misfire_counts")
    assert by_results(*counts(6, 2), *never[1:]) == []


def test_misfires_that_have_their_code_are_not_told_twice() -> None:
    assert by_results(*counts(1, 1, 9, 1), pending=[{"code": "P0303"}]) == []


# Trims ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("total", "exponent"), [(0.0, 0.0), (0.10, 0.0), (-0.10, 0.0), (0.175, 0.25), (0.25, 0.5), (-0.25, 0.5), (0.9, 0.5)]
)
def test_exponent_of_a_trim(total: float, exponent: float) -> None:
    assert trim_exponent(total) == pytest.approx(exponent)


@pytest.mark.parametrize(
    ("region", "lean", "rich"),
    [
        ("idle", "p2187", "p2188"),
        ("cruise", "p2177", "p2178"),
        ("load", "p2191", "p2192"),
        ("unknown", "p0171", "p0172"),
    ],
)
def test_family_by_region_and_sign(region: str, lean: str, rich: str) -> None:
    for sign, id in (("", lean), ("-", rich)):
        (found,) = by_trims(trim(region, f"{sign}19 %"))
        assert (found.family.id, found.source, found.s) == (id, "trim", pytest.approx(0.3))


def test_short_and_long_add_up_and_the_product_is_shown_above_fifteen_percent() -> None:
    (found,) = by_trims(trim(short="10 %", long="10 %"))
    assert found.s == pytest.approx(0.5 * (0.20 - 0.10) / 0.15)
    assert "product +21.0 %" in found.text
    (found,) = by_trims(trim(short="4 %", long="10 %"))
    assert "product" not in found.text


@pytest.mark.parametrize(
    ("row", "fields", "why"),
    [
        ({"coolant": "69.9 degC"}, {}, "not warm"),
        ({"closed_loop": False}, {}, "not in closed loop"),
        ({"coolant": None}, {}, "not stated"),
        ({"closed_loop": None}, {}, "not stated"),
        ({}, {"distance_since_clear": "29 km"}, "still learning"),
        ({}, {"distance_since_clear": None}, "still learning"),
    ],
)
def test_a_trim_taken_otherwise_tells_nothing(row: dict[str, Any], fields: dict[str, Any], why: str) -> None:
    assert by_trims(trim(**row), **fields) == []
    assert why in view(clean(trims=[trim(**row)], **fields)).advice


def test_a_trim_at_the_bounds_of_its_conditions_counts() -> None:
    assert by_trims(trim(coolant="70 degC"), distance_since_clear="30 km", time_since_clear="50 min")


def test_a_code_of_the_group_says_it_already() -> None:
    assert by_trims(trim(), stored=[{"code": "P2187"}]) == []
    assert by_trims(trim(), stored=[{"code": "P2188"}])  # rich: another group
    assert by_trims(trim(), vehicle=engine(fuel="diesel_b7")) == []


def test_trims_and_lambda_codes_share_a_sensor() -> None:
    seen = view(with_codes(("P0131",), ("P0131",), trims=[trim("idle", "25 %")], **COUNTERS))
    groups = {w.group for id in ("p0130", "p2187") for w in seen.one(id).weights}
    assert groups == {"lambda sensor"}


def test_a_trim_of_a_bank_is_that_banks() -> None:
    assert [one.subject for one in by_trims(trim(bank=2), vehicle=SIX)] == ["bank 2"]
    assert [one.subject for one in by_trims(trim(bank=1))] == [None]


def test_of_several_trims_at_one_place_the_largest_counts_in_any_order() -> None:
    rows = [trim(long="13 %"), trim(long="22 %"), trim(long="16 %")]
    first, second = by_trims(*rows), by_trims(*rows[::-1])
    assert first == second
    assert [one.s for one in first] == [pytest.approx(0.4)]


def test_a_trim_is_a_note_and_sets_no_ceiling() -> None:
    seen = view(clean(trims=[trim(long="25 %")]))
    assert seen.grade("p2191") == "note"
    assert not any(name.startswith("code_") for name in seen.ceiling_names)
